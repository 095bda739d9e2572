// The answer: the job to the engine, quickly with a few samples, then behind it with as many as it takes; and what comes back.
"use strict";

let latest = null, timer = 0, turn = 0, slowTimer = 0;
// A case that was opened as a file, in place of the questions.
let opened = null;

// Samples of the quick answer: what a finger waits for.
const FEW = 128;

function changedAnswers() {
  if ($("remember").checked) memory.put(jobDocument());
  document.body.dataset.answer = "none";
  clearTimeout(timer);
  timer = setTimeout(compute, 15);
}

/** Words beside a button that stops what runs. */
function busy(words, stoppable = true) {
  $("cancel").hidden = !stoppable || words === "";
  $("busy-words").textContent = words;
  $("busy").hidden = words === "";
}

const still = (mine) => mine === turn;

/** The latest answers win: what was asked before is not waited for, and what runs behind it is stopped. */
let asking = false, again = false, wanted = null;

async function compute() {
  slowly.stop();
  clearTimeout(slowTimer);
  if (asking) {
    again = true;
    return;
  }
  const mine = ++turn;
  for (const q of questions.values()) q.fail("");
  const job = jobDocument();
  if (opened === null && job.resin === undefined) {
    forget();
    return busy(say("no_resin"), false);
  }
  const request = opened ? { call: "answer", case: opened.document, name: opened.name, picture: true } : { call: "job", job, picture: true };
  // One prediction costs of a section what some hundred cost of a liner's wall: then the point comes first.
  const point = Boolean(opened?.document.section);
  const start = performance.now();
  document.body.dataset.answer = "none";
  slowTimer = setTimeout(() => busy(say("computing")), 250);
  asking = true;
  const found = await engine.ask(point ? { ...request, uncertain: "none", numerical_error: false } : { ...request, samples: FEW });
  asking = false;
  clearTimeout(slowTimer);
  if (again) {
    again = false;
    if (!found.error) show(found, say(point ? "first_point" : "refining"));
    return compute();
  }
  window.libcureTimes = { engine: engine.milliseconds, answer: performance.now() - start, sinceOpening: performance.now() };
  if (found.error) {
    busy("", false);
    return refuse(found.error);
  }
  show(found, say(point ? "first_point" : "refining"));
  document.body.dataset.answer = "first";
  busy(say(point ? "first_point" : "refining"));
  // While a finger moves, nothing runs behind.
  await new Promise((done) => setTimeout(done, 200));
  if (still(mine)) await behind(request);
}

/** The whole answer, behind the first. */
async function behind(request) {
  const mine = turn;
  wanted = request;
  busy(latest.first);
  const all = await slowly.ask(request);
  if (!still(mine)) return;
  window.libcureTimes.whole = slowly.milliseconds;
  busy("", false);
  if (all.error) return refuse(all.error);
  show(all, "");
  document.body.dataset.answer = "whole";
}

/** Stops what runs; the first answer, where there is one, stays and says that it is the first. */
function stop() {
  ++turn;
  engine.stop();
  slowly.stop();
  asking = again = false;
  clearTimeout(slowTimer);
  busy(say("stopped"), false);
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

/** What people read of a job by the clock; of a case, from mixing. */
function toldOf(found) {
  if (found.moments) {
    const rows = found.moments.map((m) => [[inWords(m.name), inWords(m.moment), bandInWords(m.likely)], m.name === m.name.toUpperCase() ? "key" : ""]);
    return [inWords(found.headline), table([say("what"), found.mixed_at === null ? say("from_mixing") : say("by_clock"), say("likely")], rows)];
  }
  const { page } = found;
  return [inWords(page.headline), table(headingsOf(page), rowsOf(page))];
}

/** "10:12 to 11:40" in the page's language. */
const bandInWords = (text) => (text ?? "").split(" to ").map(inWords).join(" " + say("to") + " ");

const headingsOf = ({ headings }) => [headings.names, headings.times, headings.likely, headings.why].map(inWords);

const rowsOf = (page) => page.rows.map((r) => [[r.name, r.time, r.likely, r.why].map(inWords), r.mark]);

const cautionsOf = (page) => page.cautions.filter((c) => c.code !== "service_not_reached");

/** @param first words where this is the first answer, and another comes */
function show(found, first) {
  latest = { ...found, first };
  const { page } = found;
  $("answer").className = "answer " + (first && !found.verdict.ranges ? "" : page.status);
  const [headline, times] = toldOf(found);
  // What comes after the release is no part of these stages.
  const cautions = cautionsOf(page);
  $("told").replaceChildren(
    first && !found.verdict.ranges ? "" : make("span", { class: "status" }, say("status_" + page.status)),
    opened ? make("p", {}, opened.document.title ?? opened.name) : "",
    make("p", { class: "headline" }, headline),
    page.reasons.length ? make("ul", { "aria-label": say("why") }, page.reasons.map((r) => make("li", { class: r.status }, inWords(r.text)))) : "",
    times);
  drawPictures(found, cautions);
  $("after").hidden = false;
  if (first) {
    $("advice").replaceChildren();
    $("followed").replaceChildren();
    followed = null;
  }
}

function drawPictures(found, cautions) {
  const { page } = found, mixedAt = found.mixed_at ?? null;
  const wall = wallPicture(found.picture.wall, mixedAt);
  const lines = [["inner", "solid"], ["middle", "dashed"], ["outer", "dotted"]].map(([k, how]) => `${say(k)}: ${say(how)}`).join(", ");
  const taken = found.taken ?? [];
  $("pictures").replaceChildren(
    found.verdict.ranges ? part(say("timeline"), timeline(found)) : "",
    part(say("cautions"), cautions.length ? list(cautions.map((c) => inWords(c.text))) : null, paragraph(page.at_any_job)),
    taken.length ? part(say("taken"), list(taken)) : "",
    found.picture.curves === null ? "" : part(say("curves"), curvePicture(found.picture.curves, mixedAt), paragraph(lines, "quiet")),
    wall ? part(say("wall_picture"), wall.svg, paragraph(`${wall.low.toFixed(0)} °C (${say("dark")}) ${say("to")} ${wall.top.toFixed(0)} °C (${say("light")})`, "quiet")) : "",
    make("details", { class: "part" }, make("summary", {}, say("more")),
      table(headingsOf(page), rowsOf(page)),
      make("h3", {}, say("numbers")),
      list(page.facts.map((f) => `${f.name}: ${f.value}`)),
      [page.numerics, page.ranges, page.defaults, page.solver].map((w) => paragraph(w, "quiet"))));
}
