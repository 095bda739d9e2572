"""The chart on a screen: one HTML file that needs no network, and a piece of it for notebooks."""

from __future__ import annotations

import html as markup
import json
import math
from collections.abc import Iterator

from libcure import _core
from libcure.charting import words
from libcure.charting.result import DO_NOT_USE, Answer, ChartResult
from libcure.charting.sanity import checks_of
from libcure.errors import one_line
from libcure.render.chart_look import (
    BANDS,
    INK,
    SHORT_BACK,
    band_of,
    celsius_range,
    ground_axis,
    month_lines,
    second_label,
)
from libcure.sampling import PERCENTILES
from libcure.words.rounding import short_duration

__all__ = ["fragment", "html"]

DEPTHS_M = (0.5, 1.0, 1.5, 2.0, 3.0, 4.0)

_CROSS = (
    "repeating-linear-gradient(45deg,#777 0 1px,transparent 1px 6px),"
    "repeating-linear-gradient(-45deg,#777 0 1px,transparent 1px 6px),#fff"
)
_STRIPES = f"repeating-linear-gradient(-45deg,#8a5a30 0 1.5px,transparent 1.5px 7px),{SHORT_BACK}"

_STYLE = f"""
:root {{ color-scheme: light; }}
body {{ font: 15px/1.4 system-ui, sans-serif; color: {INK}; margin: 1.5rem auto; max-width: 98rem; padding: 0 1rem; }}
h1 {{ font-size: 1.35rem; margin: 0 0 .2rem; }}
h2 {{ font-size: 1.05rem; margin: 1.6rem 0 .4rem; }}
.badge {{ display: inline-block; border: 2px solid {INK}; padding: .1rem .5rem; font-weight: 700; margin: .3rem 0; }}
.panels {{ display: flex; flex-wrap: wrap; align-items: flex-start; gap: .9rem; }}
.plain td {{ padding: .1rem .6rem; vertical-align: middle; cursor: auto; white-space: nowrap; }}
table {{ border-collapse: collapse; }}
caption {{ font-weight: 700; padding: .3rem; }}
th, td {{ border: 1px solid #555; padding: 0; text-align: center; }}
th {{ font-weight: 500; padding: .15rem .35rem; white-space: nowrap; }}
th[scope=row] {{ text-align: right; font-weight: 700; }}
.corner {{ white-space: normal; max-width: 6rem; }}
th small {{ display: block; font-weight: 400; }}
td {{ position: relative; min-width: 5.4rem; white-space: nowrap; cursor: help; vertical-align: top; }}
td:focus {{ outline: 3px solid {INK}; }}
.w {{ background: #fff; font-size: .82rem; border-bottom: 1px solid #999; padding: .1rem .2rem; }}
.r {{ font-size: 1.1rem; font-weight: 700; padding: .2rem; }}
.short {{ font-weight: 700; background: {_STRIPES}; }}
.short span {{ background: {SHORT_BACK}; padding: 0 .15rem; }}
td.stop {{ background: {_CROSS}; font-weight: 700; font-size: .82rem; vertical-align: middle; }}
.stop span {{ display: block; width: fit-content; margin: .1rem auto; background: #fff; padding: 0 .15rem; }}
.stop .hot {{ background: {INK}; color: #fff; }}
.tip {{ display: none; position: absolute; z-index: 9; left: 50%; top: 100%; transform: translateX(-50%); width: 25rem;
  background: #fff; border: 2px solid {INK}; padding: .5rem .7rem; text-align: left; font-size: .82rem;
  white-space: normal; font-weight: 400;
  box-shadow: 0 3px 12px #0004; }}
td:last-child .tip {{ left: auto; right: 0; transform: none; }}
td:nth-child(2) .tip {{ left: 0; right: auto; transform: none; }}
td:hover .tip, td:focus .tip {{ display: block; }}
.tip table {{ width: 100%; margin: .3rem 0; }}
.tip th, .tip td {{ min-width: 0; border: 0; border-bottom: 1px solid #ccc; padding: .05rem .2rem; text-align: right;
  white-space: nowrap; }}
.tip th:first-child {{ text-align: left; }}
.key {{ display: flex; flex-wrap: wrap; gap: .3rem 1rem; margin: .6rem 0; font-size: .85rem; }}
.key i {{ display: inline-block; width: 1.8rem; height: 1rem; border: 1px solid #555; vertical-align: -.15rem;
  margin-right: .3rem; }}
.months {{ display: flex; flex-wrap: wrap; gap: .3rem; margin: .4rem 0; }}
.months button {{ font: inherit; padding: .25rem .6rem; border: 1px solid #555; background: #fff; cursor: pointer; }}
.months button[aria-pressed=true] {{ background: {INK}; color: #fff; }}
tr.read th[scope=row] {{ background: {INK}; color: #fff; }}
.bad {{ border: 2px solid #b3261e; padding: .4rem .7rem; }}
li {{ margin: .15rem 0; }}
footer {{ overflow-wrap: anywhere; margin-top: 1.5rem; border-top: 1px solid #999; padding-top: .4rem; font-size: .82rem; }}
@media (max-width: 640px) {{
  body {{ padding: 0 .4rem; margin: .6rem auto; }}
  .panels {{ overflow-x: auto; }}
  .panels > table {{ width: 100%; }}
  .panels th {{ white-space: normal; padding: .1rem .2rem; font-size: .78rem; }}
  .panels td {{ min-width: 4.2rem; }}
  .w, td.stop {{ font-size: .72rem; padding-left: 0; padding-right: 0; }}
  .stop .hot {{ white-space: normal; }}
  td .tip, td:last-child .tip, td:nth-child(2) .tip {{ position: fixed; top: auto; bottom: 0; left: 0; right: 0;
    width: auto; transform: none; }}
  .plain {{ display: block; overflow-x: auto; }}
  .plain th[scope=row] {{ white-space: normal; }}
}}
@media print {{ .tip, .by-month {{ display: none !important; }} body {{ font-size: 11px; max-width: none; }} }}
"""

_SCRIPT = """
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
"""


def _e(words: str) -> str:
    return markup.escape(one_line(words))


def _estimated(result: ChartResult) -> bool:
    return any(case.resin.estimated for case in result.chart.cases.values())


def html(result: ChartResult) -> str:
    """The whole page."""
    chart = result.chart
    badge = '<div class="badge">ESTIMATED MODEL: NO REAL JOBS</div>' if _estimated(result) else ""
    note = f"<p>{_e(chart.note)}</p>" if chart.note else ""
    months, script = _months(result)
    return (
        f'<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8"><title>{_e(chart.title)}</title>'
        f'<meta name="viewport" content="width=device-width"><style>{_STYLE}</style></head><body>'
        f"<h1>{_e(chart.title)}</h1>{badge}{note}"
        f"<p>{_e(words.HOW_TO_READ)} The working time is the 5 % low side, rounded down; the release the 95 % high side, "
        "rounded up; both with their sampling error. Point at a cell, or tap it, for its band and the point that decides.</p>"
        f"<p><b>{_e(words.made_for(chart))}</b></p><p>{_e(words.BETWEEN)}</p>"
        f"{_key(result)}{_violations(result)}{_tables(result)}{months}{_sensitivity(result)}"
        f"<h2>Cautions</h2>{_list(result.cautions)}<h2>What the numbers rest on</h2>{_list(result.assumptions)}"
        f"<h2>Checks</h2>{_list([check.text for check in checks_of(chart)])}"
        f"<footer>libcure {_core.__version__}, {result.date}, inputs {chart.inputs_hash}, "
        f"{chart.samples} samples a cell, seed {chart.seed}</footer>{script}</body></html>\n"
    )


def fragment(result: ChartResult) -> str:
    """The grid alone, for a notebook: styles in line, bands as tool tips of the browser."""
    style = "border:1px solid #555;padding:2px 6px;text-align:center"
    estimated = "ESTIMATED MODEL: NO REAL JOBS<br>" if _estimated(result) else ""
    parts = [
        f"<div><b>{_e(result.chart.title)}</b><br>{estimated}<small>work: 5 % low side; "
        f"release: 95 % high side, from mixing; {result.chart.samples} samples a cell</small>"
    ]
    for title, columns, rows in _panels(result):
        head = "".join(f'<th style="{style}">{_e(c)}</th>' for c in columns)
        body = []
        for label, _, answers in rows:
            tds = []
            for answer in answers:
                band = band_of(answer)
                tip = _e("; ".join(f"{name} {', '.join(values)}" for name, values in _bands(result, answer)))
                if band is None:
                    inside, back = f'<b style="background:#fff">{_e(answer.release_text)}</b>', _CROSS
                else:
                    work, back = _e(_work(answer)), band.color
                    inside = f"<small>{f'<b>{work}</b>' if answer.working_word else work}</small><br><b>{_e(answer.release_text)}</b>"
                tds.append(f'<td style="{style};background:{back};color:{INK}" title="{tip}">{inside}</td>')
            body.append(f'<tr><th style="{style}">{_e(label)}</th>{"".join(tds)}</tr>')
        parts.append(
            f'<table style="display:inline-table;border-collapse:collapse;margin:4px 8px 4px 0"><caption>{_e(title)}'
            f"</caption><tr><th></th>{head}</tr>{''.join(body)}</table>"
        )
    parts.append(
        f"<br><small>{len(result.violations)} violations of the monotone checks; most moves the release: "
        f"{_e(result.dominant or 'not asked')}</small></div>"
    )
    return "".join(parts)


def _list(lines: list[str]) -> str:
    return f"<ul>{''.join(f'<li>{_e(line)}</li>' for line in lines)}</ul>"


def _key(result: ChartResult) -> str:
    need = result.chart.need_min
    items = [(band.color, f"release {band.text}") for band in BANDS]
    items += [
        (
            _CROSS,
            f"{DO_NOT_USE}: no release in over 5 of 100 samples (NEVER, NOT IN …, NOT KNOWN), or gelled before the liner is held in "
            "over 5 of 100 (TOO LATE, SETS TOO SOON)",
        ),
        (
            INK,
            f"{DO_NOT_USE}: TOO HOT, the resin gets hotter than resin, bladder or pipe can bear; °C: 95 % high side",
        ),
    ]
    if need:
        items.insert(-2, (_STRIPES, f"SHORT: less than the {need:g} min that the crew needs"))
    return (
        '<div class="key">'
        + "".join(f'<span><i style="background:{c}"></i>{_e(t)}</span>' for c, t in items)
        + "</div>"
    )


def _violations(result: ChartResult) -> str:
    if not result.violations:
        return ""
    lines = _list([v.text for v in result.violations])
    return f'<div class="bad"><b>CHECK BEFORE USE: neighbouring cells contradict each other.</b>{lines}</div>'


def _panels(result: ChartResult) -> Iterator[tuple[str, list[str], list[tuple[str, str, list[Answer]]]]]:
    """Title, column heads, and rows (label, second label, answers) of each panel."""
    chart = result.chart
    rows = chart.axis(chart.rows)
    columns = chart.axis(chart.columns) if chart.columns is not None else None
    panels = chart.axis(chart.panels) if chart.panels is not None else None
    for p in range(len(panels.values) if panels is not None else 1):
        title = f"{panels.title}: {panels.labels[p]} {panels.unit}".strip() if panels is not None else ""
        heads = [f"{columns.title} {label} {columns.unit}".strip() for label in columns.labels] if columns else [""]
        body = []
        for r in range(len(rows.values)):
            place = {chart.panels: p, chart.rows: r}
            answers = [
                result.answers[tuple({**place, chart.columns: c}[axis.name] for axis in chart.axes)]
                for c in range(len(heads))
            ]
            body.append((f"{rows.labels[r]} {rows.unit}".strip(), second_label(rows, r, chart.climate), answers))
        yield title, heads, body


def _tables(result: ChartResult) -> str:
    corner = _e(result.chart.axis(result.chart.rows).title)
    tables = []
    for title, heads, rows in _panels(result):
        head = "".join(f'<th scope="col">{_e(h)}</th>' for h in heads)
        body = []
        for r, (label, second, answers) in enumerate(rows):
            small = f"<small>{_e(second)}</small>" if second else ""
            cells = "".join(_cell(result, a, r, f"{title} {h}") for a, h in zip(answers, heads, strict=True))
            body.append(f'<tr data-row="{r}"><th scope="row">{_e(label)}{small}</th>{cells}</tr>')
        tables.append(f"<table><caption>{_e(title)}</caption><tr><th class=corner>{corner}</th>{head}</tr>{''.join(body)}</table>")
    return f'<div class="panels">{"".join(tables)}</div>'


def _cell(result: ChartResult, answer: Answer, row: int, column: str) -> str:
    band = band_of(answer)
    if band is None:
        lines = "".join(
            f"<span{' class=hot' if word == answer.hot_word else ''}>{_e(word)}</span>" for word in (DO_NOT_USE, *answer.why_not)
        )
        back, inside = 'class="stop"', lines
    else:
        # The cell's own colour shows where a neighbour makes the row taller.
        back = f'style="background:{band.color}"'
        inside = (
            f'<div class="w{" short" if answer.working_word else ""}"><span>{_e(_work(answer))}</span></div>'
            f'<div class="r">{_e(answer.release_text)}</div>'
        )
    return (
        f'<td tabindex="0" {back} data-row="{row}" data-column="{_e(column.strip())}" '
        f'data-release="{_e(answer.release_text)}">{inside}{_tip(result, answer)}</td>'
    )


def _work(answer: Answer) -> str:
    return answer.working_text if answer.working_word else f"work {answer.working_text}"


def _bands(result: ChartResult, answer: Answer) -> Iterator[tuple[str, list[str]]]:
    """Rows of the tool tip: name and the three percentiles in words; no release of a cell that must not be used."""
    shown = [
        ("working time", "working_min", False),
        ("first gel", "gel_first_min", False),
        ("last gel", "gel_last_min", True),
        ("release criterion met", "criterion_met_min", True),
    ]
    for name, key, up in shown if answer.use else shown[:3]:
        yield name, [_minutes(float(v), up) for v in result.numbers[key][answer.index]]
    yield (
        "hottest resin",
        [
            f"{math.ceil(v)} °C" if math.isfinite(v) else "not known"
            for v in result.numbers["peak_temperature_C"][answer.index]
        ],
    )


def _minutes(value: float, up: bool) -> str:
    if not math.isfinite(value):
        return "never"
    return short_duration(math.ceil(value) if up else math.floor(value))


def _tip(result: ChartResult, answer: Answer) -> str:
    record = result.records[answer.index]
    head = "".join(f"<th>{p} %</th>" for p in PERCENTILES)
    rows = "".join(
        f"<tr><th>{_e(name)}</th>{''.join(f'<td>{_e(v)}</td>' for v in values)}</tr>"
        for name, values in _bands(result, answer)
    )
    lines = [] if answer.use else [answer.release_text]
    if record["working_point"]:
        lines.append(f"Working time is decided at the {record['working_point']}.")
    if record["release_point"] and answer.use:
        lines.append(f"Release is decided at the {record['release_point']}.")
    lost = {name: count for name, count in record["states"].items() if count and name != "reached"}
    if lost:
        words = {
            "not_in_hold": "not in the hold",
            "vitrified": "vitrified short of the criterion",
            "outside_model": "criterion met only where the model has no evidence",
            "failed": "failed",
            "gelled_before_held": "gelled before it was held",
            "no_held_stage": "no held stage",
        }
        parts = ", ".join(
            f"{words[name]} {100.0 * count / result.chart.samples:.1f} %" for name, count in lost.items()
        )
        lines.append(f"Samples without a release: {parts}.")
    if record["message"]:
        lines.append(record["message"])
    return (
        f'<div class="tip"><b>{_e(result.where(answer.index))}</b><table><tr><th></th>{head}</tr>{rows}</table>'
        f"{'<br>'.join(_e(line) for line in lines)}</div>"
    )


def _sensitivity(result: ChartResult) -> str:
    if not result.sensitivities:
        return ""
    names = list(dict.fromkeys(name for s in result.sensitivities for name in s.inputs))
    head = "".join(f'<th scope="col">{_e(result.where(s.index))}</th>' for s in result.sensitivities)
    lines: dict[str, list[str]] = {name: [] for name in names}
    for s in result.sensitivities:
        columns = (s.release[key] for key in ("first", "total", "total_error"))
        shares = dict(zip(s.inputs, zip(*columns, strict=True), strict=True))
        for name in names:
            lines[name].append(_shares(*shares.get(name, (None, None, None))))
    lines["variance of the"] = [s.release["measure"] for s in result.sensitivities]
    rows = "".join(
        f'<tr><th scope="row">{_e(name)}</th>{"".join(f"<td>{_e(words)}</td>" for words in cells)}</tr>'
        for name, cells in lines.items()
    )
    strongest = f"<p>Most moves the release time: <b>{_e(result.dominant)}</b>.</p>" if result.dominant else ""
    return (
        f"<h2>What moves the release time</h2>{strongest}"
        f'<table class="plain"><tr><th>Input</th>{head}</tr>{rows}</table>'
        "<p>Sobol' indices, first order / total: the share of the variance that an input accounts for alone, and "
        f"together with others, ± the standard error of the latter ({result.sensitivities[0].runs} runs a cell). Where "
        "some samples never release, the variance is that of the rank, else that of the logarithm of the time.</p>"
    )


def _shares(first: float | None, total: float | None, error: float | None) -> str:
    if first is None or total is None:
        return "-"
    # Adding zero turns -0.00 into 0.00.
    return f"{round(first, 2) + 0.0:.2f} / {round(total, 2) + 0.0:.2f} ± {error or 0.0:.2f}"


def _months(result: ChartResult) -> tuple[str, str]:
    """The view by month, and its script; empty without a ground axis or a climate."""
    axis, climate = ground_axis(result.chart), result.chart.climate
    if axis is None or climate is None:
        return "", ""
    depths = sorted({*DEPTHS_M, climate.depth_m})
    lines = {}
    for depth in depths:
        lines[f"{depth:g}"] = [
            {
                "ground": celsius_range(line.low_C, line.high_C),
                "rows": line.rows,
                "words": f"{line.month}: ground {celsius_range(line.low_C, line.high_C)} at {depth:g} m. "
                + (
                    f"Read the release at {axis.labels[line.rows[0]]} {axis.unit}."
                    if line.rows
                    else "The chart does not reach from a colder to a warmer value: no release."
                ),
            }
            for line in month_lines(result.chart, depth)
        ]
    data = json.dumps({"axis": "rows" if axis.name == result.chart.rows else "other", "lines": lines}).replace(
        "<", "\\u003c"
    )
    options = "".join(
        f'<option value="{d:g}"{" selected" if d == climate.depth_m else ""}>{d:g} m</option>' for d in depths
    )
    buttons = "".join(
        f'<button type="button">{line.month}<br><small></small></button>' for line in month_lines(result.chart)
    )
    view = (
        '<section class="by-month"><h2>By month</h2>'
        f"<p>Undisturbed ground: yearly mean {climate.annual_mean_C:.3g} °C, amplitude {climate.amplitude_K:.3g} K "
        f"at the surface, coldest on day {climate.day_of_minimum:.0f}, diffusivity {climate.diffusivity_mm2_s:.3g} mm²/s. "
        f'<label>Depth of the pipe: <select id="depth">{options}</select></label></p>'
        f"<p><b>{_e(words.BY_MONTH)}</b></p>"
        f'<div class="months">{buttons}</div><p id="month-words"></p>'
        '<table id="month-table" class="plain"></table></section>'
    )
    return view, f'<script type="application/json" id="months">{data}</script><script>{_SCRIPT}</script>'
