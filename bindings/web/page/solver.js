// The engine, in two workers of one module: one for what a finger waits for, one for what takes its time and may be stopped.
"use strict";

const store = {
  async load() {
    const [bytes, files, code] = await Promise.all([unpacked("engine-module", "arrayBuffer"), unpacked("engine-files", "json"), unpacked("engine-code", "text")]);
    this.files = files;
    this.module = await WebAssembly.compile(bytes);
    this.code = URL.createObjectURL(new Blob([code], { type: "text/javascript" }));
  },
};

function failed(words) {
  busy(say("broken") + ": " + words, false);
}

class Engine {
  worker = null;
  next = 0;
  asked = new Map();
  milliseconds = 0;

  start() {
    this.worker = new Worker(store.code);
    this.worker.onmessage = ({ data }) => {
      if (data.failed) return failed(data.failed);
      const done = this.asked.get(data.id);
      this.asked.delete(data.id);
      this.milliseconds = data.milliseconds;
      if (done) done(JSON.parse(data.text));
    };
    this.worker.onerror = (event) => failed(event.message || "worker");
    this.worker.postMessage({ module: store.module, files: store.files });
  }
  ask(request) {
    if (this.worker === null) this.start();
    const id = ++this.next;
    return new Promise((done) => {
      this.asked.set(id, done);
      this.worker.postMessage({ id, request: JSON.stringify(request) });
    });
  }
  /** Ends what runs; who waits for it never hears. The next one starts at once, for it is compiled already. */
  stop() {
    if (this.asked.size === 0) return;
    this.worker.terminate();
    this.asked.clear();
    this.start();
  }
}

const engine = new Engine(), slowly = new Engine();
