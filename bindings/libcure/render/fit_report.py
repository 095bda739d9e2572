"""The report of a fit: one HTML page with everything inside it, and one PDF."""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path

import matplotlib
import numpy as np

from libcure import _core
from libcure.documents import output_path, replacing
from libcure.errors import one_line
from libcure.fitting.engine import LawFit, Profile
from libcure.fitting.laws import Parameter, number, span, worth
from libcure.fitting.statements import by_subject
from libcure.fitting.study import Study
from libcure.render import fit_figures as figures
from libcure.render import html, plot
from libcure.render.pages import ACROSS, INK, Pages

__all__ = ["tables", "write_report"]

RED = "#B00020"
MARGIN, POINTS = 14.0, 8.0
SAID, NOTHING = "What the data say, and what they do not", "Nothing stood out."
Table = tuple[str, list[str], list[list[str]]]


def _between(p: Parameter, profile: Profile, digits: int) -> str:
    """Interval of a profile, which may be open."""
    low, high = (number(p.outside(v), digits, zeros=True) for v in (profile.low, profile.high))
    if np.isinf(profile.low):
        return "open" if np.isinf(profile.high) else f"up to {high}"
    return f"from {low}, open" if np.isinf(profile.high) else f"{low} to {high}"


def _constants(fit: LawFit, study: Study) -> Table:
    profiles = {p.parameter: p for p in study.profiles} if fit is study.best else {}
    repeated = study.bootstrap if fit is study.best else None
    rows = []
    for k, i in enumerate(fit.law.free):
        p = fit.law.parameters[i]
        low, high = fit.interval(k)
        value = p.outside(float(fit.x[k]))
        digits = worth(value, low, high)
        row = [p.shown, p.text(value, digits, zeros=True), span(low, high, digits, zeros=True)]
        if k in profiles:
            row.append(_between(p, profiles[k], digits))
        if repeated is not None:
            begin, end = repeated.interval(k)
            row.append(span(p.outside(begin), p.outside(end), digits, zeros=True))
        rows.append(row)
    rows += [[p.shown, p.text(fit.law.fixed[p.key], 5), "held"] for p in fit.law.parameters if p.key in fit.law.fixed]
    if np.isfinite(fit.heat):
        half = 1.96 * fit.heat_error
        rows.append(["heat of reaction", f"{fit.heat / 1e3:.1f} J/g",
                     f"{(fit.heat - half) / 1e3:.1f} to {(fit.heat + half) / 1e3:.1f}" if np.isfinite(half) else ""])
    name = f"Constants of {fit.law.label}; rate constants at {fit.T_ref - 273.15:g} °C"
    head = ["constant", "value", "95 % (standard error)"]
    if profiles:
        head.append("95 % (profile)")
    if repeated is not None:
        head.append(f"95 % (bootstrap of {len(repeated.x)})")
    return name, head, [row + [""] * (len(head) - len(row)) for row in rows]


def tables(study: Study) -> list[Table]:
    """Name, heading and rows of each table of the report."""
    out: list[Table] = []
    if study.runs:
        out.append(("Runs", ["run", "kind", "points", "heat [J/g]", "peak [°C]", "noise, of the peak"], [
            [run.id, f"{60 * run.heating_rate:g} K/min" if run.dynamic else "isothermal", str(len(run.t)),
             f"{run.heat / 1e3:.1f}", f"{run.peak - 273.15:.1f}" if run.dynamic else "",
             f"{100 * run.noise / (np.max(run.rate) * (run.total_heat or run.heat)):.2f} %"] for run in study.runs]))
    free = study.isoconversional
    if free is not None and (free.curves or free.kissinger):
        rows = []
        for name, peak in (("Kissinger", free.kissinger), ("ASTM E698", free.e698)):
            if peak is not None:
                rows.append([name, f"{peak.E / 1e3:.2f} ± {peak.half_width / 1e3:.2f}", number(peak.A, 3), ""])
        for c in free.curves:
            rows.append([figures.NAMES[c.method], f"{c.mean / 1e3:.2f}", "", f"{100 * c.variation:.1f} %"])
        out.append(("Without a law", ["method", "E [kJ/mol]", "A [1/s]", "variation of E, α 0.1 to 0.9"], rows))
    first = study.fits[0]
    out.append(("Laws, best first; rms of rate over the peak", [
        "law", "constants", "ΔAICc", "ΔBIC", "rate, rms", "α, rms", "left out, rms", "starts that agree"], [
        [fit.law.label + (" (no model)" if fit.unfit else ""), str(len(fit.x)), f"{fit.aicc - first.aicc:.0f}",
         f"{fit.bic - min(f.bic for f in study.fits):.0f}",
         f"{100 * fit.rms_rate:.2f} %" if study.runs else "", f"{fit.rms_alpha:.4f}" if study.runs else "",
         _left_out(study, fit), f"{fit.same_minimum} of {fit.starts}"] for fit in study.fits]))
    out += [_constants(fit, study) for fit in study.fits]
    best = study.left_out.get(first.law.label, [])
    if best:
        out.append((f"Runs left out in turn and predicted, {first.law.label}",
                    ["run", "rate, rms of peak", "α, rms", "over its misfit when fitted"],
                    [[h.run, f"{100 * h.rms_rate:.2f} %", f"{h.rms_alpha:.4f}", f"{h.ratio:.2f}"] for h in best]))
    if study.gel_times:
        out.append(("Gel times", ["test", "observed [min]", *[fit.law.label for fit in study.fits]], [
            [cup.id, f"{cup.gel_time / 60:.1f}", *[f"{cup.gel_time / 60 * fit.gel_times[i]:.1f}" for fit in study.fits]]
            for i, cup in enumerate(study.gel_times)]))
    return out


def _left_out(study: Study, fit: LawFit) -> str:
    found = [h.rms_rate for h in study.left_out.get(fit.law.label, []) if np.isfinite(h.rms_rate)]
    return f"{100 * float(np.sqrt(np.mean(np.square(found)))):.2f} %" if found else ""


METHOD = (
    "Residuals are on rate (over each run's peak) and degree of cure, all runs at once; law and data go through the same "
    "baseline and normalisation. Each run counts as ten values known to 2 % of its peak, each gel time as one. Intervals "
    "by standard error are from a sandwich covariance: the white noise of the heat flow, carried through baseline, "
    "normalisation and integration, and widened where residuals are autocorrelated; isothermal runs that count on the ramps' heat "
    "also carry the ramps' noise, and the scatter of their heats beyond it as mass errors. A profile holds one constant and "
    "fits the others again; a bootstrap fits records whose residuals were dealt out anew. AICc and BIC count the points of rate and "
    "the gel times; where residuals are autocorrelated they overstate differences, so look at the left-out runs too."
)


def _lines(study: Study) -> list[tuple[str, list[tuple[str, bool]]]]:
    """Statements by what they are about, each with whether it is a warning."""
    return [(about, [(f.message, f.severity == "warning") for f in found]) for about, found in by_subject(study.findings)]


def write_report(study: Study, folder: Path, name: str = "report") -> tuple[Path, Path]:
    """Writes ``report.html`` and ``report.pdf``; each whole or not at all.

    Raises:
        CureError: they cannot be written.
    """
    page = output_path(folder / f"{name}.html", "--out", (".html",))
    pdf = output_path(folder / f"{name}.pdf", "--out", (".pdf",))
    pictures = []
    for caption, figure in figures.pages(study):
        buffer = io.BytesIO()
        with matplotlib.rc_context(figures.STYLE):  # type: ignore[arg-type]
            figure.savefig(buffer, format="png", dpi=170, metadata={"Software": None})
        pictures.append((caption, buffer.getvalue()))
    with replacing(page) as first, replacing(pdf) as second:
        first.write_text(_html(study, pictures), encoding="utf-8")
        _write_pdf(study, pictures, second)
    return page, pdf


def _html(study: Study, pictures: Sequence[tuple[str, bytes]]) -> str:
    return html.filled(
        "fit.html", study=study, version=_core.__version__, note=str(study.document.get("note", "")), said=_lines(study),
        tables=tables(study), method=METHOD, heading=SAID, nothing=NOTHING,
        pictures=[(caption, html.picture(png)) for caption, png in pictures], ink=INK, red=RED,
    )  # fmt: skip


def _write_pdf(study: Study, pictures: Sequence[tuple[str, bytes]], path: Path) -> None:
    with plot.style():
        pages = Pages(ACROSS, MARGIN, POINTS)
        pages.line(study.title, 15.0, bold=True, gap=2.0)
        pages.line(f"libcure {_core.__version__}, fit. {study.document.get('note', '')}")
        pages.heading(SAID)
        for about, lines in _lines(study):
            pages.line(about, bold=True)
            for line, bad in lines:
                pages.line(line, color=RED if bad else INK, bullet="-")
        if not study.findings:
            pages.line(NOTHING)
        for name, head, rows in tables(study):
            pages.table(name, head, rows, 7.5)
        pages.room(26.0)
        pages.line("")
        pages.line(METHOD)
        for caption, png in pictures:
            pages.turn()
            pages.heading(caption)
            pages.picture(png, pages.left)
        pages.foot(f"libcure {_core.__version__}, fit: {one_line(study.title, 100)}")
        pages.save(path, one_line(study.title))
