// The page: asks, hands the answers to the engine as a document libcure/job/1, and shows what comes back.
"use strict";

const $ = (id) => document.getElementById(id);

/** An element; a key of attributes that starts with "on" is a listener. */
function make(name, attributes = {}, ...children) {
  const e = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (key.startsWith("on")) e.addEventListener(key.slice(2), value);
    else if (value === true) e.setAttribute(key, "");
    else if (value !== false && value !== null && value !== undefined) e.setAttribute(key, value);
  }
  for (const child of children.flat()) if (child !== null && child !== undefined) e.append(child);
  return e;
}

// The engine.

/** Bytes of a text of 7 bits a letter, lowest first; see web_page.py, which writes it. */
function bytesOf(text) {
  const bytes = new Uint8Array(Math.floor((text.length * 7) / 8));
  let bits = 0, count = 0, at = 0;
  for (let i = 0; i < text.length; ++i) {
    const letter = text.charCodeAt(i);
    bits |= (letter < 128 ? letter : [0, 13, 60][letter - 128]) << count;
    count += 7;
    if (count >= 8) {
      bytes[at++] = bits & 255;
      bits >>>= 8;
      count -= 8;
    }
  }
  return bytes;
}

async function unpacked(id, kind) {
  const packed = bytesOf($(id).textContent);
  const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("gzip"));
  return new Response(stream)[kind]();
}

const engine = {
  worker: null,
  next: 0,
  asked: new Map(),

  async load() {
    const [bytes, files, code] = await Promise.all([unpacked("engine-module", "arrayBuffer"), unpacked("engine-files", "json"), unpacked("engine-code", "text")]);
    this.files = files;
    this.module = await WebAssembly.compile(bytes);
    this.code = URL.createObjectURL(new Blob([code], { type: "text/javascript" }));
    this.start();
  },
  start() {
    this.worker = new Worker(this.code);
    this.worker.onmessage = ({ data }) => {
      if (data.failed) return failed(data.failed);
      const done = this.asked.get(data.id);
      this.asked.delete(data.id);
      this.milliseconds = data.milliseconds;
      if (done) done(JSON.parse(data.text));
    };
    this.worker.onerror = (event) => failed(event.message || "worker");
    this.worker.postMessage({ module: this.module, files: this.files });
  },
  ask(request) {
    const id = ++this.next;
    return new Promise((done) => {
      this.asked.set(id, done);
      this.worker.postMessage({ id, request: JSON.stringify(request) });
    });
  },
  /** Ends what runs; who waits for it never hears. */
  stop() {
    this.worker.terminate();
    this.asked.clear();
    this.start();
  },
};

function failed(words) {
  $("busy-words").textContent = say("broken") + ": " + words;
}

// The questions.

const UNITS = { thermal: ["C", "F"], length: ["mm", "in"], depth: ["m", "ft"] };
const SHOWN = { C: "°C", F: "°F", mm: "mm", in: "inch", m: "m", ft: "feet" };
const GROUPS = [
  ["group_liner", ["resin", "thickness", "length", "resin_temperature"]],
  ["group_place", ["like", "pipe", "bore", "depth", "wall", "water", "hot_water"]],
  ["group_work", ["packer", "air", "fill", "in_place", "mixed_at"]],
];
const questions = new Map();
let units = "metric";

const unitsOf = (kind) => (kind === "length" || kind === "depth" ? UNITS[kind] : UNITS.thermal);

/** A number and its unit, which is always said, so that none is taken for another. */
function measured(key, kind, name, changed) {
  const number = make("input", { type: "text", inputmode: "decimal", id: "q-" + key, oninput: changed });
  const unit = make("select", { class: "unit", "aria-label": say("unit_of") + " " + name, onchange: changed },
    unitsOf(kind).map((u) => make("option", { value: u }, SHOWN[u])));
  unit.value = unitsOf(kind)[units === "us" ? 1 : 0];
  return {
    parts: [number, unit], number, unit,
    text: () => (number.value.trim() === "" ? "" : number.value.trim() + " " + unit.value),
    put(text) {
      const found = /^([^a-z°"']*)\s*°?\s*([a-z"']*)/i.exec(text.trim());
      const said = found[2].toLowerCase();
      const known = { c: "C", f: "F", mm: "mm", in: "in", m: "m", ft: "ft" }[said];
      number.value = known || said === "" ? found[1].trim() : text;
      unit.value = unitsOf(kind).includes(known) ? known : unitsOf(kind)[units === "us" ? 1 : 0];
    },
    turn() { if (number.value.trim() === "") unit.value = unitsOf(kind)[units === "us" ? 1 : 0]; },
  };
}

function choiceOf(fact, options, changed) {
  const select = make("select", { id: "q-" + fact.key, onchange: changed },
    make("option", { value: "" }, say("unknown")), options.map(([value, words]) => make("option", { value }, words)));
  return { parts: [select], select, text: () => select.value, put: (text) => { select.value = text; } };
}

/** A choice that may ask for a number beside it. */
function choiceWithNumber(fact, options, asks, compose, take, changed, extra = []) {
  const number = measured(fact.key + "-number", "temperature", fact.question, () => changed());
  const side = make("span", { class: "row", hidden: true }, number.parts, extra.flatMap((e) => e.parts));
  number.number.setAttribute("aria-label", fact.question);
  const choice = choiceOf(fact, options, () => { side.hidden = !asks(choice.select.value); changed(); });
  return {
    parts: [choice.select, side],
    text: () => compose(choice.select.value, number.text()),
    put(text) { take(text, choice, number); side.hidden = !asks(choice.select.value); },
    turn: number.turn,
  };
}

const CONTROLS = {
  choice: (fact, told, changed) => choiceOf(fact, (fact.key === "like" ? told.places.map((p) => [p.name, p.title]) : fact.choices.map((c) => [c, c])), changed),
  resin: (fact, told, changed) => choiceOf(fact, told.resins.map((r) => [r.id, r.title]), changed),
  packer: (fact, told, changed) => choiceWithNumber(fact, [["measured", say("known")], ...fact.choices.map((c) => [c, c])], (v) => v === "measured",
    (v, n) => (v === "measured" ? n : v),
    (text, c, n) => { if (fact.choices.includes(text) || text === "") c.put(text); else { c.put("measured"); n.put(text); } }, changed),
  fill: (fact, told, changed) => choiceWithNumber(fact, fact.choices.map((c) => [c, c]), (v) => v !== "", (v, n) => (v === "" || n === "" ? "" : v + " " + n),
    (text, c, n) => { const [medium, ...rest] = text.split(" "); c.put(text === "" ? "" : fact.choices.includes(medium) ? medium : "air");
      n.put(fact.choices.includes(medium) ? rest.join(" ") : text); }, changed),
  "hot water": (fact, told, changed) => {
    const ago = make("input", { type: "text", inputmode: "decimal", "aria-label": fact.question + ", " + say("ago"), oninput: () => changed() });
    const wrap = { parts: [ago, make("span", {}, say("ago"))] };
    return choiceWithNumber(fact, [["none", say("hot_none")], ["yes", say("hot_yes")]], (v) => v === "yes",
      (v, n) => (v !== "yes" ? v : n === "" || ago.value.trim() === "" ? "" : n + " " + ago.value.trim() + " min"),
      (text, c, n) => { const found = /^(.*?[cf])\s+(.*?)(?:\s*min.*)?$/i.exec(text);
        if (found) { c.put("yes"); n.put(found[1]); ago.value = found[2]; } else { c.put(text === "no" ? "none" : text); } }, changed, [wrap]);
  },
  clock: (fact, told, changed) => {
    const input = make("input", { type: "time", id: "q-" + fact.key, oninput: changed });
    return { parts: [input], text: () => input.value, put: (text) => { input.value = text.length === 4 ? "0" + text : text; } };
  },
  minutes: (fact, told, changed) => {
    const input = make("input", { type: "text", inputmode: "decimal", id: "q-" + fact.key, oninput: changed });
    return { parts: [input, make("span", {}, say("minutes"))], text: () => input.value.trim(), put: (text) => { input.value = text; } };
  },
};

function question(fact, told) {
  const error = make("p", { class: "error", id: "e-" + fact.key, hidden: true });
  const changed = () => { mark(); changedAnswers(); };
  const numeric = !(fact.kind in CONTROLS);
  const control = numeric ? measured(fact.key, fact.kind, fact.question, changed) : CONTROLS[fact.kind](fact, told, changed);
  const needsButton = numeric || fact.kind === "clock" || fact.kind === "minutes";
  const unknown = needsButton
    ? make("button", { type: "button", class: "dk", "aria-pressed": "true", "aria-label": fact.question + ": " + say("unknown"),
        onclick: () => { control.put(""); mark(); changedAnswers(); } }, say("unknown"))
    : null;
  const mark = () => { if (unknown) unknown.setAttribute("aria-pressed", String(control.text() === "")); };
  const box = make("div", { class: "question" }, make("label", { for: "q-" + fact.key }, fact.question),
    fact.choices.length || fact.kind === "resin" ? null : make("span", { class: "quiet", id: "h-" + fact.key }, fact.help),
    make("div", { class: "row" }, control.parts, unknown), error);
  const first = box.querySelector("#q-" + CSS.escape(fact.key));
  const described = ["e-" + fact.key, ...(box.querySelector(".quiet") ? ["h-" + fact.key] : [])];
  first.setAttribute("aria-describedby", described.join(" "));
  questions.set(fact.key, {
    fact, text: control.text, turn: control.turn ?? (() => {}), put: (text) => { control.put(text); mark(); },
    fail(words) {
      error.textContent = words;
      error.hidden = words === "";
      if (words) first.setAttribute("aria-invalid", "true"); else first.removeAttribute("aria-invalid");
    },
  });
  return box;
}

function ask(told) {
  const facts = new Map(told.facts.map((f) => [f.key, f]));
  const choose = (value) => make("label", { class: "tick" },
    make("input", { type: "radio", name: "units", value, checked: value === units, onchange: () => {
      units = value;
      for (const q of questions.values()) q.turn();
      changedAnswers();
    } }), say(value));
  $("form").append(make("fieldset", {}, make("legend", {}, say("units")), make("div", { class: "units" }, choose("metric"), choose("us"))));
  for (const [title, keys] of GROUPS) {
    $("form").append(make("fieldset", {}, make("legend", {}, say(title)), keys.map((key) => question(facts.get(key), told))));
  }
  $("form").addEventListener("submit", (event) => event.preventDefault());
}

/** The answers as `libcure job --file` reads them. */
function jobDocument() {
  const job = { format: "libcure/job/1", units };
  for (const [key, q] of questions) if (q.text() !== "") job[key] = q.text();
  return job;
}

function putDocument(job) {
  if (job === null || typeof job !== "object" || job.format !== "libcure/job/1") throw new Error('format: "libcure/job/1"');
  units = job.units === "us" ? "us" : "metric";
  for (const radio of document.querySelectorAll('input[name="units"]')) radio.checked = radio.value === units;
  for (const [key, q] of questions) q.put(job[key] === undefined ? "" : String(job[key]));
}

// What is remembered, on request only; a browser may refuse to.

const memory = {
  get() { try { return localStorage.getItem("libcure-job"); } catch { return null; } },
  put(job) { try { localStorage.setItem("libcure-job", JSON.stringify(job)); } catch { $("remember").checked = false; } },
  clear() { try { localStorage.removeItem("libcure-job"); } catch { /* there is nothing */ } },
};

// The answer.

let computing = false, again = false, latest = null, timer = 0;

function changedAnswers() {
  if ($("remember").checked) memory.put(jobDocument());
  clearTimeout(timer);
  timer = setTimeout(compute, 30);
}

function busy(on, words = "") {
  $("cancel").hidden = !on;
  $("busy-words").textContent = words;
  $("busy").hidden = words === "";
}

/** One run at a time; what changes meanwhile is computed after it, the last only. */
async function compute() {
  if (computing) {
    again = true;
    return;
  }
  const job = jobDocument();
  for (const q of questions.values()) q.fail("");
  if (job.resin === undefined) {
    forget();
    return busy(false, say("no_resin"));
  }
  computing = true;
  const slow = setTimeout(() => busy(true, say("computing")), 250);
  const start = performance.now();
  const found = await engine.ask({ call: "job", job, picture: true });
  clearTimeout(slow);
  computing = false;
  busy(false);
  window.libcureTimes = { engine: engine.milliseconds, answer: performance.now() - start, sinceOpening: performance.now() };
  if (found.error) refuse(found.error);
  else show(found);
  if (again) {
    again = false;
    compute();
  }
}

function forget() {
  latest = null;
  $("answer").className = "answer";
  $("told").replaceChildren();
  $("pictures").replaceChildren();
  $("after").hidden = true;
}

function refuse(error) {
  forget();
  const q = questions.get(error.field);
  const words = q ? `${error.value}; ${error.allowed}` : error.message;
  if (q) q.fail(words);
  $("told").replaceChildren(make("p", { class: "error" }, (q ? q.fact.question + ": " : "") + words));
}

const paragraph = (words, kind = "") => (words ? make("p", { class: kind || null }, words) : null);
const part = (title, ...children) => make("section", { class: "part" }, make("h2", {}, title), children);

function table(head, rows) {
  return make("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": head[0] }, make("table", {}, make("thead", {}, make("tr", {}, head.map((h) => make("th", { scope: "col" }, h)))),
    make("tbody", {}, rows.map(([cells, kind]) => make("tr", { class: kind || null },
      cells.map((c, i) => (i === 0 ? make("th", { scope: "row" }, c) : make("td", {}, c))))))));
}

function show(found) {
  latest = found;
  const { page } = found;
  $("answer").className = "answer " + page.status;
  const rows = found.moments.map((m) => [[m.name, m.moment, m.likely], m.name === m.name.toUpperCase() ? "key" : ""]);
  // What comes after the release is no part of these stages.
  const cautions = page.cautions.filter((c) => c.code !== "service_not_reached");
  $("told").replaceChildren(
    make("span", { class: "status" }, say("status_" + page.status)),
    make("p", { class: "headline" }, found.headline),
    page.reasons.length ? make("ul", { "aria-label": say("why") }, page.reasons.map((r) => make("li", { class: r.status }, r.text))) : "",
    table([say("what"), found.mixed_at === null ? say("from_mixing") : say("by_clock"), page.headings.likely], rows));
  const wall = wallPicture(found.picture.wall, found.mixed_at);
  const lines = [["inner", "solid"], ["middle", "dashed"], ["outer", "dotted"]].map(([k, how]) => `${say(k)}: ${how}`).join(", ");
  $("pictures").replaceChildren(
    part(say("timeline"), timeline(found)),
    part(page.headings.cautions, cautions.length ? make("ul", {}, cautions.map((c) => make("li", {}, c.text))) : null, paragraph(page.at_any_job)),
    found.taken.length ? part(say("taken"), make("ul", {}, found.taken.map((t) => make("li", {}, t)))) : "",
    part(say("curves"), curvePicture(found.picture.curves, found.mixed_at), paragraph(lines, "quiet")),
    wall ? part(say("wall_picture"), wall.svg, paragraph(`${wall.low.toFixed(0)} °C (dark) to ${wall.top.toFixed(0)} °C (light)`, "quiet")) : "",
    make("details", { class: "part" }, make("summary", {}, say("more")),
      table([page.headings.names, page.headings.times, page.headings.likely, page.headings.why],
        page.rows.map((r) => [[r.name, r.time, r.likely, r.why], r.mark])),
      make("h3", {}, say("numbers")),
      make("ul", {}, page.facts.map((f) => make("li", {}, `${f.name}: ${f.value}`))),
      [page.numerics, page.ranges, page.defaults, page.solver].map((w) => paragraph(w, "quiet"))));
  $("after").hidden = false;
  $("advice").replaceChildren();
  $("followed").replaceChildren();
}

// What to change.

const whole = (minutes, up) => {
  if (minutes === null) return say("none");
  const all = up ? Math.ceil(minutes - 1e-6) : Math.floor(minutes + 1e-6);
  return all < 60 ? all + " min" : Math.floor(all / 60) + " h " + String(all % 60).padStart(2, "0");
};

function outcomeCells(o) {
  const s = o.conservative_sides ?? o;
  const hot = s.peak_temperature_C;
  return [whole(s.latest_in_place_min ?? null, false), whole(s.working_min ?? null, false), whole(o.release_min, true), hot === null ? say("none") : Math.ceil(hot - 1e-6) + " °C"];
}

async function run(target, request, then) {
  target.replaceChildren();
  busy(true, say("computing"));
  computing = true;
  const found = await engine.ask(request);
  computing = false;
  busy(false);
  if (found.error) target.replaceChildren(paragraph(found.error.message, "error"));
  else then(found);
  if (again) {
    again = false;
    compute();
  }
}

function showAdvice({ advice }) {
  const good = advice.proposals.filter((p) => p.does_it), bad = advice.proposals.filter((p) => !p.does_it);
  const rows = [[[say("as_planned"), ...outcomeCells(advice.as_planned)], ""],
    ...good.map((p) => [[p.said, ...outcomeCells(p.outcome)], "key"]),
    ...bad.map((p) => [[`${say("not_enough")}: ${p.said}`, ...outcomeCells(p.outcome)], ""])];
  $("advice").replaceChildren(
    make("p", { class: "headline" }, advice.headline),
    table([say("change"), say("in_place_by"), say("work_ends"), say("release"), say("hottest")], rows),
    advice.no_value.length ? part(say("no_value"), make("ul", {}, advice.no_value.map((n) => make("li", {}, n.words + (n.best ? ` (${n.best})` : ""))))) : "",
    make("ul", {}, advice.cautions.map((c) => make("li", {}, typeof c === "string" ? c : c.text))));
}

function showFollowed({ follow }) {
  const list = (items) => (items.length ? make("ul", {}, items.map((i) => make("li", {}, i.text ?? i))) : "");
  $("followed").replaceChildren(
    make("p", { class: "headline" }, `${say("follow_release")}: ${whole(follow.release_min, true)}`),
    follow.relied_on ? "" : paragraph(say("not_relied"), "error"),
    list(follow.reasons), list(follow.faults), list(follow.cautions));
}

// Handing on.

const encode = (job) => btoa(String.fromCharCode(...new TextEncoder().encode(JSON.stringify(job)))).replace(/\+/g, "-").replace(/\//g, "_").replace(/=+$/, "");
const decode = (text) => JSON.parse(new TextDecoder().decode(Uint8Array.from(atob(text.replace(/-/g, "+").replace(/_/g, "/")), (c) => c.charCodeAt(0))));

function listen() {
  $("cancel").addEventListener("click", () => {
    engine.stop();
    computing = again = false;
    busy(false, say("stopped"));
  });
  $("save").addEventListener("click", () => {
    const url = URL.createObjectURL(new Blob([JSON.stringify(jobDocument(), null, 2) + "\n"], { type: "application/json" }));
    make("a", { href: url, download: "job.json" }).click();
    setTimeout(() => URL.revokeObjectURL(url), 1000);
  });
  $("link").addEventListener("click", () => {
    $("link-line").hidden = false;
    $("link-text").value = location.href.split("#")[0] + "#job=" + encode(jobDocument());
    $("link-text").select();
  });
  $("clear").addEventListener("click", () => {
    putDocument({ format: "libcure/job/1", units });
    memory.clear();
    changedAnswers();
  });
  $("open").addEventListener("change", async () => {
    const file = $("open").files[0];
    if (!file) return;
    $("open-error").textContent = "";
    try {
      putDocument(JSON.parse(await file.text()));
      changedAnswers();
    } catch (error) {
      $("open-error").textContent = `${file.name}: ${error.message}`;
    }
  });
  $("remember").addEventListener("change", () => {
    if ($("remember").checked) memory.put(jobDocument());
    else memory.clear();
  });
  $("advise").addEventListener("click", () => run($("advice"), { call: "advise", case: latest.case, uncertain: latest.uncertain, source: "the ranges given" }, showAdvice));
  $("follow").addEventListener("click", async () => {
    const file = $("log").files[0];
    if (!file) return $("followed").replaceChildren(paragraph(say("follow_lead"), "error"));
    run($("followed"), { call: "follow", case: latest.case, uncertain: latest.uncertain, source: "the ranges given", log: await file.text(), file: file.name, at: $("log-at").value }, showFollowed);
  });
}

async function open() {
  for (const e of document.querySelectorAll("[data-say]")) e.textContent = say(e.dataset.say);
  document.title = say("title");
  try {
    await engine.load();
  } catch (error) {
    return failed(error.message);
  }
  ask(await engine.ask({ call: "questions" }));
  listen();
  const kept = memory.get();
  const given = /^#job=(.+)$/.exec(location.hash);
  try {
    if (given) putDocument(decode(given[1]));
    else if (kept !== null) {
      $("remember").checked = true;
      putDocument(JSON.parse(kept));
    }
  } catch (error) {
    $("open-error").textContent = error.message;
  }
  document.body.dataset.ready = "yes";
  await compute();
}

open();
