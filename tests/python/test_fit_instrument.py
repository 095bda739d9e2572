"""Fits on records with faults: what instrument and samples did is fitted, said where it matters, and widens intervals.

Records come from calorimeter_chain.py, which is not the model that is fitted.
"""

import json
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from calorimeter_chain import HOLDS, LAWS, RAMPS, Faults, drawn, hold_record, ramp_record, runs_of, truth_of
from dsc_synthetic import CASES, HEAT, analysed, clean_runs
from sampling_limits import least_hits

import libcure
from libcure import fitting
from libcure.fitting.covariance import noise_influence
from libcure.fitting.engine import build
from libcure.fitting.faults import fault_findings
from libcure.fitting.instrument import disturbances, offset, shapes
from libcure.fitting.quantiles import Z95
from libcure.fitting.windows import ramp_windows
from libcure.render import fit_figures

sys.path.insert(0, str(Path(__file__).parents[1] / "benchmark"))
from fit_systematics import LOW, coverage

ABOUT = {"id": "test-resin", "title": "test", "family": "epoxy-amine", "properties_from": "epoxy-amine-medium"}


def fitted(law, runs, instrument=None):
    return fitting.fit_law(LAWS[law], runs, E=60e3, options=fitting.Options(starts=4, instrument=instrument or fitting.Instrument()))


def half_widths(law, fit):
    """Errors of the constants over the half widths of their intervals."""
    return np.abs(fit.x - truth_of(law, fit)) / (Z95 * fit.errors)


def codes(findings):
    return {f.code for f in findings}


def study_of(folder, records, law="nth-order", **more):
    """A fit document with its files; records by id: (record, entry)."""
    entries = []
    for name, (record, entry) in records.items():
        rows = "\n".join(f"{t:.6g},{T - 273.15:.5f},{q:.6g}" for t, T, q in zip(record.time, record.temperature, record.heat_flow, strict=True))
        (folder / f"{name}.csv").write_text(f"time_s,temperature_C,heat_flow_W_g\n{rows}\n")
        entries.append({"id": name, "file": f"{name}.csv", "exotherm": "up", **entry})
    document = {"format": "libcure/fit/1", "title": "test", "runs": entries, "laws": [{"law": law}], "options": {"starts": 2}, "model": ABOUT, **more}
    (folder / "fit.json").write_text(json.dumps(document))
    return fitting.load(folder / "fit.json")


def ramps(law, rates, faults, random, points=600):
    return {f"r{beta:g}": (ramp_record(law, beta, faults, random, points), {"heating_rate_K_min": beta}) for beta in rates}


@pytest.mark.parametrize(("law", "repetitions"), [("nth-order", 16), ("autocatalytic", 10), ("kamal-sourour", 8), ("parallel", 8), ("rabinowitch", 6)])
def test_intervals_cover_the_truth_whatever_instrument_and_samples_do(law, repetitions):
    """tests/benchmark/fit_systematics.py runs 200, of more laws."""
    z = coverage(law, repetitions, starts=2, points=400)
    hits = np.sum(np.abs(z) <= 1.0, axis=0)
    assert np.all(hits >= least_hits(repetitions, LOW)), hits
    # An interval that is much too wide would cover too.
    assert np.all(z.std(axis=0) > 0.12), z.std(axis=0)


def test_a_slow_signal_is_found_and_said():
    runs = runs_of("nth-order", Faults(time_constant=8.0), np.random.default_rng(1), holds={}, points=600)
    fit, blind = fitted("nth-order", runs), fitted("nth-order", runs, fitting.EXACT)
    # Both elements of the chain: 8 s and a third of it.
    assert np.sum(fit.lags) == pytest.approx(8.0 * 4 / 3, abs=Z95 * np.sqrt(np.sum(fit.lag_covariance)) + 0.5)
    assert np.all(half_widths("nth-order", fit) < 1.5)
    assert half_widths("nth-order", blind)[1] > 1.5
    said = [f for f in fault_findings(fit) if f.code == "lag"]
    assert len(said) == 1 and said[0].message.startswith("the signal lags by") and "half widths" in said[0].message
    quick = fitted("nth-order", runs_of("nth-order", Faults(), np.random.default_rng(1), holds={}, points=600))
    assert "lag" not in codes(fault_findings(quick))


def test_a_lag_that_is_known_narrows_the_intervals():
    runs = runs_of("nth-order", Faults(time_constant=6.0), np.random.default_rng(2), holds={}, points=600)
    unknown = fitted("nth-order", runs)
    known = fitted("nth-order", runs, replace(fitting.Instrument(), time_constant=8.0, time_constant_error=0.5, thermal_lag_error=0.5))
    assert known.errors[1] < unknown.errors[1]
    assert half_widths("nth-order", known)[1] < 1.5


def test_a_drifting_isothermal_run_is_said_and_is_no_vitrification():
    random = np.random.default_rng(3)
    runs = runs_of("nth-order", Faults(), random, holds={}, points=600)
    heat = float(np.median([run.heat for run in runs]))
    for T, sign in ((343.0, -1.0), (373.0, 0.3)):
        duration = HOLDS[T]
        record = hold_record("nth-order", T, duration, Faults(), random, 600)
        record = replace(record, heat_flow=record.heat_flow + sign * 0.008 * record.time / duration)
        run = fitting.analyse(record, f"{T:g} K", isothermal=T, total_heat=heat)
        run.on_ramps = True
        runs.append(run)
    assert not 0.9 < runs[-2].alpha[-1] < 1.1
    fit = fitted("nth-order", runs)
    assert np.all(half_widths("nth-order", fit) < 1.5)
    said = [f for f in fault_findings(fit) if f.code == "drift"]
    assert [f.about for f in said] == ["run 343 K"] and "drifts" in said[0].message
    found = fitting.identifiability(fit, [], [], [], fit.runs, [fit])
    assert not any("it vitrifies. Fit" in f.message for f in found)


def test_a_wrong_mass_is_said_of_a_ramp_and_of_an_isothermal_run():
    random = np.random.default_rng(4)
    runs = runs_of("nth-order", Faults(), random, points=600)
    cold = next(i for i, run in enumerate(runs) if not run.dynamic)
    heavy = fitting.analyse(replace(hold_record("nth-order", 343.0, HOLDS[343.0], Faults(), random, 600)), "held", isothermal=343.0,
                            total_heat=runs[cold].total_heat)
    heavy = replace(heavy, heat_flow=1.1 * heavy.heat_flow)
    runs[cold] = replace(fitting.records.processed(heavy), on_ramps=True)
    # Over hours a drift looks much like it; where the signal is known to be steady it is the mass.
    either = fault_findings(fitted("nth-order", runs))
    assert [(f.code, f.about) for f in either] == [("drift", "run held")] and "A sample mass" in either[0].message
    steady = fitted("nth-order", runs, replace(fitting.Instrument(), drift=0.5, mass=0.05))
    said = [f for f in fault_findings(steady) if f.code == "mass"]
    assert [f.about for f in said] == ["run held"]
    assert "% more than stated" in said[0].message
    ramp = runs[1]
    runs[1] = fitting.records.processed(replace(ramp, heat_flow=1.1 * ramp.heat_flow))
    odd = fitting.checks.compare_heats(runs)
    assert [f.about for f in odd] == [f"run {ramp.id}"] and "mass" in odd[0].message


@pytest.mark.parametrize(("part", "seed"), [("tail", 5), ("tail", 25), ("start", 5), ("start", 25)])
def test_a_truncated_run_is_used_for_what_it_holds(part, seed, tmp_path):
    """Hardly less is known than with the whole run, though its tangent carries noise over the whole exotherm."""
    random = np.random.default_rng(seed)
    records = ramps("nth-order", (1.0, 5.0, 10.0), Faults(), random)
    whole = ramp_record("nth-order", 20.0, Faults(), random, 1200)
    uncut = study_of(tmp_path, {**records, "r20": (whole, {"heating_rate_K_min": 20.0})})
    top = int(np.argmax(whole.heat_flow))
    keep = slice(0, top + 30) if part == "tail" else slice(top - 60, None)
    cut = fitting.Record(whole.time[keep], whole.temperature[keep], whole.heat_flow[keep], "W/g")
    study = study_of(tmp_path, {**records, "r20": (cut, {"heating_rate_K_min": 20.0})})
    said = [f for f in study.findings if f.code == "truncated"]
    assert [f.about for f in said] == ["run r20"] and "is used for that" in said[0].message
    run = study.runs[-1]
    assert run.truncated == part and run.on_ramps
    fit, best = (fitted("nth-order", s.runs) for s in (study, uncut))
    assert np.all(half_widths("nth-order", fit) < 1.5)
    assert fit.errors[1] < 1.2 * best.errors[1]


def test_a_truncated_run_alone_is_refused_as_before(tmp_path):
    whole = ramp_record("nth-order", 10.0, Faults(), np.random.default_rng(6), 800)
    keep = slice(0, int(np.argmax(whole.heat_flow)) + 20)
    cut = fitting.Record(whole.time[keep], whole.temperature[keep], whole.heat_flow[keep], "W/g")
    with pytest.raises(libcure.CureError, match="no straight signal after the exotherm"):
        study_of(tmp_path, {"r10": (cut, {"heating_rate_K_min": 10.0})})


def test_the_heat_interval_carries_what_the_baseline_may_hide():
    fit = fitted("nth-order", runs_of("nth-order", Faults(step=200.0), np.random.default_rng(7), holds={}, points=600))
    assert abs(fit.heat - HEAT) < fit.heat_half_width


@pytest.mark.parametrize("total_heat", [None, 3.1e5])
def test_noise_reaches_rate_and_alpha_as_its_adjoint_says(total_heat):
    """Against the run's own steps, done again with a little more heat flow: baseline, integral, share of the heat."""
    run = replace(analysed(clean_runs("nth-order", 300), 0.0, np.random.default_rng(0))[0], total_heat=total_heat)
    random = np.random.default_rng(11)
    u, v = random.normal(size=(2, len(run.t), 2))

    def rate_and_alpha(more):
        flow = run.heat * run.rate + more - run.basis @ (run.functionals @ more)
        released = np.concatenate([[0.0], np.cumsum(0.5 * np.diff(run.t) * (flow[1:] + flow[:-1]))])
        heat = total_heat or released[-1]
        return u.T @ (flow / heat) + v.T @ (released / heat)

    if total_heat is not None:
        run = replace(run, rate=run.rate * run.heat / total_heat, alpha=run.alpha * run.heat / total_heat, heat=total_heat)
    small = 1e-4 * run.heat * float(run.rate.max()) * random.normal(size=len(run.t))
    change = 0.5 * (rate_and_alpha(small) - rate_and_alpha(-small))
    assert noise_influence(run, u, v).T @ small == pytest.approx(change, rel=1e-5)


def test_slopes_with_lags_are_those_of_differences():
    runs = analysed(clean_runs("kamal-sourour", 300), 0.005, np.random.default_rng(8))
    fit = fitting.fit_law(CASES["kamal-sourour"].law, runs, options=fitting.Options(starts=2))
    problem = build(fit.law, fit.T_ref, fit.runs, [], fitting.Options(), tolerance=1e-9)
    x = np.concatenate([fit.x, [3.0, 2.0]])
    _, jacobian = problem.evaluate(x)
    for i in (6, 7):
        h = 0.02 * np.eye(8)[i]
        slope = (problem.evaluate(x + h)[0] - problem.evaluate(x - h)[0]) / 0.04
        rows = len(slope) - 2
        assert np.linalg.norm(slope[:rows] - jacobian[:rows, i]) < 0.02 * np.linalg.norm(slope[:rows])


def test_whitening_is_a_fit_of_the_nuisances_with_their_priors():
    """The compressed sum of squares is that of the plain residuals with the nuisances solved for."""
    runs = runs_of("nth-order", Faults(drift=10.0, mass=0.02), np.random.default_rng(9), ramps=(5.0, 10.0), holds={358.0: 15e3}, points=300)
    fit = fitted("nth-order", runs)
    options = fitting.Options()
    problem = build(fit.law, fit.T_ref, fit.runs, [], options)
    r, _ = problem.evaluate(fit.point)
    least, at = float(np.sum(r[-2:] ** 2)), 0
    for run in fit.runs:
        found = disturbances(run, options.instrument)
        assert shapes(found)[0].shape == (2 * len(run.t), len(found))
        B = np.column_stack([n.column for n in found])
        rows = r[at : at + 2 * len(run.t)]
        theta = np.linalg.lstsq(np.vstack([B, np.eye(B.shape[1])]), -np.concatenate([rows, np.zeros(B.shape[1])]), rcond=None)[0]
        least += float(np.sum((rows + B @ theta) ** 2) + np.sum(theta**2))
        at += 2 * len(run.t)
        assert len(offset(run, found)) in (0, 2 * len(run.t))
    assert float(np.sum(problem.compressed(fit.point)[:, -1] ** 2)) == pytest.approx(least, rel=1e-8)


def test_what_is_done_is_told_to_its_end(tmp_path):
    study, told = study_of(tmp_path, ramps("nth-order", (2.0, 5.0, 10.0), Faults(), np.random.default_rng(12), 200)), {}
    fitting.run(study, progress=lambda what, done, of: told.setdefault(what, []).append((done, of)))
    free = len(study.best.x)
    assert told["profiles"] == [(k, free) for k in range(1, free + 1)]
    assert told["leaving runs out"] == [(0, 1), (1, 1)]
    assert f"best {study.best.law.label}" in repr(study)
    peaks = [run.T[np.argmax(run.rate)] for run in study.best.runs]
    assert abs(study.best.T_ref - np.mean(peaks)) <= 0.5 and round(study.best.T_ref - 273.15, 9).is_integer()
    off = [(rate - run.rate) / run.rate.max() for run, (rate, _, _) in zip(study.best.runs, study.best.curves, strict=True)]
    assert study.best.rms_rate == pytest.approx(np.sqrt(np.mean(np.concatenate(off) ** 2)), rel=0.1)
    assert 1e-5 < study.best.rms_alpha < 5e-3
    # A logarithm and a pure number have no unit beside them.
    for ax, one in zip(fit_figures.profiles(study).axes, study.profiles, strict=True):
        p = study.best.free_parameters[one.parameter]
        assert ("[" in ax.get_xlabel()) == (not p.log and p.unit != "1"), p


def test_windows_over_each_other_are_refused_in_degrees():
    record = ramp_record("nth-order", 10.0, Faults(), np.random.default_rng(13), 300)
    given = "r", record, record.heat_flow, 1e-3
    with pytest.raises(libcure.CureError, match=r"above the left window, which ends at 60\.0"):
        ramp_windows(*given, (320.15, 333.15), (330.15, 350.15), True)
    with pytest.raises(libcure.CureError, match=r"within the record, "):
        ramp_windows(*given, (320.15, 333.15), (330.15, 1350.15), True)


def test_the_document_states_the_instrument(tmp_path):
    records = ramps("nth-order", (2.0, 5.0, 10.0), Faults(time_constant=4.0), np.random.default_rng(10), 400)
    study = study_of(tmp_path, records, instrument={"time_constant_s": 4.0, "drift_W_g": 0.02, "mass_error": 0.01})
    known = study.options.instrument
    assert (known.time_constant, known.time_constant_error, known.drift, known.mass) == (4.0, 1.0, 20.0, 0.01)
    fitting.run(study)
    result = fitting.result_document(study)
    libcure.validate(result)
    assert result["laws"][0]["instrument"]["time_constant_s"] == pytest.approx(4.0, abs=2.0)
    with pytest.raises(libcure.CureError, match="instrument.mass_error"):
        study_of(tmp_path, records, instrument={"mass_error": -0.1})
    with pytest.raises(libcure.CureError, match="did you mean"):
        study_of(tmp_path, records, instrument={"time_constants_s": 1.0})


def test_energies_without_a_law_leave_out_what_drifts(tmp_path):
    random = np.random.default_rng(11)
    records = ramps("nth-order", (2.0, 5.0, 10.0), Faults(), random, 400)
    held = hold_record("nth-order", 358.0, HOLDS[358.0], Faults(), random, 400)
    held = replace(held, heat_flow=held.heat_flow - 0.025 * held.time / held.time[-1])
    study = fitting.run(study_of(tmp_path, {**records, "held": (held, {"isothermal_C": 84.85})}))
    assert "alpha_above_one" in codes(study.findings)
    assert [f.message for f in study.findings if f.code == "without_law"] == [
        "without the run held: what isoconversional methods are told of a degree of cure they believe."]
    assert "E_varies" not in codes(study.findings)


@pytest.mark.parametrize("law", ["nth-order", "kamal-sourour"])
def test_a_lost_start_is_found_and_said(law):
    """A hold whose first 100 s were cut off: the law has them, once, and it is said how long they were."""
    random = np.random.default_rng(14)
    runs = runs_of(law, Faults(), random, holds={}, points=600)
    whole = hold_record(law, 373.0, HOLDS[373.0], Faults(), random, 1500)
    found = []
    for lost in (0.0, 100.0):
        late = whole.time >= lost
        cut = fitting.Record(whole.time[late] - lost, whole.temperature[late], whole.heat_flow[late], "W/g")
        held = fitting.analyse(cut, "held", isothermal=373.0, total_heat=float(np.median([run.heat for run in runs])))
        held.on_ramps = True
        fit = fitted(law, [*runs, held])
        estimate = next(one for one in fit.off[-1] if one.kind == "start")
        assert estimate.value == pytest.approx(lost, abs=3.0 * estimate.error)
        # What the model has is what the estimate says, so the search has come to rest.
        assert fit.runs[-1].lost == pytest.approx(max(estimate.value, 0.0), abs=3.0)
        assert np.all(half_widths(law, fit) < 1.0)
        found.append([f for f in fault_findings(fit) if f.code == "lost_start"])
    assert not found[0]
    assert [f.about for f in found[1]] == ["run held"] and "before the record begins" in found[1][0].message


def test_a_tail_that_is_cut_off_is_said_and_completed():
    """A ramp that ends while some of its heat is still to come: its own heat is 4 % low, that of the fit is right."""
    random = np.random.default_rng(15)
    runs = runs_of("nth-order", Faults(), random, ramps=RAMPS[:-1], holds={}, points=600)
    short = fitting.analyse(ramp_record("nth-order", 20.0, Faults(), random, 1200, span=(250.0, 500.0)), "short", heating_rate=20.0 / 60.0)
    assert short.heat < 0.97 * HEAT
    fit = fitted("nth-order", [*runs, short])
    said = [f for f in fault_findings(fit) if f.code == "tail_cut"]
    assert [f.about for f in said] == ["run short"] and "The law completes it" in said[0].message
    assert abs(fit.heat - HEAT) < fit.heat_half_width
    assert np.all(half_widths("nth-order", fit) < 1.0)


@pytest.mark.parametrize("seed", [1003, 1019])
def test_drift_and_lost_starts_do_not_pass_for_diffusion_control(seed):
    """Without them the search ends where all runs stop at one degree of cure and a third of the heat is never seen."""
    random = np.random.default_rng([seed, 20])
    runs = runs_of("chern-poehlein", drawn(random), random, points=800)
    fit = fitting.fit_law(LAWS["chern-poehlein"], runs, E=60e3, options=fitting.Options(starts=16, seed=seed))
    assert abs(fit.heat - HEAT) < 1.3 * fit.heat_half_width
    assert np.all(half_widths("chern-poehlein", fit) < 2.0)
    assert all(share > 0.95 for run, (_, _, share) in zip(fit.runs, fit.curves, strict=True) if run.dynamic)
