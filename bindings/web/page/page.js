// The page: asks, hands the answers to the engine as a document libcure/job/1, and shows what comes back.
"use strict";

let asked = null;

/** Says everything in the page's language. */
function speak() {
  document.documentElement.lang = language;
  document.title = say("title");
  for (const e of document.querySelectorAll("[data-say]")) e.textContent = say(e.dataset.say);
  if (asked === null) return;
  const job = questions.size ? jobDocument() : null;
  ask(asked);
  if (job) putDocument(job);
  askRecord();
  showCharts();
}

function listen() {
  $("form").addEventListener("submit", (event) => event.preventDefault());
  $("cancel").addEventListener("click", stop);
  $("language").addEventListener("change", () => {
    language = $("language").value;
    speak();
    changedAnswers();
  });
  listenToHandingOn();
  $("advise").addEventListener("click", () => run($("advice"), ofLatest("advise"), showAdvice));
  $("log").addEventListener("change", async () => {
    const file = $("log").files[0];
    if (file) $("readings").value = await file.text();
  });
  $("reading-add").addEventListener("click", addReading);
  $("follow").addEventListener("click", follow);
  $("chart-which").addEventListener("change", showChart);
  signature.listen();
  $("print").addEventListener("click", () => {
    sheet();
    print();
  });
  $("save-record").addEventListener("click", () => saveAs("site.json", "application/json", JSON.stringify(siteDocument(), null, 2) + "\n"));
}

async function open() {
  const loading = store.load();
  learn(await unpacked("page-phrases", "json"));
  $("language").append(...Object.entries(LANGUAGES).map(([value, name]) => make("option", { value, lang: value }, name)));
  language = navigator.languages.map((l) => l.slice(0, 2)).find((l) => l in LANGUAGES) ?? "en";
  $("language").value = language;
  speak();
  busy(say("waiting"), false);
  try {
    await loading;
    charts = await unpacked("page-charts", "json");
  } catch (error) {
    return failed(error.message);
  }
  asked = await engine.ask({ call: "questions" });
  speak();
  listen();
  const kept = memory.get();
  try {
    if (location.hash.startsWith("#job=")) putDocument(decode(location.hash.slice(5)));
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
