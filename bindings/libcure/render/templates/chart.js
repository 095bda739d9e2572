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
  const rows = month === null ? [] : lines[month].rows;
  if (data.axis !== "rows" || !rows.length) return;
  const cells = row => [...document.querySelectorAll(`td[data-row="${row}"]`)];
  document.querySelectorAll(`tr[data-row="${rows[0]}"]`).forEach(r => r.classList.add("read"));
  const add = (row, tag, text) => { const c = document.createElement(tag); c.textContent = text; row.append(c); };
  const head = table.insertRow();
  for (const text of ["", "release"]) add(head, "th", text);
  cells(rows[0]).forEach((cell, i) => {
    const stop = rows.map(row => cells(row)[i]).find(c => c.classList.contains("stop"));
    const row = table.insertRow();
    add(row, "th", cell.dataset.column);
    add(row, "td", (stop || cell).dataset.release);
  });
}
buttons.forEach((b, i) => b.addEventListener("click", () => { month = month === i ? null : i; show(); }));
depth.addEventListener("change", show);
show();
