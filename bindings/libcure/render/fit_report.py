"""The report of a fit: one HTML page with everything inside it, and one PDF."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import matplotlib
import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from PIL import Image

from libcure import _core
from libcure.documents import output_path, replacing
from libcure.errors import one_line
from libcure.fitting.bootstrap import Bootstrap
from libcure.fitting.isoconversional import Isoconversional
from libcure.fitting.law_fit import LawFit, Profile
from libcure.fitting.laws import Parameter, number, span, worth
from libcure.fitting.model_free import ModelFree
from libcure.fitting.model_free.combined import CombinedAnalysis
from libcure.fitting.model_free.master import MasterPlots
from libcure.fitting.model_free.schemes import SchemeFit
from libcure.fitting.predictions import SHOWN, Prediction, time_shown
from libcure.fitting.run import Finding, Run
from libcure.fitting.statements import by_subject
from libcure.fitting.study import Study
from libcure.render import fit_figures as figures
from libcure.render import fit_pictures, html, plot
from libcure.render.pages import ACROSS, INK, Pages, size_of
from libcure.stopping import heed

__all__ = ["part", "tables", "write_report"]

RED = "#B00020"
MARGIN, POINTS = 14.0, 8.0
DPI, DPI_NARROW = 170, 150
COLOURS, WHITE = 256, 252
HEADING = 12.0  # mm, of a caption
LEAST = 0.7  # of a picture's usual height, at which it can still be read
SAID, NOTHING = "What the data say, and what they do not", "Nothing stood out."
NEAREST = 5  # standard models in the table
Table = tuple[str, list[str], list[list[str]]]


def _between(p: Parameter, profile: Profile, digits: int) -> str:
    """Interval of a profile, which may be open."""
    low, high = (number(p.outside(v), digits, zeros=True) for v in (profile.low, profile.high))
    if np.isinf(profile.low):
        return "open" if np.isinf(profile.high) else f"up to {high}"
    return f"from {low}, open" if np.isinf(profile.high) else f"{low} to {high}"


def constants(fit: LawFit, found: Sequence[Profile] = (), repeated: Bootstrap | None = None) -> Table:
    """Constants of a law with their intervals, by profile and bootstrap too where there are any."""
    profiles = {p.parameter: p for p in found}
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
        half = fit.heat_half_width
        rows.append(["heat of reaction", f"{fit.heat / 1e3:.1f} J/g",
                     f"{(fit.heat - half) / 1e3:.1f} to {(fit.heat + half) / 1e3:.1f}" if np.isfinite(half) else ""])
    name = f"Constants of {fit.law.label}; rate constants at {fit.T_ref - 273.15:g} °C"
    head = ["constant", "value", "95 % (standard error)"]
    if profiles:
        head.append("95 % (profile)")
    if repeated is not None:
        head.append(f"95 % (bootstrap of {len(repeated.x)})")
    return name, head, [row + [""] * (len(head) - len(row)) for row in rows]


def runs(found: Sequence[Run]) -> Table:
    """What each run holds."""
    return "Runs", ["run", "kind", "points", "heat [J/g]", "peak [°C]", "noise, of the peak"], [
        [run.id, run.programme, str(len(run.t)),
         f"{run.heat / 1e3:.1f}", f"{run.peak - 273.15:.1f}" if run.dynamic else "",
         f"{100 * run.noise / (np.max(run.rate) * (run.total_heat or run.heat)):.2f} %"] for run in found]


def energies(free: Isoconversional) -> Table:
    """Activation energies without a law."""
    rows = []
    for name, peak in free.by_peaks.items():
        low, high = (peak.E - peak.half_width) / 1e3, (peak.E + peak.half_width) / 1e3
        rows.append([name, f"{peak.E / 1e3:.2f}", f"{low:.2f} to {high:.2f}" if np.isfinite(low) else "not known from two peaks",
                     number(peak.A, 3), ""])
    for c in free.curves:
        rows.append([figures.NAMES[c.method], f"{c.mean / 1e3:.2f}", "", "", f"{100 * c.variation:.1f} %"])
    return "Without a law", ["method", "E [kJ/mol]", "95 % (Student's t)", "A [1/s]", "variation of E, α 0.1 to 0.9"], rows


def standard_models(plots: MasterPlots) -> Table:
    """The nearest standard models."""
    name = f"Master plots against standard models, E = {plots.E / 1e3:.1f} kJ/mol; y is greatest at α = {plots.y_top:.2f}"
    return name, ["model", "what it is of", "y, off by", "z, off by"], [
        [one.model.code, one.model.title, f"{100 * one.y:.0f} %", f"{100 * one.z:.0f} %"] for one in plots.nearest[:NEAREST]]


def combined(found: CombinedAnalysis) -> Table:
    """Constants of the combined kinetic analysis."""
    shown = {"E_kJ_mol": ("E", " kJ/mol"), "ln_cA_1_s": ("ln cA", " (1/s)"), "m": ("m", ""), "n": ("n", "")}
    name = f"Combined kinetic analysis, f = c αᵐ(1-α)ⁿ; points {100 * found.misfit:.1f} % of the rate off the line"
    return name, ["constant", "value", "95 % (jackknife over runs)"], [
        [shown[key][0], f"{factor * value:.3f}{shown[key][1]}", span(factor * (value - half), factor * (value + half))]
        for key, value, half, factor in found.rows]


def predicted(found: Sequence[Prediction]) -> Table:
    """Times to degrees of cure, side by side."""
    rows = [[one.programme.id, one.programme.shown + (", extrapolated" if one.extrapolated else ""), f"{alpha:g}", time_shown(one.free, alpha),
             time_shown(one.by_law, alpha)] for one in found for alpha in SHOWN]
    law = next((one.law for one in found if one.law), "")
    return "Times to a degree of cure [min], with 95 % intervals", ["id", "programme", "α", "without a law", f"by {law}" if law else ""], rows


def scheme(found: SchemeFit) -> Table:
    """Constants of a scheme."""
    name = (f"Scheme {found.name}; rate constants at {found.T_ref - 273.15:.0f} °C; rate, rms {100 * found.rms_rate:.2f} %, left out "
            f"{100 * found.rms_left_out:.2f} %{'' if found.writable else '; not in the format of model files'}")
    return name, ["constant", "value"], [[key.split("_")[0], number(value) + ("" if unit == "1" else f" {unit}")] for key, value, unit in found.constants]


def instrument(fit: LawFit) -> Table:
    """What the fit found of instrument and samples, with standard errors."""
    def cell(i: int, kind: str, factor: float, digits: int) -> str:
        found = next((one for one in fit.off[i] if one.kind == kind), None)
        return "" if found is None else f"{factor * found.value:+.{digits}f} ± {factor * found.error:.{digits}f}"

    errors = fit.lag_errors
    name = "Instrument and samples, as fitted, ± standard error"
    if len(fit.lags):
        name += f"; time constant {fit.lags[0]:.1f} ± {errors[0]:.1f} s, thermal lag {fit.lags[1]:.1f} ± {errors[1]:.1f} s"
    rows = [[run.id, cell(i, "mass", 100.0, 1), cell(i, "drift", 1e-3, 4), cell(i, "start", 1.0, 0)] for i, run in enumerate(fit.runs)]
    return name, ["run", "mass off [%]", "drift over the run [W/g]", "reacted before the record [s]"], [row for row in rows if any(row[1:])]


def laws(study: Study) -> Table:
    """The laws compared."""
    first = study.fits[0]
    return "Laws, the one that is written first; rms of rate over the peak", [
        "law", "constants", "ΔAICc", "ΔBIC", "weight", "rate, rms", "α, rms", "left out, rms", "starts that agree"], [
        [fit.law.label + (" (no model)" if fit.unfit else ""), str(len(fit.x)), f"{fit.aicc - first.aicc:.0f}",
         f"{fit.bic - min(f.bic for f in study.fits):.0f}", f"{fit.weight:.2f}" if np.isfinite(fit.weight) else "",
         f"{100 * fit.rms_rate:.2f} %" if study.runs else "", f"{fit.rms_alpha:.4f}" if study.runs else "",
         f"{100 * left:.2f} %" if np.isfinite(left := study.rms_left_out(fit)) else "", f"{fit.same_minimum} of {fit.starts}"]
        for fit in study.fits]


def tables(study: Study) -> list[Table]:
    """Name, heading and rows of each table of the report."""
    out: list[Table] = []
    if study.runs:
        out.append(runs(study.runs))
    free = study.isoconversional
    if free is not None and (free.curves or free.by_peaks):
        out.append(energies(free))
    out += without_law(study.model_free) if study.model_free is not None else []
    if study.predictions:
        out.append(predicted(study.predictions))
    if study.peaks:
        out.append(("Peaks given", ["heating rate [K/min]", "peak [°C]"],
                    [[f"{60 * p.heating_rate:.4g}", f"{p.temperature - 273.15:.1f}"] for p in study.peaks]))
    if not study.fits:
        return out
    first = study.fits[0]
    out.append(laws(study))
    out += [scheme(one) for one in study.schemes]
    if first.runs and (len(first.lags) or any(first.off)):
        out.append(instrument(first))
    out += [constants(fit, study.profiles, study.bootstrap) if fit is first else constants(fit) for fit in study.fits]
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


def without_law(free: ModelFree) -> list[Table]:
    """Standard models, and the combined analysis."""
    plots, found = free.plots, free.combined
    # With several steps no single f is met.
    single = free.verdict is None or free.verdict.said != "not single"
    return [*([standard_models(plots)] if plots is not None and single else []), *([combined(found)] if found is not None and single else [])]


def part(shown: Run | LawFit | Isoconversional | ModelFree | Study) -> str:
    """The piece of HTML of a notebook: a heading, tables, and what is said."""
    said: Sequence[Finding] = [] if isinstance(shown, LawFit | ModelFree) else shown.findings
    if isinstance(shown, Run):
        title, found = f"Run {shown.id}", [runs([shown])]
    elif isinstance(shown, LawFit):
        title, found = f"Law {shown.law.label}", [constants(shown)]
    elif isinstance(shown, Isoconversional):
        title, found = "Activation energy", [energies(shown)]
    elif isinstance(shown, ModelFree):
        title, found = shown.verdict.title if shown.verdict is not None else "Without a law", without_law(shown)
        said = [Finding("note", "steps", "", shown.verdict.reason)] if shown.verdict is not None else []
    else:
        title, found = shown.title, tables(shown)
    return html.filled("fit_part.html", title=title, tables=found, ink=INK, red=RED,
                       said=[(about, [(f.message, f.severity == "warning") for f in lines]) for about, lines in by_subject(said)])


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
    parts = [Part(list(_pictures(made(study, figures.WIDE), DPI)), [png for _, png in _pictures(made(study, figures.NARROW), DPI_NARROW)])
             for made in (fit_pictures.first, fit_pictures.rest)]
    with replacing(page) as first, replacing(pdf) as second:
        first.write_text(_html(study, parts), encoding="utf-8")
        _write_pdf(study, parts, second)
    return page, pdf


@dataclass(frozen=True)
class Part:
    """Pictures that stand together."""

    wide: list[tuple[str, bytes]]
    """With captions"""
    narrow: list[bytes]

    @property
    def in_page(self) -> list[tuple[str, str, str]]:
        return [(caption, html.picture(png), html.picture(small)) for (caption, png), small in zip(self.wide, self.narrow, strict=True)]


def _pictures(made: Iterator[tuple[str, Figure]], dpi: int) -> Iterator[tuple[str, bytes]]:
    """Captions and pictures of the report."""
    for caption, figure in made:
        heed()
        figure.dpi = dpi
        canvas = FigureCanvasAgg(figure)
        with matplotlib.rc_context(figures.STYLE):  # type: ignore[arg-type]
            canvas.draw()  # type: ignore[no-untyped-call]
        # A palette takes a third of the file, and of the time to pack it.
        pixels = np.asarray(canvas.buffer_rgba())[..., :3]  # type: ignore[no-untyped-call]
        picture = Image.fromarray(pixels).quantize(COLOURS, Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE)
        # Its white is grey by one in 255.
        picture.putpalette([255 if v > WHITE else v for v in picture.getpalette() or []])
        buffer = io.BytesIO()
        picture.save(buffer, "png")
        yield caption, buffer.getvalue()


def _html(study: Study, parts: Sequence[Part]) -> str:
    first, rest = parts
    return html.filled(
        "fit.html", study=study, version=_core.__version__, note=str(study.document.get("note", "")), said=_lines(study),
        tables=tables(study), method=METHOD if study.fits else "", heading=SAID, nothing=NOTHING, first=first.in_page, rest=rest.in_page,
        ink=INK, red=RED,
    )  # fmt: skip


def _write_pdf(study: Study, parts: Sequence[Part], path: Path) -> None:
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
        first, rest = parts
        for caption, png in first.wide:
            _placed(pages, caption, png)
        for name, head, rows in tables(study):
            pages.table(name, head, rows, 7.5)
        for caption, png in rest.wide:
            _placed(pages, caption, png)
        if study.fits:
            pages.room(26.0)
            pages.line("")
            pages.line(METHOD)
        pages.foot(f"libcure {_core.__version__}, fit: {one_line(study.title, 100)}")
        pages.save(path, one_line(study.title))


def _placed(pages: Pages, caption: str, png: bytes) -> None:
    """A picture under its caption where there is room for most of its height, else on a new page."""
    usual = size_of(png)[1] / DPI / figures.WIDE.across * pages.across
    wanted = min(usual, pages.height - 2.0 * pages.margin - HEADING)
    if pages.left - HEADING < LEAST * wanted:
        pages.turn()
    pages.heading(caption)
    pages.picture(png, min(wanted, pages.left))
