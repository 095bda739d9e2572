// The questions, and the document that their answers make.
"use strict";

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
  choice: (fact, asked, changed) => choiceOf(fact, (fact.key === "like" ? asked.places.map((p) => [p.name, inWords(p.title)]) : fact.choices.map((c) => [c, inWords(c)])), changed),
  resin: (fact, asked, changed) => choiceOf(fact, asked.resins.map((r) => [r.id, r.title]), changed),
  packer: (fact, asked, changed) => choiceWithNumber(fact, [["measured", say("known")], ...fact.choices.map((c) => [c, inWords(c)])], (v) => v === "measured",
    (v, n) => (v === "measured" ? n : v),
    (text, c, n) => { if (fact.choices.includes(text) || text === "") c.put(text); else { c.put("measured"); n.put(text); } }, changed),
  fill: (fact, asked, changed) => choiceWithNumber(fact, fact.choices.map((c) => [c, inWords(c)]), (v) => v !== "", (v, n) => (v === "" || n === "" ? "" : v + " " + n),
    (text, c, n) => { const [medium, ...rest] = text.split(" "); c.put(text === "" ? "" : fact.choices.includes(medium) ? medium : "air");
      n.put(fact.choices.includes(medium) ? rest.join(" ") : text); }, changed),
  "hot water": (fact, asked, changed) => {
    const ago = make("input", { type: "text", inputmode: "decimal", "aria-label": fact.question + ", " + say("ago"), oninput: () => changed() });
    const wrap = { parts: [ago, make("span", {}, say("ago"))] };
    return choiceWithNumber(fact, [["none", say("hot_none")], ["yes", say("hot_yes")]], (v) => v === "yes",
      (v, n) => (v !== "yes" ? v : n === "" || ago.value.trim() === "" ? "" : n + " " + ago.value.trim() + " min"),
      (text, c, n) => { const found = /^(.*?[cf])\s+(.*?)(?:\s*min.*)?$/i.exec(text);
        if (found) { c.put("yes"); n.put(found[1]); ago.value = found[2]; } else { c.put(text === "no" ? "none" : text); } }, changed, [wrap]);
  },
  clock: (fact, asked, changed) => {
    const input = make("input", { type: "time", id: "q-" + fact.key, oninput: changed });
    return { parts: [input], text: () => input.value, put: (text) => { input.value = text.length === 4 ? "0" + text : text; } };
  },
  minutes: (fact, asked, changed) => {
    const input = make("input", { type: "text", inputmode: "decimal", id: "q-" + fact.key, oninput: changed });
    return { parts: [input, make("span", {}, say("minutes"))], number: input, text: () => input.value.trim(), put: (text) => { input.value = text; } };
  },
};

function question(fact, asked) {
  const error = make("p", { class: "error", id: "e-" + fact.key, hidden: true });
  const changed = () => { mark(); changedAnswers(); };
  const numeric = !(fact.kind in CONTROLS);
  const control = numeric ? measured(fact.key, fact.kind, fact.question, changed) : CONTROLS[fact.kind](fact, asked, changed);
  const needsButton = numeric || fact.kind === "clock" || fact.kind === "minutes";
  const unknown = needsButton
    ? make("button", { type: "button", class: "dk", "aria-pressed": "true", "aria-label": fact.question + ": " + say("unknown"),
        onclick: () => { control.put(""); mark(); changedAnswers(); } }, say("unknown"))
    : null;
  const slide = slider(fact, control, () => { mark(); changedAnswers(); });
  const mark = () => {
    if (unknown) unknown.setAttribute("aria-pressed", String(control.text() === ""));
    slide?.turn();
  };
  const box = make("div", { class: "question" }, make("label", { for: "q-" + fact.key }, fact.question),
    fact.choices.length || fact.kind === "resin" ? null : make("span", { class: "quiet", id: "h-" + fact.key }, fact.help),
    make("div", { class: "row" }, control.parts, unknown), slide?.range, error);
  const first = box.querySelector("#q-" + CSS.escape(fact.key));
  const described = ["e-" + fact.key, ...(box.querySelector(".quiet") ? ["h-" + fact.key] : [])];
  first.setAttribute("aria-describedby", described.join(" "));
  questions.set(fact.key, {
    fact, text: control.text, turn() { control.turn?.(); mark(); }, put: (text) => { control.put(text); mark(); },
    fail(words) {
      error.textContent = words;
      error.hidden = words === "";
      if (words) first.setAttribute("aria-invalid", "true"); else first.removeAttribute("aria-invalid");
    },
  });
  mark();
  return box;
}

/** Temperatures and minutes can be slid, between what is usual. */
function slider(fact, control, changed) {
  if (!["temperature", "minutes"].includes(fact.kind) || !fact.usual) return null;
  const range = make("input", { type: "range", class: "slide", "aria-label": fact.question,
    oninput: () => { control.number.value = range.value; changed(); } });
  const turn = () => {
    const us = control.unit?.value === "F";
    const [low, high] = us ? fact.usual.map((x) => 1.8 * x + 32) : fact.usual;
    Object.assign(range, { min: low, max: high, step: fact.kind === "minutes" || us ? 1 : 0.5 });
    const x = parseFloat(control.number.value.replace(",", "."));
    range.value = Number.isFinite(x) ? x : 0.5 * (low + high);
    range.setAttribute("aria-valuetext", control.text() || say("unknown"));
  };
  return { range, turn };
}

/** Asks anew, in the language as it is. @param asked what the engine wants to know */
function ask(asked) {
  const facts = new Map(asked.facts.map((f) => [f.key, { ...f, question: inWords(f.question), help: inWords(f.help) }]));
  const choose = (value) => make("label", { class: "tick" },
    make("input", { type: "radio", name: "units", value, checked: value === units, onchange: () => {
      units = value;
      for (const q of questions.values()) q.turn();
      changedAnswers();
    } }), say(value));
  $("form").replaceChildren(make("fieldset", {}, make("legend", {}, say("units")), make("div", { class: "units" }, choose("metric"), choose("us"))));
  for (const [title, keys] of GROUPS) {
    $("form").append(make("fieldset", {}, make("legend", {}, say(title)), keys.map((key) => question(facts.get(key), asked))));
  }
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

