"""What the data can and cannot say about the constants, in plain sentences."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np

from libcure.fitting.bootstrap import Bootstrap
from libcure.fitting.engine import GAS_CONSTANT
from libcure.fitting.law_fit import GelTime, HeldOut, LawFit, Profile
from libcure.fitting.laws import number
from libcure.fitting.model_free import ModelFree, analyse_without_law
from libcure.fitting.model_free.stalls import drift_of
from libcure.fitting.model_free.verdict import late_fall
from libcure.fitting.quantiles import Z95
from libcure.fitting.run import Finding, Run

__all__ = ["advice", "ambient_uncertainty", "by_subject", "identifiability"]

GlassTransition = Callable[[float], float]
ZERO_CELSIUS = 273.15
CORRELATED = 0.95
UNKNOWN = 0.5  # standard error over the value, or of a logarithm
STOPPED = 0.9  # degree of cure below which an isothermal run has not cured out
NEAR_TG = 20.0  # K from Tg, within which a run that stopped is taken for glassy; common practice, no source
STEEPEST = 0.015  # 1/K, rise of the final degree of cure: DiBenedetto's Tg at 245 to 400 K, lambda 0.4, gives 0.004 to 0.011
APART = 3.0  # K between isothermal runs that count as different temperatures
UNTOLD = 1e3  # factor of an interval above which its size says nothing more
AMBIENT = 20.0  # degC, where the models of this library are used


def advice(a: str, b: str) -> str:
    """What measurement would separate two constants."""
    pair = {a, b}
    if any(name.startswith("E") for name in pair) and any(name.startswith("ln_k") for name in pair):
        return "add a ramp that is slower, or an isothermal run at a lower temperature"
    if pair & {"C", "alpha_c", "alpha_cT", "ln_k_d0", "C1", "C2"}:
        return "add isothermal runs, at temperatures below the final Tg, that are held until they stop"
    if pair & {"ln_alpha0", "ln_epsilon", "ln_k_z", "E_z", "ln_k1", "E1", "ln_k_0", "E_0"}:
        return "add an isothermal run at a low temperature, where the start of the reaction takes long"
    if "m" in pair or "n" in pair:
        return "add a slower ramp, recorded until the signal is level"
    return "add a slower ramp"


def by_subject(findings: Sequence[Finding]) -> list[tuple[str, list[Finding]]]:
    """Findings by what they are about, in the order of its first."""
    subjects: dict[str, list[Finding]] = {}
    for finding in findings:
        subjects.setdefault(finding.about or "data", []).append(finding)
    return list(subjects.items())


def ambient_uncertainty(fit: LawFit, temperature: float = AMBIENT + ZERO_CELSIUS) -> tuple[str, float] | None:
    """Of the law's rate constants that were fitted, the fastest at a temperature [K]: its symbol, and the factor of its 95 % interval."""
    parameters, free = fit.law.parameters, fit.law.free
    place = {p.path: k for k, p in enumerate(parameters)}
    shift = -(1.0 / temperature - 1.0 / fit.T_ref) / GAS_CONSTANT
    fastest = -np.inf
    found: tuple[str, float] | None = None
    for k in free:
        p = parameters[k]
        if p.unit != "1/s" or not p.path.startswith("rate."):
            continue
        energy = place[p.path.removesuffix("k_ref") + "E"]
        speed = float(fit.values[k] + shift * fit.values[energy])
        if speed < fastest:
            continue
        g = np.zeros(len(free))
        g[free.index(k)] = 1.0
        if energy in free:
            g[free.index(energy)] = shift
        half = Z95 * float(np.sqrt(max(float(g @ fit.covariance @ g), 0.0)))
        # Beyond the numbers of a computer it is as unknown as can be.
        fastest, found = speed, (p.symbol.removeprefix("ln "), float(np.exp(half)) if half < 700.0 else np.inf)
    return found


def _finals(held: Sequence[Run]) -> str:
    """Final degrees of cure at three temperatures or more that rise with it at each step, as slowly as a glass transition makes them,
    and in all by more than drifts of the signal do; in words, or empty."""
    bad = ("not_ended", "alpha_falls", "alpha_above_one")
    good = [r for r in held if not {f.code for f in r.findings} & set(bad)]
    good = sorted((r for r in good if r.on_ramps), key=lambda r: float(np.median(r.T)))
    T, final = np.array([float(np.median(r.T)) for r in good]), np.array([float(r.alpha[-1]) for r in good])
    if len(good) < 3 or len(good) < len([r for r in held if r.on_ramps]) or np.min(np.diff(T)) < APART:
        return ""
    drifts = [drift_of(r) for r in good]
    rise = np.diff(final) / np.diff(T)
    sure = np.all((rise > 0.0) & (rise < STEEPEST)) and final[-1] - final[0] > drifts[0] + drifts[-1] and final[0] + drifts[0] < STOPPED
    shown = ", ".join(f"{alpha:.2f} at {at - ZERO_CELSIUS:.0f} °C" for at, alpha in zip(T, final, strict=True))
    return f"final degrees of cure rise with temperature ({shown})" if sure else ""


def _glassy(held: Sequence[Run], glass_transition: GlassTransition | None) -> str:
    """Whether Tg has come up to the temperature of the runs that stopped; in words, or empty."""
    if glass_transition is None:
        return ""
    Tg = [(run, glass_transition(float(min(run.alpha[-1], 1.0)))) for run in held if run.alpha[-1] < STOPPED]
    glassy = [f"{at - ZERO_CELSIUS:.0f} °C in {run.id}" for run, at in Tg if abs(at - float(np.median(run.T))) < NEAR_TG]
    return f"Tg, as the properties taken from another model have it, stands near the temperature of the run then ({', '.join(glassy)})" if glassy else ""


def _evidence(held: Sequence[Run], free: ModelFree | None, glass_transition: GlassTransition | None) -> tuple[bool, list[str]]:
    """Whether the runs show that the resin vitrifies, and what that rests on. Heat found in a ramp afterwards shows it; so do runs
    that stop short of what the ramps foretell. Final degrees of cure over temperature, an E that falls late and Tg show it two together;
    the final degrees alone where no three ramps of one step are there to be asked."""
    heat = [r.id for r in held if r.total_heat is not None and not r.on_ramps and r.alpha[-1] < STOPPED]
    short = [f"{one.run} ends at {one.ended:.2f}, and by the ramps it would be beyond {one.foretold:.2f}" for one in (free.stalls if free else ())]
    fall = late_fall(free.steps) if free else None
    direct = [f"a ramp afterwards has found heat ({', '.join(heat)})"] if heat else []
    direct += [f"runs stop short of what the ramps foretell ({'; '.join(short)})"] if short else []
    finals = _finals(held)
    asked = free is not None and free.verdict is not None and free.verdict.said == "single"
    weak = [said for said in (
        finals,
        f"E falls from {fall.above / 1e3:.0f} to {fall.below / 1e3:.0f} kJ/mol beyond α = {fall.begin:.2f}" if fall is not None else "",
        _glassy(held, glass_transition)) if said]
    return bool(direct) or len(weak) >= 2 or (bool(finals) and not asked), [*direct, *weak]


def _diffusion(fit: LawFit, runs: Sequence[Run], free: ModelFree | None, glass_transition: GlassTransition | None) -> tuple[str, str] | None:
    """What the runs say of diffusion control, which the law has or lacks: code and text."""
    held = [r for r in runs if not r.dynamic]
    stopped = [r for r in held if r.alpha[-1] < STOPPED]
    if not stopped:
        return None if fit.law.vitrifies else (
            "diffusion", "no run vitrifies, so the data say nothing of diffusion control. The model file holds none: at "
            "ambient temperature it will cure the resin too far. Add isothermal runs near the temperature of use that are "
            "held until they stop.")
    ends = f"isothermal run {stopped[0].id} ends at a degree of cure of {stopped[0].alpha[-1]:.2f}"
    shown, why = _evidence(held, free, glass_transition)
    if shown:
        return None if fit.law.vitrifies else (
            "diffusion", f"{ends}: it vitrifies. Fit the law with diffusion, or the model cures cold resin too far. That it vitrifies rests on "
            f"this: {'; '.join(why)}.")
    has = ("The law's diffusion control rests on that" if fit.law.vitrifies else
           "The model file holds no diffusion control: if it vitrifies, the model cures cold resin too far")
    alone = f" For it speaks that {why[0]}, and nothing else does." if why else ""
    return "diffusion_or_drift", (
        f"{ends}. Whether it vitrifies or its baseline drifts cannot be told apart from these runs.{alone} {has}. Ramp each "
        "sample after its isothermal run and give residual_heat_J_g, or add isothermal runs, three temperatures or more, "
        "with a level signal at their end.")


def identifiability(fit: LawFit, profiles: Sequence[Profile], left_out: Sequence[HeldOut], cups: Sequence[GelTime],
                    runs: Sequence[Run], fits: Sequence[LawFit], repeated: Bootstrap | None = None, free: ModelFree | None = None,
                    glass_transition: GlassTransition | None = None) -> list[Finding]:
    """Statements about the best law's constants.

    Args:
        free: what the runs say without a law; read from them when left out.
        glass_transition: Tg [K] over the degree of cure, where one is at hand.
    """
    free = analyse_without_law(runs, fit.instrument) if free is None else free
    said = [*_minimum(fit), *_correlated(fit), *_unknown(fit), *_profiled(fit, profiles)]
    if repeated is not None:
        said += _repeated(fit, repeated)
    said += [*_misfit(fit), *_left_out(left_out), *_extrapolated(fit, runs, cups)]
    diffusion = _diffusion(fit, runs, free, glass_transition)
    if diffusion is not None:
        said.append(diffusion)
    said += _alike(fit, fits)
    return [Finding("note" if code in NOTES else "warning", code, f"law {fit.law.label}", text) for code, text in said]


Said = Iterator[tuple[str, str]]
"""Code and sentence of each finding."""
NOTES = ("bootstrap_failed", "misfit")
"""Codes of what is no warning."""


def _minimum(fit: LawFit) -> Said:
    """Whether enough starts of the search ended at the same place."""
    if fit.same_minimum < max(2, fit.starts // 8) and fit.starts > 1:
        yield "few_starts_agree", (f"only {fit.same_minimum} of {fit.starts} starts ended at this minimum; a better one "
                                   "may have been missed. Use more starts, or hold a constant.")


def _correlated(fit: LawFit) -> Said:
    """Pairs of constants that the data know together only, the worst first."""
    parameters, correlation = fit.free_parameters, fit.correlation
    pairs = sorted(((float(correlation[i, j]), j, i) for i in range(len(parameters)) for j in range(i)
                    if abs(correlation[i, j]) > CORRELATED), key=lambda pair: -abs(pair[0]))
    if not pairs:
        return
    r, i, j = pairs[0]
    a, b = parameters[i], parameters[j]
    text = (f"{a.shown} and {b.shown} are correlated {r:.3f}: the data know a combination of both, but not each; "
            f"{advice(a.name, b.name)}.")
    if len(pairs) > 1:
        text += " So are " + ", ".join(f"{parameters[i].shown} and {parameters[j].shown} ({r:.3f})"
                                       for r, i, j in pairs[1:]) + "."
    yield "correlated", text


def _unknown(fit: LawFit) -> Said:
    """Constants on their bound or hardly known."""
    for i, p in enumerate(fit.free_parameters):
        error, value = float(fit.errors[i]), float(fit.x[i])
        relative = error if p.log else error / max(abs(value), 1e-300)
        low, high = fit.interval(i)
        if fit.solution.on_bound[i]:
            yield "on_bound", (f"{p.shown} ended on its bound, {p.text(p.outside(value))}: the data do not hold it. "
                               "Fix it, or use a simpler law.")
        elif not np.isfinite(error) or relative > UNKNOWN:
            yield "unknown", (f"{p.shown} is hardly known: 95 % from {number(low, 3)} to {p.text(high, 3)}; "
                              f"{advice(p.name, p.name)}, or hold it (fixed).")


def _profiled(fit: LawFit, profiles: Sequence[Profile]) -> Said:
    """Profiles that do not close, or are lopsided."""
    for one in profiles:
        p = fit.free_parameters[one.parameter]
        if not np.isfinite(one.low) or not np.isfinite(one.high):
            side = "below" if not np.isfinite(one.low) else "above"
            yield "open_profile", (f"the profile of {p.shown} does not close {side}: the data give no limit on that side "
                                   "within three standard errors.")
        elif one.high > fit.x[one.parameter] > one.low:
            ratio = (one.high - fit.x[one.parameter]) / (fit.x[one.parameter] - one.low)
            if not 0.6 < ratio < 1.67:
                yield "skewed", (f"the interval of {p.shown} is lopsided; trust the profile's, {number(p.outside(one.low))} "
                                 f"to {p.text(p.outside(one.high))}, over the symmetric one.")


def _repeated(fit: LawFit, repeated: Bootstrap) -> Said:
    """Where the bootstrap says otherwise than the standard errors."""
    for i, p in enumerate(fit.free_parameters):
        ratio = float(repeated.errors[i] / fit.errors[i])
        if not 1.0 / 1.5 < ratio < 1.5:
            low, high = (p.outside(v) for v in repeated.interval(i))
            yield "bootstrap_differs", (f"the bootstrap finds {p.shown} {ratio:.1f} times as uncertain as its standard "
                                        f"error says: {number(low)} to {p.text(high)}. The wider interval is the one to use.")
    if len(repeated.x) < repeated.asked:
        yield "bootstrap_failed", (f"{repeated.asked - len(repeated.x)} of {repeated.asked} repetitions of the bootstrap "
                                   "could not be fitted and do not count.")


def _misfit(fit: LawFit) -> Said:
    """Autocorrelated residuals."""
    slow = [w for w in fit.widened if w > 10.0]
    if slow:
        yield "misfit", (f"residuals of {len(slow)} of {len(fit.widened)} runs are autocorrelated over up to {max(slow):.0f} "
                         "points: the law or the baselines miss something, by "
                         f"{100 * fit.rms_rate:.1f} % of the peak rate on average. The intervals are widened for it.")


def _left_out(left_out: Sequence[HeldOut]) -> Said:
    """Runs that a fit without them does not foretell."""
    for h in left_out:
        if np.isfinite(h.ratio) and h.ratio > 2.0:
            yield "held_out", (f"without the run {h.run} the law misses it {h.ratio:.1f} times as far as with it: the "
                               "constants depend on this one run.")
        elif not np.isfinite(h.rms_rate):
            yield "held_out", f"without the run {h.run} the law cannot be fitted."
        elif h.rms_alpha > 0.05:
            yield "held_out", f"the run {h.run}, left out, is missed by {h.rms_alpha:.3f} in degree of cure."


def _extrapolated(fit: LawFit, runs: Sequence[Run], cups: Sequence[GelTime]) -> Said:
    """How far the law is from its data where resins are used."""
    reacting = [float(r.T[np.searchsorted(np.maximum.accumulate(r.alpha), 0.02)]) for r in runs if r.alpha[-1] > 0.02]
    reacting += [cup.start for cup in cups]
    known = ambient_uncertainty(fit) if reacting else None
    if known is None:
        return
    lowest = min(reacting) - ZERO_CELSIUS
    if lowest > AMBIENT + 5.0:
        factor = f"{known[1]:.2f}" if known[1] < UNTOLD else f"more than {UNTOLD:.0f}"
        yield "extrapolation", (f"the data react from {lowest:.0f} °C on. At {AMBIENT:.0f} °C the law is extrapolated; "
                                f"{known[0]} there is known to a factor of {factor} (95 %) if the law holds so far down, which "
                                "no ramp can tell. Add gel times or isothermal runs near the temperature of use.")


def _alike(fit: LawFit, fits: Sequence[LawFit]) -> Said:
    """Another law that describes the data as well."""
    close = [f for f in fits[1:] if not f.unfit and f.aicc - fit.aicc < 10.0 and f.law.label != fit.law.label]
    if close:
        yield "laws_alike", (f"the laws {fit.law.label} and {close[0].law.label} describe the data almost equally "
                             "well; what they say beyond the data may differ.")
