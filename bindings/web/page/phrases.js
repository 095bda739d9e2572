// The page's phrases, as the catalogues of libcure have them (words/languages/*.po), and sentences of the engine in another
// language.
"use strict";

let phrases = { en: {} };
let language = "en";
const LANGUAGES = { en: "English", de: "Deutsch", es: "Español", fr: "Français", pl: "Polski" };

/** A phrase with its values filled in. */
function say(key, values = {}) {
  const text = phrases[language]["web_" + key] ?? phrases[language][key];
  if (text === undefined) throw new Error("no phrase " + key);
  return text.replace(/\{(\w+)\}/g, (_, name) => values[name]);
}

// The engine speaks English. A sentence whose English the catalogue has is said in the page's language; of one with gaps, what
// stands in them is looked up too.
let known = new Map(), shapes = [];

function learn(found) {
  phrases = found;
  // The engine's own first: another phrase of the page may be the same word for something else.
  const engines = (key) => /^(core|caution)_/.test(key);
  const all = Object.entries(phrases.en).sort(([a], [b]) => engines(b) - engines(a));
  for (const [key, text] of all) {
    if (!text.includes("{")) {
      if (!known.has(text)) known.set(text, key);
      continue;
    }
    if (!engines(key)) continue;
    const names = [...text.matchAll(/\{(\w+)\}/g)].map((m) => m[1]);
    const shape = text.replace(/[.*+?^$()|[\]\\]/g, "\\$&").replace(/\{\w+\}/g, "(.+?)");
    shapes.push([new RegExp("^" + shape + "$"), names, key]);
  }
  // The longest first: a shorter one may fit what is said by a longer.
  shapes.sort((a, b) => b[0].source.length - a[0].source.length);
}

/** A sentence of the engine in the page's language; as it is where nobody has translated it. */
function inWords(text) {
  if (language === "en" || !text) return text;
  const key = known.get(text);
  if (key !== undefined) return phrases[language][key];
  for (const [shape, names, of] of shapes) {
    const found = shape.exec(text);
    if (found) return phrases[language][of].replace(/\{(\w+)\}/g, (_, name) => inWords(found[1 + names.indexOf(name)]));
  }
  return text;
}
