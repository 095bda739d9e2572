// Pictures in SVG: the moments on a line of time, the wall over time, and curves of the liner. Nothing is computed here but
// where a number goes.
"use strict";

function draw(name, attributes, ...children) {
  const e = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(attributes)) e.setAttribute(key, value);
  for (const child of children) e.append(child);
  return e;
}

function label(x, y, text, anchor = "start") {
  return draw("text", { x, y, "text-anchor": anchor }, text);
}

/** Steps of an axis that people count in: minutes, quarters, hours. */
function steps(most) {
  const sizes = [5, 10, 15, 30, 60, 120, 240, 360, 720, 1440];
  const size = sizes.find((s) => most / s <= 6) ?? 1440;
  const found = [];
  for (let t = 0; t <= most; t += size) found.push(t);
  return found;
}

/** A moment of the axis: by the clock where it is known, else from mixing. */
function tick(minutes, mixedAt) {
  const all = Math.round(minutes + (mixedAt ?? 0));
  const m = String(all % 60).padStart(2, "0");
  return mixedAt === null ? Math.floor(all / 60) + ":" + m : String(Math.floor(all / 60) % 24).padStart(2, "0") + ":" + m;
}

// As wide as the window, so that letters keep their size on a phone.
const WIDE = Math.max(320, Math.min(640, innerWidth - 36));

/** Bands of working time, gelling and release, with what is planned and what is decided. */
function timeline(found) {
  const r = found.verdict.ranges;
  const answer = found.verdict.answer;
  const rows = [
    [say("in_place_latest"), "#7a4b00", r && r.latest_in_place_min, answer.latest_in_place_min],
    [say("gelled"), "#5c2a7a", r && r.gel_time_last_min, null],
    [say("bladder_out"), "#0a4f24", r && r.criterion_met_min, answer.release_min],
  ];
  const mixedAt = found.mixed_at ?? null, planned = found.planned_min ?? found.verdict.held_from_min;
  const ends = rows.flatMap(([, , band, at]) => [band && band.p95, at]).filter((x) => x !== null && x !== undefined);
  const most = 1.08 * Math.max(30, planned, ...ends);
  const left = 8, right = WIDE - 14, high = 46;
  const x = (t) => left + (Math.min(t, most) / most) * (right - left);
  const height = rows.length * high + 34;
  const parts = [];
  for (const t of steps(most)) {
    parts.push(draw("line", { x1: x(t), x2: x(t), y1: 0, y2: height - 22, stroke: "#b5bdc4" }));
    parts.push(label(x(t), height - 6, tick(t, mixedAt), t === 0 ? "start" : "middle"));
  }
  parts.push(draw("line", { x1: x(planned), x2: x(planned), y1: 0, y2: height - 22, stroke: "#101418", "stroke-width": 2, "stroke-dasharray": "6 4" }));
  rows.forEach(([name, colour, band, at], i) => {
    const y = i * high;
    parts.push(label(left, y + 15, name));
    if (band && band.p5 !== null) {
      const to = band.p95 === null ? most : band.p95;
      parts.push(draw("rect", { x: x(band.p5), y: y + 21, width: Math.max(3, x(to) - x(band.p5)), height: 16, fill: colour }));
    }
    if (at !== null && at !== undefined) {
      parts.push(draw("path", { d: `M${x(at)} ${y + 18} v22`, stroke: "#101418", "stroke-width": 5 }));
      parts.push(draw("path", { d: `M${x(at)} ${y + 18} v22`, stroke: "#ffffff", "stroke-width": 1.5 }));
    }
  });
  const words = found.moments
    ? found.moments.map((m) => `${inWords(m.name)}: ${inWords(m.moment)}${m.likely ? ` (${bandInWords(m.likely)})` : ""}`).join("; ")
    : found.page.rows.map((p) => `${p.name}: ${p.time}`).join("; ");
  return draw("svg", { viewBox: `0 0 ${WIDE} ${height}`, role: "img", "aria-label": say("timeline") + ". " + words }, ...parts);
}

/** Colour of a temperature: dark and cold to light and hot, in one scale of lightness so that it reads in grey too. */
function shade(share) {
  const stops = [[12, 28, 84], [38, 92, 140], [60, 150, 140], [190, 190, 90], [255, 236, 170]];
  const at = Math.max(0, Math.min(0.9999, share)) * (stops.length - 1);
  const i = Math.floor(at), f = at - i;
  return "rgb(" + stops[i].map((a, k) => Math.round(a + f * (stops[i + 1][k] - a))).join(",") + ")";
}

/** Temperature of the wall, radius by time; the liner's faces as lines. */
function wallPicture(wall, mixedAt) {
  if (!wall) return null;
  const T = wall.temperature_C;
  // The near ground is enough: twice the depth of bladder, liner and pipe.
  const liner = wall.layer.indexOf("liner"), ground = wall.layer.indexOf("ground");
  const r0 = wall.radius_mm[0], rim = ground > 0 ? wall.radius_mm[ground] : wall.radius_mm.at(-1);
  let cells = wall.radius_mm.findIndex((r) => r > rim + (rim - r0));
  if (cells < 0) cells = wall.radius_mm.length;
  const shown = T.map((row) => row.slice(0, cells));
  const low = Math.min(...shown.flat()), top = Math.max(...shown.flat());
  const left = 74, right = WIDE - 10, height = 240, base = height - 26;
  const t0 = wall.time_min[0], t1 = wall.time_min.at(-1);
  const x = (t) => left + ((t - t0) / (t1 - t0)) * (right - left);
  const middles = wall.radius_mm.slice(0, cells);
  const edge = (c) => (c === 0 ? middles[0] : c === cells ? middles[cells - 1] : 0.5 * (middles[c - 1] + middles[c]));
  const y = (r) => base - ((r - middles[0]) / (middles[cells - 1] - middles[0])) * (base - 6);
  const parts = [];
  for (let i = 0; i + 1 < T.length; ++i) {
    for (let c = 0; c < cells; ++c) {
      const share = (shown[i][c] - low) / Math.max(top - low, 0.1);
      parts.push(draw("rect", { x: x(wall.time_min[i]), y: y(edge(c + 1)), width: x(wall.time_min[i + 1]) - x(wall.time_min[i]) + 0.6,
        height: Math.max(0.6, y(edge(c)) - y(edge(c + 1)) + 0.4), fill: shade(share) }));
    }
  }
  let last = -1;
  for (const [name, at] of [...new Set(wall.layer.slice(0, cells))].map((n) => [n, wall.layer.indexOf(n)])) {
    if (at > 0) parts.push(draw("line", { x1: left, x2: right, y1: y(edge(at)), y2: y(edge(at)), stroke: "#ffffff", "stroke-width": 1.5 }));
    const until = wall.layer.lastIndexOf(name);
    const place = Math.min(y(0.5 * (edge(at) + edge(Math.min(until + 1, cells)))) + 5, last < 0 ? base : last - 14);
    parts.push(label(left - 6, place, inWords(name), "end"));
    last = place;
  }
  for (const t of steps(t1)) if (t >= t0) parts.push(label(x(t), height - 6, tick(t, mixedAt), "middle"));
  const words = `${say("wall_picture")}: ${low.toFixed(0)} ${say("to")} ${top.toFixed(0)} °C`;
  const svg = draw("svg", { viewBox: `0 0 ${WIDE} ${height}`, role: "img", "aria-label": words }, ...parts);
  return { svg, low, top, liner };
}

/** Lines of temperature and degree of cure at the liner's faces and middle. */
function curvePicture(curves, mixedAt) {
  const places = [["liner inner face", "inner", ""], ["liner middle", "middle", "9 5"], ["liner outer face", "outer", "2 4"]];
  const left = 44, right = WIDE - 48, height = 250, base = height - 28;
  const times = curves.time_min, most = times.at(-1);
  const all = places.flatMap(([p]) => curves[p].temperature_C);
  const low = Math.floor(Math.min(...all) / 5) * 5, top = Math.ceil((Math.max(...all) + 1) / 5) * 5;
  const x = (t) => left + (t / most) * (right - left);
  const y = (T) => base - ((T - low) / (top - low)) * (base - 30);
  const z = (a) => base - a * (base - 30);
  const parts = [];
  for (const t of steps(most)) {
    parts.push(draw("line", { x1: x(t), x2: x(t), y1: 30, y2: base, stroke: "#b5bdc4" }));
    parts.push(label(x(t), height - 8, tick(t, mixedAt), "middle"));
  }
  const stride = (top - low) / 5 > 10 ? 20 : (top - low) > 25 ? 10 : 5;
  for (let T = low; T <= top; T += stride) parts.push(label(left - 6, y(T) + 4, String(T), "end"));
  for (const a of [0, 0.5, 1]) parts.push(label(right + 6, z(a) + 4, String(100 * a)));
  parts.push(label(0, 14, say("warm")), label(WIDE, 14, say("cured"), "end"));
  for (const [place, , dash] of places) {
    const path = (values, f) => "M" + times.map((t, i) => x(t).toFixed(1) + " " + f(values[i]).toFixed(1)).join("L");
    const line = (d, colour) => parts.push(draw("path", { d, fill: "none", stroke: colour, "stroke-width": 2.5, "stroke-dasharray": dash }));
    line(path(curves[place].temperature_C, y), "#8a0010");
    line(path(curves[place].degree_of_cure, z), "#0b3d66");
  }
  const words = `${say("curves")}: ${Math.min(...all).toFixed(0)} ${say("to")} ${Math.max(...all).toFixed(0)} °C`;
  return draw("svg", { viewBox: `0 0 ${WIDE} ${height}`, role: "img", "aria-label": words }, ...parts);
}

/** Readings as dots in the band of temperatures: dashed before them, filled with them. */
function followPicture({ readings, band_before: wide, band_after: narrow }) {
  const known = (values) => values.filter((v) => v !== null);
  const left = 44, right = WIDE - 12, height = 230, base = height - 28;
  const most = Math.max(...known(readings.time_min), ...known(narrow.time_min));
  // By the bands: a reading far outside them is a fault, which is said in words.
  const all = known([...narrow.p5_C, ...narrow.p95_C, ...wide.p5_C, ...wide.p95_C]);
  const low = Math.floor(Math.min(...all) / 5) * 5, top = Math.ceil((Math.max(...all) + 1) / 5) * 5;
  const x = (t) => left + (t / most) * (right - left), y = (T) => base - ((T - low) / (top - low)) * (base - 24);
  const line = (band, key) => band.time_min.map((t, i) => [t, band[key][i]]).filter(([, T]) => T !== null).map(([t, T]) => x(t).toFixed(1) + " " + y(T).toFixed(1));
  const parts = [];
  for (const t of steps(most)) parts.push(draw("line", { x1: x(t), x2: x(t), y1: 24, y2: base, stroke: "#b5bdc4" }), label(x(t), height - 8, tick(t, null), "middle"));
  const stride = top - low > 50 ? 20 : top - low > 25 ? 10 : 5;
  for (let T = low; T <= top; T += stride) parts.push(label(left - 6, y(T) + 4, String(T), "end"));
  parts.push(draw("path", { d: `M${line(narrow, "p5_C").join("L")}L${line(narrow, "p95_C").reverse().join("L")}Z`, fill: "#b9d3ea" }));
  for (const key of ["p5_C", "p95_C"]) parts.push(draw("path", { d: "M" + line(wide, key).join("L"), fill: "none", stroke: "#3d4650", "stroke-dasharray": "6 4" }));
  readings.time_min.forEach((t, i) => { const T = readings.temperature_C[i]; if (T !== null && T >= low && T <= top) parts.push(draw("circle", { cx: x(t), cy: y(readings.temperature_C[i]), r: 2.5, fill: "#8a0010" })); });
  parts.push(label(0, 14, say("warm")));
  return draw("svg", { viewBox: `0 0 ${WIDE} ${height}`, role: "img", "aria-label": `${say("follow_picture")}: ${Math.min(...all).toFixed(0)} ${say("to")} ${Math.max(...all).toFixed(0)} °C` }, ...parts);
}
