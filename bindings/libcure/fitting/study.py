"""A whole fit from a document ``libcure/fit/1``: runs, activation energies, laws, comparison, model file."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from threading import Event
from typing import TYPE_CHECKING, Any

import numpy as np

from libcure import documents, rendering
from libcure.documents import Folders
from libcure.documents.frames import WithFrames
from libcure.errors import CureError, input_error
from libcure.fitting.bootstrap import Bootstrap, bootstrap
from libcure.fitting.checks import compare_heats
from libcure.fitting.engine import fit_law
from libcure.fitting.faults import fault_findings
from libcure.fitting.instrument import Instrument
from libcure.fitting.isoconversional import Isoconversional, Peak, isoconversional_analysis
from libcure.fitting.law_fit import GelTime, HeldOut, LawFit, Options, Profile
from libcure.fitting.laws import FitLaw
from libcure.fitting.left_out import hold_out, predict_run
from libcure.fitting.model_free import Forecast, ModelFree, Programme, Verdict, analyse_without_law
from libcure.fitting.model_free.analysis import LEAST_RUNS
from libcure.fitting.model_free.schemes import SchemeFit, fit_scheme
from libcure.fitting.predictions import Prediction, findings_of, predict_cure, programmes, usual_programmes
from libcure.fitting.profiles import profile
from libcure.fitting.record import read_csv
from libcure.fitting.records import analyse, celsius, file_beside
from libcure.fitting.run import Finding, Run
from libcure.fitting.selection import Choice, choose, compare
from libcure.fitting.statements import identifiability
from libcure.fitting.steps import step_findings
from libcure.models import read_resin, resin_path
from libcure.stopping import in_threads, stopping

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

__all__ = ["Study", "load", "run"]

ZERO_CELSIUS = 273.15


@dataclass
class Study(WithFrames):
    """A fit document and, once run, all that came of it."""

    document: dict[str, Any]
    file: str
    runs: list[Run]
    gel_times: list[GelTime]
    laws: list[FitLaw]
    options: Options
    T_ref: float | None
    held_out: str | None
    peaks: list[Peak] = field(default_factory=list)
    """Of further ramps, without a record"""
    findings: list[Finding] = field(default_factory=list)
    isoconversional: Isoconversional | None = None
    fits: list[LawFit] = field(default_factory=list)
    """The one that is written first; those that cannot be a model last"""
    failures: dict[str, str] = field(default_factory=dict)
    """By law: why it could not be fitted"""
    left_out: dict[str, list[HeldOut]] = field(default_factory=dict)
    """By law"""
    profiles: list[Profile] = field(default_factory=list)
    """Of the best law"""
    bootstrap: Bootstrap | None = None
    """Of the best law, when asked for"""
    choice: Choice | None = None
    """Which law is written, and why"""
    model_free: ModelFree | None = None
    """What three runs or more say without a law"""
    programmes: list[Programme] = field(default_factory=list)
    """To foretell the cure for; those that are usual where the document asks for none"""
    predictions: list[Prediction] = field(default_factory=list)
    schemes: list[SchemeFit] = field(default_factory=list)
    """Of several steps, fitted where the document asks for them"""
    models: tuple[Path, ...] = ()
    """Folders of models of one's own, in which ids are looked up too"""

    @property
    def best(self) -> LawFit:
        """The law that is written: what the user asked for, or what the comparison prefers.

        Raises:
            CureError: nothing has been fitted.
        """
        if not self.fits:
            raise input_error("laws", "none could be fitted", "a law that the data allow", self.file)
        return self.fits[0]

    @property
    def title(self) -> str:
        return str(self.document["title"])

    @property
    def described(self) -> str:
        """What was fitted, in a few words."""
        ramps = sum(r.dynamic for r in self.runs)
        parts = [(ramps, "ramp"), (len(self.runs) - ramps, "isothermal run"), (len(self.peaks), "peak"), (len(self.gel_times), "gel time")]
        return ", ".join(f"{n} {word}{'s' * (n != 1)}" for n, word in parts if n)

    def rms_left_out(self, fit: LawFit) -> float:
        """Root mean square over the runs that were left out and predicted, of the rate over the peak; NaN without any."""
        found = [h.rms_rate for h in self.left_out.get(fit.law.label, []) if np.isfinite(h.rms_rate)]
        return float(np.sqrt(np.mean(np.square(found)))) if found else np.nan

    def to_dataframe(self) -> pd.DataFrame:
        """The laws compared, best first."""
        import pandas as pd

        rows = [(fit.law.label, len(fit.x), fit.aicc - self.best.aicc, fit.bic - min(f.bic for f in self.fits), fit.rms_rate, fit.rms_alpha,
                 self.rms_left_out(fit), fit.unfit) for fit in self.fits]
        return pd.DataFrame(rows, columns=["law", "constants", "delta_aicc", "delta_bic", "rms_rate", "rms_alpha", "rms_left_out", "no_model"])

    def predictions_frame(self) -> pd.DataFrame:
        """Times to degrees of cure by programme [min] with 95 % intervals, without a law and by the one that is written; NaN where not known."""
        import pandas as pd

        none = Forecast(Programme("", np.zeros(1), np.zeros(1)), np.empty(0), np.empty(0), np.empty(0), np.empty(0))
        rows = [(one.programme.id, alpha, *(v / 60.0 for v in one.free.at(alpha)), *(v / 60.0 for v in (one.by_law or none).at(alpha)))
                for one in self.predictions for alpha in map(float, one.free.alpha)]
        return pd.DataFrame(rows, columns=["programme", "alpha", "time_min", "low_min", "high_min", "law_min", "law_low_min", "law_high_min"])

    def plot(self, path: str | os.PathLike[str] | None = None) -> Figure:
        """Data over the fit of the best law; before it is run the records, and with peaks alone their lines.

        Raises:
            CureError: gel times alone, of which there is no such picture; or a path that cannot be written.
        """
        if not self.runs and self.isoconversional is None:
            raise input_error("plot", "a study of gel times alone, or of peaks that was not run", "a study with runs", self.file)
        return rendering.draw_to(self, path)

    def __repr__(self) -> str:
        said = f"best {self.best.law.label}" if self.fits else "no law" if self.isoconversional is not None else "not run"
        return f"<Study {self.title!r}: {self.described}; {said}>"

    def _repr_html_(self) -> str:
        return rendering.html(self)


def load(path: str | os.PathLike[str], *, models: Folders = None) -> Study:
    """Reads a fit document and its runs, and checks both.

    Args:
        path: the document.
        models: folders of models of one's own, in which ids are looked up too; the study keeps them.

    Raises:
        CureError: with field, value, what is allowed and file.
    """
    file = Path(path)
    return from_document(documents.read_object(file), file.parent, str(file), models=models)


def from_document(document: dict[str, Any], beside: Path, file: str = "", *, models: Folders = None) -> Study:
    """The same from a parsed document; files are named relative to ``beside``."""
    with documents.with_models(models):
        return _read(document, beside, file)


def _read(document: dict[str, Any], beside: Path, file: str) -> Study:
    given = document
    document = documents.filled("fit", given, file)
    _enough(document, file)
    for name in ("runs", "gel_times"):
        ids = [entry["id"] for entry in document.get(name, [])]
        for i, one in enumerate(ids):
            if one in ids[:i]:
                raise input_error(f"{name}[{i}].id", f'"{one}"', "each id once", file)
    option = document["options"]
    T_ref = option.get("reference_temperature_C")
    held_out = option.get("held_out")
    entries = document.get("runs", [])
    if held_out is not None and held_out not in [entry["id"] for entry in entries]:
        raise input_error("options.held_out", f'"{held_out}"', "the id of a run", file)
    laws = _read_laws(document, file) if "laws" in document else []
    runs = _read_runs(entries, beside, file)
    cups = [_gel_time(entry) for entry in document.get("gel_times", [])]
    options = Options(option["starts"], option["seed"], option["loss"], option["loss_scale"], option.get("bootstrap", 0),
                      instrument=_instrument(document.get("instrument", {})))
    asked = document.get("model", {}).get("law")
    writable = [law.label for law in laws] + [name for name in document.get("schemes", []) if name != "sequential"]
    if asked is not None and asked not in writable:
        raise input_error("model.law", f'"{asked}"', f"one of {', '.join(writable)}" + (
            "; model files hold no reactions in series" if asked == "sequential" else ""), file)
    if len(runs) < LEAST_RUNS and ("schemes" in document or "predictions" in document):
        raise input_error("schemes" if "schemes" in document else "predictions", f"given with {len(runs)} runs", f"{LEAST_RUNS} runs or more", file)
    study = Study(given, file, runs, cups, laws, options, None if T_ref is None else T_ref + ZERO_CELSIUS, held_out,
                  [Peak(p["heating_rate_K_min"] / 60.0, p["temperature_C"] + ZERO_CELSIUS) for p in document.get("peaks", [])],
                  programmes=programmes(document.get("predictions", []), file), models=documents.own_folders())
    for run_ in runs:
        study.findings += run_.findings
    study.findings += compare_heats(runs) + step_findings(runs)
    return study


def _enough(document: Mapping[str, Any], file: str) -> None:
    """Refuses a document that lacks what its data are for, in better words than the schema has.

    Raises:
        CureError: no data, or laws and model missing, or given where only peaks are.
    """
    fitted = "runs" in document or "gel_times" in document
    if not fitted and "peaks" not in document:
        raise input_error("runs", "missing", "runs, gel_times or peaks", file)
    for key in ("laws", "model"):
        if fitted and key not in document:
            raise input_error(key, "missing", "the laws to fit" if key == "laws" else "what the model file is to be called", file)
        if not fitted and key in document:
            raise input_error(key, "given with peaks alone", "laws and model only with runs or gel_times: peaks give an activation "
                              "energy, and no law", file)


def _read_laws(document: Mapping[str, Any], file: str) -> list[FitLaw]:
    """The laws to try, each once."""
    base = resin_path(document["model"]["properties_from"])
    laws: list[FitLaw] = []
    for i, entry in enumerate(document["laws"]):
        try:
            law = FitLaw(entry["law"], entry.get("diffusion", False), entry.get("inhibitor", False),
                         entry.get("initial_cure"), entry.get("fixed", {}), entry.get("ether", False),
                         _glass_transition(base) if entry.get("diffusion") == "rabinowitch" else None)
        except CureError as error:
            raise input_error(f"laws[{i}].{error.field}", error.value, error.allowed, file) from None
        if law.label in [other.label for other in laws]:
            raise input_error(f"laws[{i}]", f'"{law.label}"', "each law once", file)
        laws.append(law)
    return laws


def _glass_transition(path: Path) -> tuple[float, float, float]:
    """Tg0, Tg_inf [K] and lambda of a resin model."""
    uncured, half, cured = (float(v) for v in read_resin(path).glass_transition([0.0, 0.5, 1.0]))
    # DiBenedetto's equation at one half, solved for lambda.
    share = (half - uncured) / (cured - uncured)
    return uncured, cured, share / (1.0 - share)


def _read_runs(entries: Sequence[Mapping[str, Any]], beside: Path, file: str) -> list[Run]:
    """The runs of a document. Ramps first: isothermal runs count on their heat, and so do ramps whose record lacks a part."""
    runs: dict[str, Run] = {}
    cut: dict[str, CureError] = {}
    for i, entry in enumerate(entries):
        if "isothermal_C" in entry:
            continue
        if {"residual_heat_J_g", "begin_min", "end_min"} & set(entry):
            raise input_error(f"runs[{i}]", "residual_heat_J_g, begin_min or end_min of a ramp",
                              "these only for isothermal runs", file)
        try:
            runs[entry["id"]] = _read_run(entry, i, beside, file)
        except CureError as error:
            if not str(error.value).startswith("no straight signal") or "baseline" in entry:
                raise
            cut[entry["id"]] = error
    heat = float(np.median([r.heat for r in runs.values()])) if runs else None
    for i, entry in enumerate(entries):
        if entry["id"] in runs:
            continue
        if entry["id"] in cut and heat is None:
            raise cut[entry["id"]]
        if "isothermal_C" in entry and heat is None and "residual_heat_J_g" not in entry:
            raise input_error(f"runs[{i}].residual_heat_J_g", "missing",
                              "the heat left after the isothermal run, or a ramp among the runs", file)
        on_ramps = "residual_heat_J_g" not in entry
        runs[entry["id"]] = _read_run(entry, i, beside, file, heat if on_ramps else None, entry["id"] in cut)
        runs[entry["id"]].on_ramps = on_ramps
    return [runs[entry["id"]] for entry in entries]


def _read_run(entry: Mapping[str, Any], i: int, beside: Path, file: str, total: float | None = None, truncated: bool = False) -> Run:
    """One of them; ``total``: the heat that it counts on [J/kg]."""
    windows = _windows(entry, f"runs[{i}]", file)
    return analyse(
        read_csv(file_beside(entry["file"], beside), entry.get("columns")), entry["id"],
        mass_kg=entry["mass_mg"] * 1e-6 if "mass_mg" in entry else None,
        exotherm_up=entry["exotherm"] == "up",
        heating_rate=entry["heating_rate_K_min"] / 60.0 if "heating_rate_K_min" in entry else None,
        isothermal=entry["isothermal_C"] + ZERO_CELSIUS if "isothermal_C" in entry else None,
        baseline=entry.get("baseline", {}).get("kind"), left=windows.get("left"), right=windows.get("right"),
        begin=entry["begin_min"] * 60.0 if "begin_min" in entry else None,
        end=entry["end_min"] * 60.0 if "end_min" in entry else None,
        total_heat=total, residual_heat=entry["residual_heat_J_g"] * 1e3 if "residual_heat_J_g" in entry else None,
        truncated=truncated,
    )


def _windows(entry: Mapping[str, Any], where: str, file: str) -> dict[str, tuple[float, float]]:
    """Windows [K] that an entry states, by side.

    Raises:
        CureError: descending, or of an isothermal run, whose baseline goes by time.
    """
    found: dict[str, tuple[float, float]] = {}
    for side in ("left", "right"):
        key = f"{side}_C"
        if key not in entry.get("baseline", {}):
            continue
        low, high = entry["baseline"][key]
        if "isothermal_C" in entry:
            raise input_error(f"{where}", f"baseline.{key} of an isothermal run",
                              "begin_min and end_min there; left_C and right_C are for ramps", file)
        if not low < high:
            raise input_error(f"{where}.baseline.{key}", f"[{low}, {high}]", "ascending", file)
        found[side] = celsius((low, high))
    return found


def _instrument(entry: Mapping[str, Any]) -> Instrument:
    usual = Instrument()
    # Who states a lag knows it to a second, unless he says more.
    stated = {name: 1.0 if f"{name}_s" in entry else getattr(usual, f"{name}_error") for name in ("time_constant", "thermal_lag")}
    return Instrument(
        entry.get("time_constant_s", usual.time_constant), entry.get("time_constant_error_s", stated["time_constant"]),
        entry.get("thermal_lag_s", usual.thermal_lag), entry.get("thermal_lag_error_s", stated["thermal_lag"]),
        entry.get("drift_W_g", usual.drift / 1e3) * 1e3, entry.get("lost_start_s", usual.start),
        entry.get("mass_error", usual.mass), entry.get("baseline_error", usual.baseline),
        entry.get("capacity_step_J_gK", usual.step / 1e3) * 1e3,
    )


def _gel_time(entry: Mapping[str, Any]) -> GelTime:
    ambient = entry["ambient_C"] + ZERO_CELSIUS
    loss, rise = np.inf, 0.0
    if "mass_g" in entry:
        capacity = entry["mass_g"] * entry["specific_heat_J_gK"]  # J/K
        loss = entry["h_W_m2K"] * entry["surface_area_cm2"] * 1e-4 / capacity
        rise = entry["heat_of_reaction_J_g"] / entry["specific_heat_J_gK"]
    return GelTime(entry["id"], entry["gel_time_min"] * 60.0, ambient,
                   entry.get("mix_temperature_C", entry["ambient_C"]) + ZERO_CELSIUS, loss, rise, entry["alpha_gel"],
                   entry["relative_error"])


def run(study: Study, progress: Callable[[str, int, int], None] | None = None, *, stop: Event | None = None) -> Study:
    """Activation energies, all laws, comparison, held-out runs, profiles, statements; fills the study.

    Args:
        progress: told (what, done, of how many).
        stop: ends the call once another thread sets it; Ctrl-C does so with KeyboardInterrupt. The study is then filled in part.

    Raises:
        CureError: no law could be fitted, or ``stop`` was set.
    """
    with stopping(stop), documents.own_models(*study.models):
        _run(study, progress or (lambda what, done, total: None))
    return study


def _run(study: Study, tell: Callable[[str, int, int], None]) -> None:
    if study.runs or study.peaks:
        good = _without_faults(study)
        study.isoconversional = isoconversional_analysis(good, study.peaks)
        study.findings += study.isoconversional.findings
        study.model_free = analyse_without_law(good, study.options.instrument)
        if study.model_free is not None and study.model_free.verdict is not None:
            study.findings.append(_said(study.model_free.verdict))
    if not study.laws:
        if study.isoconversional is None or study.isoconversional.kissinger is None:
            raise input_error("peaks", "; ".join(f.message for f in study.findings), "peaks at two or more heating rates that rise with them",
                              study.file)
        return
    _fit_laws(study, tell)
    compare(study.fits)
    study.findings += [Finding("warning", "no_model", f"law {fit.law.label}", f"not written as a model: {fit.unfit}. "
                               "Hold such a constant (fixed), use a simpler law, or measure what tells it.")
                       for fit in study.fits if fit.unfit]
    for i, fit in enumerate(study.fits):
        tell("leaving runs out", i, len(study.fits))
        study.left_out[fit.law.label] = _predict_left_out(study, fit)
    tell("leaving runs out", len(study.fits), len(study.fits))
    _choose(study)
    best = study.best
    for i, one in enumerate(in_threads(lambda k: profile(best, k, study.gel_times, study.options), range(len(best.x)), study.options.threads)):
        study.profiles.append(one)
        tell("profiles", i + 1, len(best.x))
    if study.options.bootstrap:
        asked, over = study.options.bootstrap, [0]

        def again() -> None:
            over[0] += 1
            tell("bootstrap", min(over[0], asked), asked)

        study.bootstrap = bootstrap(best, study.gel_times, study.options, asked, again)
    if study.model_free is not None:
        study.predictions = predict_cure(study.model_free, study.runs, study.programmes or usual_programmes(study.runs),
                                         None if best.unfit else best, study.document["model"])
        study.findings += findings_of(study.predictions, study.model_free, study.runs)
    _fit_schemes(study, tell)
    study.findings += fault_findings(best)
    study.findings += identifiability(best, study.profiles, study.left_out[best.law.label], study.gel_times,
                                      study.runs, study.fits, study.bootstrap, study.model_free, _tg_of_properties(study))


def _fit_schemes(study: Study, tell: Callable[[str, int, int], None]) -> None:
    """Fits the schemes that the document asks for, and says how they predict beside the law."""
    names = study.document.get("schemes", [])
    E = study.isoconversional.E if study.isoconversional is not None else None
    best, asked = study.rms_left_out(study.best), study.document.get("model", {}).get("law")
    # Counted on the heat that the law completes, and nothing else of the law.
    good = [replace(run, law_rate=None, lost=0.0) for run in study.best.runs if not run.truncated]
    for i, name in enumerate(names):
        tell("schemes", i, len(names))
        study.schemes.append(found := fit_scheme(name, good, E or 60e3, study.options.instrument))
        fate = ("The format of model files holds no reactions in series, so it is not written" if not found.writable else
                "It is written as the document asks" if asked == name else f'It is written where model.law is "{name}"')
        study.findings.append(Finding("note", "scheme", f"scheme {name}", f"misses the runs by {100 * found.rms_rate:.2f} % of the peak rate, and "
                                      f"left out by {100 * found.rms_left_out:.2f} %; {study.best.law.label} by {100 * best:.2f} %. {fate}."))
    tell("schemes", len(names), len(names))


def _tg_of_properties(study: Study) -> Callable[[float], float]:
    """Tg [K] over the degree of cure of the model whose properties are taken."""
    resin = read_resin(resin_path(study.document["model"]["properties_from"]))
    return lambda alpha: float(resin.glass_transition([alpha])[0])


def _said(found: Verdict) -> Finding:
    """The verdict without a law, with the laws that it proposes."""
    return Finding("note" if found.said == "single" else "warning", "steps", "activation energy",
                   f"{found.title}: {found.reason} Laws to try: {', '.join(found.laws)}.")


def _fit_laws(study: Study, tell: Callable[[str, int, int], None]) -> None:
    """Fits each law; those that cannot be are said.

    Raises:
        CureError: none could be fitted.
    """
    seen = [r for r in study.runs if r.id != study.held_out]
    E = study.isoconversional.E if study.isoconversional is not None else None
    for law in study.laws:
        count = [0]

        def done(law: FitLaw = law, count: list[int] = count) -> None:
            count[0] += 1
            tell(law.label, min(count[0], study.options.starts), study.options.starts)

        try:
            study.fits.append(fit_law(law, seen, study.gel_times, E=E, T_ref=study.T_ref, options=study.options,
                                      done=done))
        except CureError as error:
            study.failures[law.label] = str(error)
            study.findings.append(Finding("warning", "not_fitted", f"law {law.label}", str(error)))
    if not study.fits:
        raise input_error("laws", "; ".join(study.failures.values()), "a law that the data allow", study.file)


def _without_faults(study: Study) -> list[Run]:
    """The runs whose degree of cure can be believed without a law; it is said which cannot."""
    wrong = {f.about for f in study.findings if f.code in ("alpha_above_one", "alpha_falls")}
    good = [run for run in study.runs if not run.truncated and f"run {run.id}" not in wrong]
    kept = {run.id for run in good}
    out = [run.id for run in study.runs if run.id not in kept]
    if out and good:
        study.findings.append(Finding("note", "without_law", "activation energy", f"without the run{'s' * (len(out) > 1)} {', '.join(out)}: what "
                                      "isoconversional methods are told of a degree of cure they believe."))
    return good or study.runs


def _choose(study: Study) -> None:
    """Puts the law that is written first, and says what it costs where the user has chosen it."""
    study.choice = choice = choose(study.fits, study.left_out)
    asked = study.document.get("model", {}).get("law")
    first = choice.label
    if asked is not None and asked in [fit.law.label for fit in study.fits]:
        first = asked
        study.choice = replace(choice, label=asked, reason="asked for in the document (model.law)")
        if asked != choice.label:
            mine, best = (study.rms_left_out(fit) for label in (asked, choice.label) for fit in study.fits if fit.law.label == label)
            cost = (f"misses the runs left out by {100.0 * mine:.2f} % of the peak rate, and {choice.label} by {100.0 * best:.2f} %: "
                    f"{mine / best:.1f} times as far" if np.isfinite(mine / best) else "was not compared by runs left out")
            study.findings.append(Finding("warning", "asked_for", f"law {asked}", f"written because the document asks for it. It {cost}. "
                                          f"Otherwise {choice.label} would be written: {choice.reason}."))
    if asked is None and len(study.fits) > 1:
        study.findings.append(Finding("note", "choice", f"law {first}", f"written as the model: {choice.reason}."))
    study.fits.sort(key=lambda fit: (fit.law.label != first, bool(fit.unfit), fit.aicc))


def _predict_left_out(study: Study, fit: LawFit) -> list[HeldOut]:
    if study.held_out is None:
        return hold_out(fit, study.gel_times, study.options)
    # The fit has not seen it; predict it as it is.

    target = next(r for r in study.runs if r.id == study.held_out)
    return [predict_run(fit, target, study.options)]
