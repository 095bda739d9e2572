// Elements, and what is unpacked from the page.
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

const paragraph = (words, kind = "") => (words ? make("p", { class: kind || null }, words) : null);
const part = (title, ...children) => make("section", { class: "part" }, make("h2", {}, title), children);
const list = (items) => (items.length ? make("ul", {}, items.map((i) => make("li", {}, i))) : "");

function table(head, rows) {
  return make("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": head[0] }, make("table", {}, make("thead", {}, make("tr", {}, head.map((h) => make("th", { scope: "col" }, h)))),
    make("tbody", {}, rows.map(([cells, kind]) => make("tr", { class: kind || null },
      cells.map((c, i) => (i === 0 ? make("th", { scope: "row" }, c) : make("td", {}, c))))))));
}

/** Minutes in words, rounded up or down. */
const whole = (minutes, up) => {
  if (minutes === null) return say("none");
  const all = up ? Math.ceil(minutes - 1e-6) : Math.floor(minutes + 1e-6);
  return all < 60 ? all + " min" : Math.floor(all / 60) + " h " + String(all % 60).padStart(2, "0");
};

/** Hands a text to the person as a file. */
function saveAs(name, kind, text) {
  const url = URL.createObjectURL(new Blob([text], { type: kind }));
  make("a", { href: url, download: name }).click();
  setTimeout(() => URL.revokeObjectURL(url), 1000);
}

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
