"""Fits find what was put into synthetic runs, and say rightly how sure they are."""

import sys
from dataclasses import replace
from functools import partial
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from dsc_synthetic import CASES, HEAT, TRUTH, Noise, analysed, clean_runs, ramp, record, truth
from sampling_limits import farthest, least_hits, spread_limits
from scipy.special import ndtri

from libcure import fitting
from libcure.fitting.engine import GAS_CONSTANT, build

sys.path.insert(0, str(Path(__file__).parents[1] / "benchmark"))
from fit_coverage import HIGH, LOW, Coverage, coverage

# Cheap laws get more of them.
REPETITIONS = {"nth-order": 96, "autocatalytic": 96, "kamal-sourour": 48}
BASES = ("nth-order", "autocatalytic", "kamal-sourour")


def check_intervals(c):
    """By the distribution of what so few repetitions of right intervals, which cover 90 to 98 %, give.

    An interval that always covers would pass the first; its spread forbids it.
    """
    n = len(c.covered)
    hits, spread = c.covered.sum(axis=0), c.z.std(axis=0, ddof=1)
    assert np.all(hits >= least_hits(n, LOW)), dict(zip(c.names, hits, strict=True))
    # Errors over their standard error, when intervals of 1.96 of these cover the one or the other share.
    true = [ndtri(0.975) / ndtri(0.5 + share / 2) for share in (HIGH, LOW)]
    low, high = np.multiply(true, spread_limits(n))
    assert np.all((spread > low) & (spread < high)), (low, high, dict(zip(c.names, spread, strict=True)))


@pytest.mark.parametrize(("n", "wrong"), [(16, 2.8), (96, 1.8)])
def test_these_limits_find_a_wrong_covariance(n, wrong):
    """Standard errors too small by this factor, in deviates that lie where normal ones do on average."""
    z = wrong * ndtri((np.arange(n) + 0.5) / n)[:, None]
    with pytest.raises(AssertionError):
        check_intervals(Coverage(["E"], np.abs(z) <= 1.96, z, z, z[:, 0], 0.0))
    check_intervals(Coverage(["E"], np.abs(z / wrong) <= 1.96, z / wrong, z, z[:, 0], 0.0))


@pytest.mark.parametrize("case", [case if case == "kamal-sourour" else pytest.param(case, marks=pytest.mark.trials) for case in CASES])
def test_intervals_cover_the_truth(case):
    """Some repetitions of few points here; tests/benchmark/fit_coverage.py runs 200 as they should be."""
    c = coverage(case, REPETITIONS.get(case, 16), points=300, starts=CASES[case].starts // 4)
    check_intervals(c)
    for name in c.energies:
        assert abs(np.mean(c.energy(name))) < 0.01, name


@pytest.mark.parametrize(("case", "noise"), [
    ("nth-order", {"correlation": 0.8}), ("nth-order", {"drift": 0.01}), ("kamal-sourour", {"mass": 0.02}),
], ids=str)
def test_intervals_cover_the_truth_though_noise_hangs_together_or_masses_are_off(case, noise):
    c = coverage(case, 16, points=500, starts=4, make_noise=partial(Noise, **noise))
    check_intervals(c)
    # As long as noise of this correlation does: (1 + 0.8)/(1 - 0.8) points.
    if "correlation" in noise:
        assert np.median(c.widened) == pytest.approx(9.0, rel=0.4)


def test_mass_errors_are_told_from_noise():
    """Else noise is counted twice in what isothermal runs say, or their mass errors not at all."""
    clean = clean_runs("kamal-sourour", 500)
    found = [[fitting.fit_law(CASES["kamal-sourour"].law, analysed(clean, Noise(0.01, mass=mass), np.random.default_rng(seed)),
                              options=fitting.Options(starts=2, instrument=fitting.EXACT)) for seed in range(8)] for mass in (0.0, 0.03)]
    none, some = ([fit.mass_scatter for fit in fits] for fits in found)
    assert np.median(some) == pytest.approx(0.03, rel=0.3)
    scatter = [fit.heat_error / fit.heat * np.sqrt(6) for fit in found[0]]
    assert np.sqrt(np.mean(np.square(none))) < 0.7 * np.sqrt(np.mean(np.square(scatter)))


def test_heat_that_isothermal_runs_count_on_follows_the_law():
    """Its slope with the constants is in the Jacobian; the heat is the truth's though no ramp shows all of it."""
    clean = clean_runs("epoxy-amine", 500)
    runs = analysed(clean, 1e-6, np.random.default_rng(11))
    # The records have no fault: a prior of lags would pull the constants.
    fit = fitting.fit_law(CASES["epoxy-amine"].law, runs, options=fitting.Options(starts=4, instrument=fitting.EXACT))
    assert min(share for run, (_, _, share) in zip(runs, fit.curves, strict=True) if run.dynamic) < 0.96
    assert fit.heat == pytest.approx(HEAT, rel=1e-3)
    problem = build(fit.law, fit.T_ref, fit.runs, [], fitting.Options(instrument=fitting.EXACT))
    x = fit.x + 0.3 * np.array([0.1, 2e3, 0.1, 2e3, 0.1])
    _, jacobian = problem.evaluate(x)
    for i, step in enumerate((1e-3, 30.0, 1e-3, 30.0, 1e-3)):
        h = step * np.eye(5)[i]
        slope = (problem.evaluate(x + h)[0] - problem.evaluate(x - h)[0]) / (2 * step)
        assert np.max(np.abs(slope - jacobian[:, i])) < 1e-3 * np.max(np.abs(slope))


@pytest.mark.parametrize("case", CASES)
def test_energy_within_one_percent(case):
    runs = analysed(clean_runs(case, 2000), 0.005, np.random.default_rng(5))
    fit = fitting.fit_law(CASES[case].law, runs, E=fitting.isoconversional_analysis(runs).E,
                          options=fitting.Options(starts=16, instrument=fitting.EXACT))
    for i, found, true in zip(fit.law.free, fit.x, truth(case, fit), strict=True):
        name = fit.law.parameters[i].name
        if name.startswith("E"):
            assert found == pytest.approx(true, rel=0.01), name
    assert fit.heat == pytest.approx(HEAT, rel=0.01)


def test_the_right_law_wins_and_predicts_a_run_it_has_not_seen():
    random = np.random.default_rng(6)
    runs = [fitting.analyse(record(ramp("kamal-sourour", beta, 800), 0.01, random), f"{beta}", heating_rate=beta / 60,
                            baseline="linear") for beta in (1, 3, 8, 20)]
    fits = [fitting.fit_law(fitting.FitLaw(law), runs, options=fitting.Options(starts=8)) for law in BASES]
    best = min(fits, key=lambda fit: fit.aicc)
    assert best.law.base == "kamal-sourour"
    assert min(fits, key=lambda fit: fit.bic) is best
    for held in fitting.hold_out(best, only=["1", "20"]):
        assert held.rms_rate < 0.02
        assert held.rms_alpha < 0.01


def test_same_seed_same_bits_whatever_the_threads():
    random = np.random.default_rng(7)
    runs = [fitting.analyse(record(ramp("nth-order", beta, 300), 0.01, random), f"{beta}", heating_rate=beta / 60,
                            baseline="linear") for beta in (2, 5, 10)]
    one, two = (fitting.fit_law(fitting.FitLaw("nth-order"), runs, options=fitting.Options(starts=6, threads=n))
                for n in (1, 2))
    assert np.array_equal(one.x, two.x)
    assert np.array_equal(one.covariance, two.covariance)


def test_which_of_two_parallel_reactions_is_called_a_does_not_matter():
    law = fitting.FitLaw("parallel")
    x = np.array([0.3, -7.0, 80e3, 1.3, -5.0, 55e3, 1.1])
    assert np.array_equal(law.ordered(x), [0.7, -5.0, 55e3, 1.1, -7.0, 80e3, 1.3])
    assert law.ordered(law.ordered(x)) is None
    assert fitting.FitLaw("parallel", fixed={"n_a": 1.0}).ordered(np.delete(x, 3)) is None


@pytest.fixture(scope="module")
def simple():
    random = np.random.default_rng(8)
    runs = [fitting.analyse(record(ramp("nth-order", beta, 500), 0.01, random), f"{beta}", heating_rate=beta / 60,
                            baseline="linear") for beta in (1, 3, 8, 20)]
    return fitting.fit_law(fitting.FitLaw("nth-order"), runs, options=fitting.Options(starts=4))


def test_bootstrap_agrees_with_the_covariance_where_all_is_well(simple):
    one, two = (fitting.bootstrap(simple, options=fitting.Options(seed=3, threads=n), repetitions=200) for n in (1, 2))
    assert np.array_equal(one.x, two.x)
    assert not np.array_equal(one.x, fitting.bootstrap(simple, options=fitting.Options(seed=4), repetitions=20).x)
    low, high = spread_limits(200)
    assert np.all((one.errors > low * simple.errors) & (one.errors < high * simple.errors))
    # Fisher's z of a correlation has the standard error 1/sqrt(n - 3).
    pairs = np.triu_indices(3, 1)
    off = np.arctanh(np.corrcoef(one.x.T)[pairs]) - np.arctanh(simple.correlation[pairs])
    assert np.max(np.abs(off)) < farthest() / np.sqrt(200 - 3)
    for i in range(3):
        low, high = one.interval(i)
        assert low < simple.x[i] < high
        # A quantile of a share q has the variance q (1 - q)/(n f^2), f the density there; two of them over their distance.
        f = np.exp(-0.5 * 1.96**2) / np.sqrt(2 * np.pi)
        error = np.sqrt(2 * 0.025 * 0.975 / 200) / f / (2 * 1.96)
        assert high - low == pytest.approx(2 * 1.96 * simple.errors[i], rel=farthest() * error)
    with pytest.raises(fitting.study.CureError, match="bootstrap: 5; allowed: 20 or more"):
        fitting.bootstrap(simple, repetitions=5)


def test_a_bootstrap_leaves_out_a_record_that_cannot_be_analysed(simple):
    """Of a law that misses the runs by far, whose residuals may make a record without an exotherm."""
    rate = simple.curves[0][0]
    far = replace(simple, curves=[(rate + 0.6 * np.max(rate) * np.sin(np.linspace(0.0, 9.0, len(rate))), *simple.curves[0][1:]), *simple.curves[1:]])
    found = fitting.bootstrap(far, options=fitting.Options(seed=5), repetitions=60)
    assert 30 <= len(found.x) < found.asked == 60


def test_bootstrap_of_gel_times_has_their_error():
    E, k = 57e3, 1.5e-3
    cups = [fitting.GelTime(f"{t}", np.log(2) / k * np.exp(E / GAS_CONSTANT * (1 / (t + 273.15) - 1 / 293.15)),
                            t + 273.15, t + 273.15, alpha_gel=0.5) for t in (5, 20, 35)]
    fit = fitting.fit_law(fitting.FitLaw("nth-order", fixed={"n": 1.0}), [], cups, T_ref=293.15)
    low, high = spread_limits(300)
    found = fitting.bootstrap(fit, cups, repetitions=300).errors / fit.errors
    assert np.all((found > low) & (found < high))


def test_profile_of_a_well_known_constant_agrees_with_its_standard_error(simple):
    for i in range(3):
        one = fitting.profile(simple, i)
        assert one.high - one.low == pytest.approx(2 * 1.96 * simple.errors[i], rel=0.15)


def test_an_outlier_moves_a_robust_fit_less():
    random = np.random.default_rng(9)
    clean = [ramp("nth-order", beta, 500) for beta in (1, 3, 8, 20)]
    records = [record(run, 0.005, random) for run in clean]
    hurt = records[1].heat_flow
    top = int(np.argmax(hurt))
    hurt[top - 60 : top - 40] *= 0.6  # a bubble
    runs = [fitting.analyse(r, f"{i}", heating_rate=beta / 60, baseline="linear")
            for i, (r, beta) in enumerate(zip(records, (1, 3, 8, 20), strict=True))]
    plain, robust = (fitting.fit_law(fitting.FitLaw("nth-order"), runs,
                                     options=fitting.Options(starts=4, loss=loss, loss_scale=0.02))
                     for loss in ("linear", "cauchy"))
    off = [abs(fit.x[2] / TRUTH["nth-order"]["n"] - 1) for fit in (plain, robust)]
    assert off[1] < off[0]


def test_gel_times_alone_give_a_law():
    """A contractor without a calorimeter: films and cups at three temperatures, orders held."""
    E, k = 57e3, 1.5e-3

    def film(T):
        return -np.log(1 - 0.5) / (k * np.exp(-E / GAS_CONSTANT * (1 / T - 1 / 293.15)))

    cups = [fitting.GelTime(f"{t} C", film(t + 273.15), t + 273.15, t + 273.15, alpha_gel=0.5) for t in (5, 20, 35)]
    fit = fitting.fit_law(fitting.FitLaw("nth-order", fixed={"n": 1.0}), [], cups, T_ref=293.15)
    assert np.exp(fit.x[0]) == pytest.approx(k, rel=2e-3)
    assert fit.x[1] == pytest.approx(E, rel=2e-3)
    assert fit.gel_times == pytest.approx([1, 1, 1], rel=1e-3)
    # Three times known to 10 %: ln k at the middle to about 0.1/sqrt(3).
    assert fit.errors[0] == pytest.approx(0.1 / np.sqrt(3), rel=0.1)
    with pytest.raises(fitting.study.CureError, match="gel_times"):
        fitting.fit_law(fitting.FitLaw("kamal-sourour"), [], cups)


def test_gel_times_beside_runs_pull_the_law_to_ambient():
    random = np.random.default_rng(10)
    runs = [fitting.analyse(record(ramp("nth-order", beta, 300), 0.02, random), f"{beta}", heating_rate=beta / 60,
                            baseline="linear") for beta in (2, 5, 10)]
    p = TRUTH["nth-order"]
    k = np.exp(p["ln_k"] - p["E"] / GAS_CONSTANT * (1 / 293.15 - 1 / 380))
    time = (0.5 ** (1 - p["n"]) - 1) / (p["n"] - 1) / k
    cup = fitting.GelTime("film", time, 293.15, 293.15, alpha_gel=0.5, relative_error=0.05)
    alone = fitting.fit_law(fitting.FitLaw("nth-order"), runs, options=fitting.Options(starts=4))
    both = fitting.fit_law(fitting.FitLaw("nth-order"), runs, [cup], T_ref=alone.T_ref, options=fitting.Options(starts=4))
    assert both.gel_times[0] == pytest.approx(1.0, abs=0.1)
    known = [fitting.statements.ambient_uncertainty(fit)[1] for fit in (alone, both)]
    assert known[1] < 1.1
    assert both.x[1] != alone.x[1]


def test_the_fastest_rate_constant_in_the_cold_stands_for_the_law():
    p = TRUTH["kamal-sourour"]
    T_ref, T = 380.0, 293.15
    law = fitting.FitLaw("kamal-sourour", fixed={"m": p["m"], "n": p["n"]})
    values = np.array([p["ln_k1"], p["E1"], p["ln_k2"], p["E2"], p["m"], p["n"]])
    shift = (1 / T - 1 / T_ref) / GAS_CONSTANT
    covariance = np.diag([0.04, 4e6, 0.01, 1e6])
    fit = SimpleNamespace(law=law, values=values, T_ref=T_ref, covariance=covariance)
    symbol, factor = fitting.statements.ambient_uncertainty(fit, T)
    assert symbol == "k2"
    assert factor == pytest.approx(np.exp(1.96 * np.sqrt(0.01 + shift**2 * 1e6)), rel=1e-3)
    # An interval that no computer's number holds is not known, and warns of nothing.
    fit.covariance = 1e9 * covariance
    assert fitting.statements.ambient_uncertainty(fit, T) == ("k2", np.inf)
