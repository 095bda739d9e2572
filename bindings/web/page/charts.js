// Charts that came with the page: one job read from one, by the rule that the chart's sheet states (askChart).
"use strict";

const CHART_WORDS = ["do_not_use", "short", "less_time", "in_place_by", "work_until", "release_at", "ready_in", "ready_between", "why", "read_at",
  "worst_of", "decided", "type_number", "chart_goes", "outside", "days_later", "and"];
let charts = [];

function showCharts() {
  $("charts").hidden = charts.length === 0;
  if (charts.length === 0) return;
  const before = $("chart-which").selectedIndex;
  $("chart-which").replaceChildren(...charts.map((c, i) => make("option", { value: i }, c.title)));
  $("chart-which").selectedIndex = Math.max(before, 0);
  showChart();
}

function showChart() {
  const chart = charts[$("chart-which").selectedIndex];
  const fields = chart.ask.axes.map((axis, i) => make("p", {}, make("label", { for: "ask-" + i }, axis.title + (axis.numbers.length ? ` (${axis.unit})` : "")),
    axis.numbers.length ? make("input", { id: "ask-" + i, name: "ask-" + i, inputmode: "decimal", type: "text", value: axis.start })
      : make("select", { id: "ask-" + i, name: "ask-" + i }, axis.labels.map((label, k) => make("option", { value: k }, label)))));
  const form = make("form", { autocomplete: "off", onsubmit: (event) => event.preventDefault() }, fields,
    make("p", {}, make("label", { for: "ask-start" }, say("mixed_at")), make("input", { id: "ask-start", name: "ask-start", type: "time" })));
  $("chart-form").replaceChildren(form);
  const words = Object.fromEntries(CHART_WORDS.map((key) => [key, phrases[language][key]]));
  askChart({ ...chart.ask, words }, form, $("chart-told"));
  $("chart-notes").replaceChildren(list(chart.notes));
}
