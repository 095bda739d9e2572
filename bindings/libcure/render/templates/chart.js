const data = JSON.parse(document.getElementById("months").textContent);
const buttons = [...document.querySelectorAll(".months button")];
const depth = document.getElementById("depth"), words = document.getElementById("month-words");
let month = null;
function show() {
  const lines = data.lines[depth.value];
  buttons.forEach((b, i) => {
    b.setAttribute("aria-pressed", i === month);
    b.querySelector("small").textContent = lines[i].ground;
  });
  document.querySelectorAll("tr.read").forEach(r => r.classList.remove("read"));
  const table = document.getElementById("month-table");
  table.replaceChildren();
  words.textContent = month === null ? "" : lines[month].words;
  if (month === null) return;
  const line = lines[month];
  line.rows.forEach(row => document.querySelectorAll(`tr[data-row="${row}"]`).forEach(r => r.classList.add("read")));
  if (!line.table.length) return;
  const add = (row, tag, text) => { const c = document.createElement(tag); c.textContent = text; row.append(c); };
  const head = table.insertRow();
  for (const text of data.heads) add(head, "th", text);
  for (const [where, ...times] of line.table) {
    const row = table.insertRow();
    add(row, "th", where);
    // One reason is told once.
    for (const text of times.every(t => t === times[0]) ? times.slice(0, 1) : times) add(row, "td", text);
    if (row.cells.length < data.heads.length) row.cells[1].colSpan = data.heads.length - 1;
  }
}
buttons.forEach((b, i) => b.addEventListener("click", () => { month = month === i ? null : i; show(); }));
depth.addEventListener("change", show);
show();
