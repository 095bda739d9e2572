// The record of a job: what was written down, on a sheet to sign, and as a document that `libcure record` makes one with
// hashes of.
"use strict";

const EVENTS = ["mixed", "in_place", "inflated", "released"];
const TEXTS = ["job", "place", "crew", "resin_batch", "hardener_batch", "mixed_mass", "instruments", "remarks"];

function askRecord() {
  const field = (id, title, type) => make("p", {}, make("label", { for: id }, title), make("input", { id, type }));
  $("record-form").replaceChildren(field("r-date", say("record_date"), "date"),
    ...EVENTS.map((key) => field("r-" + key, say("event_" + key), "time")),
    ...TEXTS.map((key) => field("r-" + key, say("record_" + key), "text")),
    field("r-name", say("record_name"), "text"));
  const now = new Date();
  $("r-date").value = [now.getFullYear(), now.getMonth() + 1, now.getDate()].map((n) => String(n).padStart(2, "0")).join("-");
}

/** libcure/site/1. */
function siteDocument() {
  const site = { format: "libcure/site/1", date: $("r-date").value };
  const events = Object.fromEntries(EVENTS.map((key) => [key, $("r-" + key).value]).filter(([, time]) => time !== ""));
  if (Object.keys(events).length) site.events = events;
  for (const key of TEXTS) if ($("r-" + key).value.trim()) site[key] = $("r-" + key).value.trim();
  return site;
}

/** What a finger or a mouse writes. */
const signature = {
  empty: true,
  listen() {
    const pad = $("signature"), pen = pad.getContext("2d");
    let down = false;
    const at = (event) => {
      const box = pad.getBoundingClientRect();
      return [((event.clientX - box.left) / box.width) * pad.width, ((event.clientY - box.top) / box.height) * pad.height];
    };
    pad.addEventListener("pointerdown", (event) => {
      down = true;
      this.empty = false;
      pad.setPointerCapture(event.pointerId);
      pen.beginPath();
      pen.moveTo(...at(event));
    });
    pad.addEventListener("pointermove", (event) => {
      if (!down) return;
      pen.lineWidth = 3;
      pen.lineTo(...at(event));
      pen.stroke();
    });
    for (const end of ["pointerup", "pointercancel"]) pad.addEventListener(end, () => { down = false; });
    $("unsign").addEventListener("click", () => this.clear());
  },
  clear() {
    $("signature").getContext("2d").clearRect(0, 0, $("signature").width, $("signature").height);
    this.empty = true;
  },
};

/** Answers of the crew as rows: question and what was said, a choice in the words that were chosen. */
function saidRows() {
  return [...questions.values()].map((q) => {
    const control = $("q-" + q.fact.key), text = q.text();
    const shown = control.tagName === "SELECT" && control.value === text ? control.selectedOptions[0].textContent : text;
    return [[q.fact.question, text === "" ? say("unknown") : q.fact.kind === "minutes" ? `${shown} ${say("minutes")}` : shown], ""];
  });
}

function sheet() {
  const site = siteDocument(), events = site.events ?? {};
  const { verdict, page } = latest, release = followed ? followed.follow.release_min : verdict.answer.release_min;
  const clock = (minutes) => (minutes === null || minutes === undefined ? "" : events.mixed ? tick(Math.ceil(minutes - 1e-6), minutesOf(events.mixed)) : whole(minutes, true));
  const planned = { mixed: 0, in_place: verdict.held_from_min, inflated: verdict.held_from_min, released: verdict.answer.release_min };
  const rows = EVENTS.map((key) => [[say("event_" + key), clock(planned[key]), key === "released" ? clock(release) || say("none") : "", events[key] ?? ""], key === "released" ? "key" : ""]);
  const [headline, times] = toldOf(latest);
  const texts = TEXTS.filter((key) => site[key]).map((key) => [[say("record_" + key), site[key]], ""]);
  $("sheet").replaceChildren(
    make("h1", {}, say("record")),
    paragraph(`${site.date}${opened ? "; " + (opened.document.title ?? opened.name) : ""}`),
    texts.length ? table([say("what"), ""], texts) : "",
    opened ? "" : table([say("group_questions"), ""], saidRows()),
    make("h2", {}, say("group_answer")), paragraph(say("status_" + page.status)), paragraph(headline, "headline"), times,
    latest.first ? paragraph(latest.first, "error") : "",
    list([...page.reasons, ...cautionsOf(page)].map((c) => inWords(c.text))),
    ...(latest.taken?.length ? [make("h2", {}, say("taken")), list(latest.taken)] : []),
    ...(followed ? [make("h2", {}, say("follow")), ...[...$("followed").childNodes].map((n) => n.cloneNode(true))] : []),
    make("h2", {}, say("record_times")), table([say("what"), say("as_planned"), say("record_recommended"), say("record_actual")], rows),
    make("p", { class: "signed" }, `${say("record_name")}: ${$("r-name").value}`, signature.empty ? "" : make("img", { alt: say("signature"), src: $("signature").toDataURL() })),
    paragraph(say("read_as"), "quiet"), paragraph($("version").textContent, "quiet"));
}

const minutesOf = (clock) => clock.split(":").reduce((hours, minutes) => 60 * Number(hours) + Number(minutes));
