// The engine in a worker of its own, so that the page stays alive while it computes. The loader of the engine and the maker of
// codes (qr) stand before this text in one blob. A job is stopped by ending the worker: the module is compiled already, so a
// new one starts at once.
"use strict";

let engine = null;
let waiting = [];

function call(request) {
  const length = engine.lengthBytesUTF8(request) + 1;
  const at = engine._malloc(length);
  engine.stringToUTF8(request, at, length);
  try {
    return engine.UTF8ToString(engine._cure_call(at));
  } finally {
    engine._free(at);
  }
}

/** The dark squares of a code, as a path of squares of one unit. */
function code(text) {
  const { data, size } = qr.encode(text, { ecc: "L", border: 4 });
  const path = data.flatMap((row, y) => row.flatMap((dark, x) => (dark ? `M${x} ${y}h1v1h-1z` : []))).join("");
  return JSON.stringify({ path, size });
}

function answer({ id, request }) {
  let text;
  const start = performance.now();
  try {
    const { qr: words } = JSON.parse(request);
    text = words === undefined ? call(request) : code(words);
  } catch (error) {
    // Nothing that the engine throws leaves it; what comes here is the module itself, such as memory that is not there.
    text = JSON.stringify({ error: { message: String((error && error.message) || error) } });
  }
  self.postMessage({ id, text, milliseconds: performance.now() - start });
}

async function start({ module, files }) {
  engine = await libcure_engine({
    instantiateWasm(imports, done) {
      WebAssembly.instantiate(module, imports).then((instance) => done(instance, module));
      return {};
    },
  });
  call(JSON.stringify({ call: "files", files }));
  for (const message of waiting) answer(message);
  waiting = [];
}

self.onmessage = ({ data }) => {
  if (data.module) {
    start(data).catch((error) => self.postMessage({ failed: String(error) }));
  } else if (engine === null) {
    waiting.push(data);
  } else {
    answer(data);
  }
};
