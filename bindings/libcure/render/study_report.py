"""The result of a study: a document, a page for the terminal, and a PDF whose first figure is the one that matters."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from libcure import _core
from libcure.errors import one_line
from libcure.render import plot
from libcure.render.lettering import FONT, wrapped
from libcure.render.pages import metadata
from libcure.sampling import weighted_quantile
from libcure.studying.model import MEASURED_SHARE
from libcure.studying.posterior import resins_of
from libcure.studying.study import Candidate, Check, Known, Study
from libcure.words.rounding import duration

__all__ = ["TOO_WIDE", "document", "page", "save_pdf", "verdict"]

TOO_WIDE = 4.0
"""A release whose 95 % side is as many times its 5 % side is not known from the measurements (choice of this project)."""
SHOWN_DRAWS = 200
ZERO = 273.15
CAUTION = "; ".join(["Before a job rests on this model, hold a film at the coldest wall and try it (hold_back)",
                     *map(_core.caution_in_short, ("mixed_mass", "criterion_is_assumed"))]) + "."


def _time(minutes: float) -> str:
    return "never" if math.isinf(minutes) else duration(minutes, up=True).partition(" (")[0]


def verdict(known: Known) -> str:
    """How well one release is known, in words."""
    if known.never >= 0.05:
        return f"NOT KNOWN from these measurements: {100.0 * known.never:.0f} of 100 sampled resins come to rest before"
    if known.width > TOO_WIDE:
        return f"NOT KNOWN from these measurements: {_time(known.p5)} to {_time(known.p95)}"
    return f"{_time(known.p5)} to {_time(known.p95)}, most likely {_time(known.p50)}"


def document(study: Study, nexts: Sequence[Candidate]) -> dict[str, Any]:
    """The result as ``libcure/study-result/1``; null is never."""
    p = study.posterior

    def number(x: float) -> float | None:
        return round(x, 3) if math.isfinite(x) else None

    releases = []
    for T in study.jobs_C:
        k = study.known(T)
        releases.append({"temperature_C": T, "release_min": {"p5": number(k.p5), "p50": number(k.p50), "p95": number(k.p95)},
                         "never_share": round(k.never, 4), "verdict": verdict(k)})  # fmt: skip
    return {
        "format": "libcure/study-result/1", "id": study.about["id"], "title": study.about["title"], "family": study.family.name,
        "releases": releases,
        "checks": [{"measurement": c.measurement, "component": c.component, "observed": c.observed, "expected_5": c.low, "expected_95": c.high,
                    "inside": c.inside, "held_back": c.held_back, "z": round(c.z, 2)} for c in study.checks],
        "next": [{"measurement": c.name, "spread_now": round(c.spread_now, 4), "spread_then": round(c.spread_then, 4)} for c in nexts],
        "quantities": [{"name": q.name, "title": q.title, "prior": q.words, "source": q.source, "spread_left": round(p.kept(q.name), 3),
                        "p5": weighted_quantile(p.quantities[q.name], p.weight, 0.05), "p50": weighted_quantile(p.quantities[q.name], p.weight, 0.5),
                        "p95": weighted_quantile(p.quantities[q.name], p.weight, 0.95)} for q in study.family.priors],
        "sampling": {"rows": int(p.weight.size), "effective_rows": round(p.effective, 1)},
    }  # fmt: skip


def page(study: Study, nexts: Sequence[Candidate]) -> Group:
    """For the terminal."""
    parts: list[RenderableType] = [Text(one_line(study.about["title"]), "bold"), Text()]
    releases = Table(box=None, padding=(0, 2, 0, 1), header_style="dim")
    releases.add_column("Film held at")
    releases.add_column("may be loaded after (9 resins in 10 that fit the measurements)")
    for T in study.jobs_C:
        words = verdict(study.known(T))
        releases.add_row(f"{T:g} °C", Text(words, "bold red" if words.startswith("NOT") else ""))
    parts += [releases, Text()]
    wrong = study.contradictions()
    for c in wrong:
        parts.append(Text(f"CONTRADICTS THE REST: {c.measurement}, {c.component}: {c.observed}, where {c.low} to {c.high} is expected.", "bold red"))
    held = [c for c in study.checks if c.held_back]
    for c in held:
        words = "inside" if c.inside else "OUTSIDE"
        parts.append(Text(f"Held back: {c.measurement}, {c.component}: {c.observed}, {words} of {c.low} to {c.high}.", "" if c.inside else "bold red"))
    if not wrong and not held:
        parts.append(Text("No measurement stands far off what the others say."))
    if nexts:
        best = nexts[0]
        parts += [Text(), Text(f"Measure next: {best.name}. It is expected to take {100.0 * best.gain:.0f} % off the spread.", "bold")]
        parts += [Text(f"  or {other.name}: {100.0 * other.gain:.0f} %", "dim") for other in nexts[1:4]]
    unknown = [q.title for q in study.family.priors if study.posterior.kept(q.name) > MEASURED_SHARE]
    parts += [Text(), Text(f"Hardly measured, so as wide as the family: {'; '.join(unknown)}.", "dim")]
    return Group(*parts, Text(), Text(CAUTION))


def save_pdf(study: Study, nexts: Sequence[Candidate], target: Path) -> None:
    """Writes the report: cure, Tg and release at the jobs' temperatures; then the rest. The same study gives the same bytes."""
    with plot.style(), PdfPages(target, metadata=metadata(f"Study: {study.about['title']}")) as pdf:
        pdf.savefig(_first(study))
        pdf.savefig(_second(study, nexts))


def _first(study: Study) -> Figure:
    figure = Figure(figsize=(11.7, 8.3))
    figure.suptitle(f"{study.about['title']}: films at the temperatures of the jobs", fontsize=12)
    axes = figure.subplots(2, len(study.jobs_C), sharex="col", sharey="row", squeeze=False)
    figure.subplots_adjust(left=0.07, right=0.985, top=0.86, bottom=0.12, wspace=0.08, hspace=0.1)
    said = "Blue: 5 to 95 % of likely resins. Grey: when the film may be loaded, 5 to 95 %. Dotted: Tg that it needs. Green: measured; red: held back."
    figure.text(0.07, 0.03, said, fontsize=8.5)
    u = study.posterior.rows.x[study.draws[:SHOWN_DRAWS], : study.family.dimensions]
    resins = resins_of(study.family, u)
    for column, T in enumerate(study.jobs_C):
        known = study.known(T)
        last = 3.0 * (known.p95 if math.isfinite(known.p95) else 2000.0)
        t = np.geomspace(5.0, min(max(last, 600.0), 20000.0), 80)
        alpha = np.array([r.isothermal(np.array([T + ZERO]), 60.0 * t, r.initial_degree_of_cure)[0] for r in resins])
        Tg = np.array([r.glass_transition(a) for r, a in zip(resins, alpha, strict=True)]) - ZERO
        for row, (values, unit) in enumerate(((alpha, "degree of cure"), (Tg, "Tg by calorimetry [°C]"))):
            ax: Axes = axes[row][column]
            low, middle, high = np.percentile(values, (5, 50, 95), axis=0)
            ax.fill_between(t / 60.0, low, high, color="#9db8d6", lw=0)
            ax.plot(t / 60.0, middle, color="#1b4f8a")
            ax.set_xscale("log")
            if column == 0:
                ax.set_ylabel(unit)
            _mark(ax, known)
        axes[1][column].axhline(T + 11.0, color="#66666a", lw=0.8, ls=":")
        words = f"{T:g} °C: {verdict(known)}".replace(": NOT KNOWN from these measurements: ", ": NOT KNOWN,\n")
        axes[0][column].set_title(words.replace(", most", ",\nmost"), fontsize=9)
        axes[1][column].set_xlabel("hours from mixing")
        axes[1][column].xaxis.set_major_formatter(lambda x, _: f"{x:g}")
        _data(study, axes, column, T)
    return figure


def _mark(ax: Axes, known: Known) -> None:
    high = known.p95 if math.isfinite(known.p95) else 20000.0
    if math.isfinite(known.p5):
        ax.axvspan(known.p5 / 60.0, high / 60.0, color="#d9d9d9", alpha=0.6, lw=0)


def _data(study: Study, axes: Any, column: int, T: float) -> None:
    """Measurements at that temperature."""
    for m in study.measurements:
        if abs(m.temperature_C - T) > 0.6:
            continue
        for c in m.components:
            if m.kind in ("film_gel", "releasable"):
                axes[0][column].axvline(math.exp(c.observed) / 60.0, color="#b3261e" if m.hold_back else "#1b6e3c", lw=1.2)
            elif m.kind == "Tg":
                axes[1][column].errorbar(m.cost_min / 60.0, c.observed - ZERO, yerr=1.64 * c.sd, fmt="o", color="#1b6e3c", ms=4)
            elif m.kind == "conversion":
                axes[0][column].errorbar(m.cost_min / 60.0, c.observed, yerr=1.64 * c.sd, fmt="o", color="#1b6e3c", ms=4)


def _second(study: Study, nexts: Sequence[Candidate]) -> Figure:
    """What was measured beside what is expected, what to measure next, and each quantity against its prior."""
    figure = Figure(figsize=(11.7, 8.3))
    left, right = figure.subplots(1, 2)
    figure.subplots_adjust(left=0.04, right=0.97, top=0.95, bottom=0.07, wspace=0.75)
    left.set_axis_off()
    lines = ["Measured (expected from all the others, 5 to 95 %)", ""]
    wrong = study.contradictions()

    def judged(c: Check) -> str:
        # One in ten lies outside by chance.
        return "  CONTRADICTS THE REST" if c in wrong else "  OUTSIDE" if c.held_back and not c.inside else ""

    lines += [f"{c.measurement}, {c.component}{' (held back)' if c.held_back else ''}: {c.observed}  ({c.low} to {c.high}){judged(c)}"
              for c in study.checks[:22]]  # fmt: skip
    lines += ["", "Film held at: may be loaded after (9 resins in 10 that fit the measurements)", ""]
    lines += [f"{T:g} °C: {verdict(study.known(T))}" for T in study.jobs_C]
    if nexts:
        lines += ["", "Measure next (what it is expected to take off the spread)", ""]
        lines += [f"{100.0 * n.gain:3.0f} %  {n.name}" for n in nexts[:6]]
    lines += ["", CAUTION]
    room = 25.4 * 11.7 * left.get_position().width
    shown = [part for line in lines for part in wrapped(line, room, 7.5)]
    left.text(0.0, 1.0, "\n".join(shown), va="top", fontsize=7.5, family=FONT, transform=left.transAxes, parse_math=False)
    priors = study.family.priors
    p = study.posterior
    for i in range(len(priors)):
        u = p.rows.x[:, i]
        low, middle, high = (weighted_quantile(u, p.weight, s) for s in (0.05, 0.5, 0.95))
        right.plot([-1.645, 1.645], [i, i], color="#d9d9d9", lw=6, solid_capstyle="butt")
        right.plot([low, high], [i, i], color="#1b4f8a", lw=2.5, solid_capstyle="butt")
        right.plot([middle], [i], "o", color="#1b4f8a", ms=4)
    right.set_yticks(range(len(priors)), [q.title for q in priors], fontsize=7)
    right.invert_yaxis()
    right.set_xlabel("standard deviations of the family\ngrey: before; blue: with the measurements")
    return figure
