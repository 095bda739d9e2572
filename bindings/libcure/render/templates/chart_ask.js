// One job read from a chart: between two values the worse of both, outside no answer. `form` has a field for each axis (ask-0, ...)
// and the time of mixing (ask-start); `told` gets the words.
function askChart(ask, form, told) {
  const say = (key, values) => ask.words[key].replace(/\{(\w+)\}/g, (_, name) => values[name]);
  const after = (start, minutes) => {
    if (!start) return "";
    const [h, m] = start.split(":").map(Number), t = h * 60 + m + minutes, days = Math.floor(t / 1440);
    const two = n => String(n).padStart(2, "0");
    return `${two(Math.floor(t / 60) % 24)}:${two(t % 60)}` + (days ? say("days_later", {n: days}) : "");
  };
  const span = minutes => {
    const h = Math.floor(minutes / 60), m = minutes % 60;
    return h ? `${h} h${m ? " " + String(m).padStart(2, "0") : ""}` : `${m} min`;
  };
  // As the language of the page writes it.
  const number = x => x.toLocaleString(document.documentElement.lang || "en", {useGrouping: false, maximumFractionDigits: 4});
  // Places on an axis: the value itself, or both neighbours; none outside of the chart.
  const places = (axis, field) => {
    if (!axis.numbers.length) return [Number(field.value)];
    const x = parseFloat(field.value.replace(",", "."));
    if (!Number.isFinite(x)) return null;
    const order = axis.numbers.map((v, i) => [v, i]).sort((a, b) => a[0] - b[0]);
    const below = order.filter(([v]) => v <= x), above = order.filter(([v]) => v >= x);
    if (!below.length || !above.length) return [];
    return [...new Set([below[below.length - 1][1], above[0][1]])];
  };
  const line = (name, value, more, kind) => {
    const row = told.appendChild(document.createElement("p"));
    row.className = kind || "";
    const label = row.appendChild(document.createElement("span"));
    label.textContent = name;
    const big = row.appendChild(document.createElement("b"));
    big.textContent = value;
    if (more) row.appendChild(document.createElement("small")).textContent = more;
  };
  function answer() {
    told.replaceChildren();
    const found = ask.axes.map((axis, i) => places(axis, form.elements[`ask-${i}`]));
    for (const [i, list] of found.entries()) {
      const axis = ask.axes[i], title = axis.title;
      if (list === null) return line(title, "?", say("type_number", {unit: axis.unit}));
      if (!list.length) {
        const ends = [Math.min(...axis.numbers), Math.max(...axis.numbers)];
        return line(title, say("outside"), say("chart_goes", {low: number(ends[0]), high: number(ends[1]), unit: axis.unit}), "no");
      }
    }
    let at = [0];
    found.forEach((list, i) => { at = at.flatMap(k => list.map(j => k * ask.shape[i] + j)); });
    const cells = at.map(k => ask.cells[k]), read = found.map((list, i) => list.map(j => ask.axes[i].labels[j]).join(` ${say("and")} `));
    const why = say("read_at", {places: ask.axes.map((axis, i) => `${axis.title.toLowerCase()} ${read[i]}`).join(", ")}) +
      (cells.length > 1 ? say("worst_of", {n: cells.length}) : "") + ".";
    const stops = [...new Set(cells.flatMap(c => c.why || []))];
    if (stops.length) {
      line("", say("do_not_use"), stops.join(", "), "no");
      return line(say("why"), "", why);
    }
    const start = form.elements["ask-start"].value, clock = minutes => start ? after(start, minutes) : span(minutes);
    const least = key => cells.reduce((a, c) => c[key] !== null && c[key] < a ? c[key] : a, Infinity);
    const latest = cells.reduce((a, c) => c.release > a.release ? c : a), more = start ? span : () => "";
    const place = least("place"), work = least("work");
    if (place < Infinity) line(say("in_place_by"), clock(place), more(place), cells.some(c => c.short) ? "short" : "");
    if (work < Infinity) line(say("work_until"), clock(work), more(work), cells.some(c => c.short) ? "short" : "");
    if (cells.some(c => c.short)) line("", say("short"), say("less_time"), "no");
    line(say("release_at"), clock(latest.release), more(latest.release), "out");
    const bands = cells.map(c => c.band).filter(b => b);
    if (bands.length === cells.length)
      line(say("ready_in"), "", say("ready_between", {low: span(Math.min(...bands.map(b => b[0]))), high: span(Math.max(...bands.map(b => b[1])))}));
    line(say("why"), "", `${why} ${say("decided", {work: cells[0].where[0], release: latest.where[1]})}`);
  }
  form.addEventListener("input", answer);
  answer();
  return answer;
}
