// What to change, and a job that runs.
"use strict";

/** Asks the slow engine, with a button that stops it. */
async function run(target, request, then) {
  target.replaceChildren();
  slowly.stop();
  const mine = ++turn;
  busy(say("computing"));
  const found = await slowly.ask(request);
  if (mine !== turn) return;
  busy("", false);
  if (found.error) target.replaceChildren(paragraph(found.error.message, "error"));
  else then(found);
  // What this came before of.
  if (latest?.first && wanted) await behind(wanted);
}

/** The case of the answer as the engine reads it, with its ranges. */
const ofLatest = (call) => (opened ? { call, case: opened.document, name: opened.name } : { call, case: latest.case, uncertain: latest.uncertain, source: "the ranges given" });

function outcomeCells(o) {
  const s = o.conservative_sides ?? o;
  const hot = s.peak_temperature_C;
  return [whole(s.latest_in_place_min ?? null, false), whole(s.working_min ?? null, false), whole(o.release_min, true), hot === null ? say("none") : Math.ceil(hot - 1e-6) + " °C"];
}

function showAdvice({ advice }) {
  const good = advice.proposals.filter((p) => p.does_it), bad = advice.proposals.filter((p) => !p.does_it);
  const rows = [[[say("as_planned"), ...outcomeCells(advice.as_planned)], ""],
    ...good.map((p) => [[p.said, ...outcomeCells(p.outcome)], "key"]),
    ...bad.map((p) => [[`${say("not_enough")}: ${p.said}`, ...outcomeCells(p.outcome)], ""])];
  $("advice").replaceChildren(
    make("p", { class: "headline" }, advice.headline),
    table([say("change"), say("latest_in_place"), say("work_ends"), say("release"), say("hottest")], rows),
    advice.no_value.length ? part(say("no_value"), list(advice.no_value.map((n) => n.words + (n.best ? ` (${n.best})` : "")))) : "",
    list(advice.cautions.map((c) => inWords(typeof c === "string" ? c : c.text))));
}

// Readings, typed or of a file: a table of a logger as it is, or a line each of minutes and degrees.

let followed = null;

/** The log as the engine reads it: what was typed gets the heading that the choice beside it says. */
function logText() {
  const text = $("readings").value.trim();
  if (text === "") return "";
  if (!/^[-+\d]/.test(text)) return text + "\n";
  const rows = text.split("\n").map((line) => line.trim().replace(/[\s;,]+/, ","));
  return `time_min,temperature_${$("reading-unit").value}\n${rows.join("\n")}\n`;
}

function addReading() {
  const [minutes, degrees] = ["reading-at", "reading-T"].map((id) => $(id).value.trim().replace(",", "."));
  if (minutes === "" || degrees === "") return;
  const before = $("readings").value.trimEnd();
  $("readings").value = `${before}${before ? "\n" : ""}${minutes}, ${degrees}`;
  $("reading-at").value = $("reading-T").value = "";
  $("reading-at").focus();
}

function follow() {
  const log = logText();
  if (log === "") return $("followed").replaceChildren(paragraph(say("follow_lead"), "error"));
  run($("followed"), { ...ofLatest("follow"), log, file: say("follow_file"), at: $("log-at").value }, showFollowed);
}

function showFollowed(found) {
  followed = found;
  const { follow } = found;
  const lines = (items) => list(items.map((i) => inWords(i.text ?? i)));
  const before = follow.before?.wait_until_min;
  const clock = (minutes) => (minutes === null ? say("none") : latest.mixed_at === null || latest.mixed_at === undefined ? whole(minutes, true) : `${tick(Math.ceil(minutes - 1e-6), latest.mixed_at)} (${whole(minutes, true)})`);
  $("followed").replaceChildren(
    make("p", { class: "headline" }, `${say("follow_release")}: ${clock(follow.release_min)}`),
    before === undefined ? "" : paragraph(`${say("follow_before")}: ${clock(before)}`),
    follow.relied_on ? "" : paragraph(say("not_relied"), "error"),
    followPicture(found),
    lines(follow.reasons), lines(follow.faults), lines(follow.cautions));
}
