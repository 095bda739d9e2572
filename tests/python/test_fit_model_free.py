"""What is said without a law, against curves of another integrator with known truths: invented constants, clean and with an instrument's faults."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp
from scipy.signal import lfilter

from libcure import fitting
from libcure.fitting import Programme, Record
from libcure.fitting.model_free.schemes import fit_scheme
from libcure.fitting.model_free.standard_models import STANDARD
from libcure.fitting.model_free.steps import crossings
from libcure.fitting.model_free.verdict import late_fall
from libcure.fitting.run import processed

R = 8.31446261815324
HEAT = 350e3  # J/kg
RAMPS = (1.0, 2.0, 5.0, 10.0, 20.0)  # K/min
HOLDS = {323.0: 200e3, 338.0: 80e3, 353.0: 30e3}  # K: s


def k(ln_A, E, T):
    return np.exp(ln_A - E / (R * T))


def one_step(f, E=70e3, ln_A=17.0):
    return 1, lambda T, y: [k(ln_A, E, T) * f(np.clip(y[0], 0.0, 1.0))], lambda y: y[0]


def vitrified(T, y):
    """A step whose rate constant adds to that of diffusion, which falls with Tg - T; Tg by DiBenedetto."""
    a = np.clip(y[0], 0.0, 1.0)
    Tg = 250.0 + 170.0 * 0.4 * a / (1.0 - 0.6 * a)
    chemical, moving = k(17.0, 70e3, T), 1e-2 * np.exp(np.clip(0.35 * (T - Tg), -60.0, 30.0))
    return [(a + 0.02) * (1.0 - a) ** 1.3 / (1.0 / chemical + 1.0 / moving)]


def parallel(T, y):
    left = 1.0 - np.clip(y, 0.0, 1.0)
    return [k(13.0, 55e3, T) * left[0], k(22.0, 90e3, T) * left[1] ** 1.3]


def consecutive(T, y):
    """A to B to C; states: what has left A, and what has come to C."""
    a, c = np.clip(y, 0.0, 1.0)
    return [k(11.5, 50e3, T) * (1.0 - a), k(25.0, 100e3, T) * max(a - c, 0.0)]


# States, slopes, degree of cure by the heat.
TRUTHS = {
    "first order": one_step(lambda a: 1.0 - a),
    "order 1.6": one_step(lambda a: (1.0 - a) ** 1.6),
    "autocatalytic": one_step(lambda a: (a + 1e-3) ** 0.7 * (1.0 - a) ** 1.4),
    "diffusion": (1, vitrified, lambda y: y[0]),
    "parallel": (2, parallel, lambda y: 0.5 * y[0] + 0.5 * y[1]),
    "consecutive": (2, consecutive, lambda y: 0.5 * y[0] + 0.5 * y[1]),
}
SINGLE = ("first order", "order 1.6", "autocatalytic")


def cured(truth, T_of, t):
    """(n,) degree of cure along a temperature."""
    states, slopes, alpha = TRUTHS[truth]
    path = solve_ivp(lambda s, y: slopes(T_of(s), y), (t[0], t[-1]), np.zeros(states), "LSODA", t, rtol=1e-8, atol=1e-10)
    return np.asarray(alpha(path.y))


def recorded(truth, T_of, t, random, faults, beta=0.0):
    """A record in W/g: sample late by ``lag``, signal slow by ``tau``, mass and drift of its own, noise of half a per cent."""
    lag, tau, drift, mass = faults
    rate = np.gradient(cured(truth, lambda s: T_of(s) - beta * lag, t), t)
    keep = np.exp(-(t[1] - t[0]) / tau) if tau else 0.0
    seen = HEAT * lfilter([1.0 - keep], [1.0, -keep], rate, zi=[keep * rate[0]])[0]
    wander = drift * random.normal() * t / t[-1] if beta == 0.0 else 0.0
    seen = (1.0 + mass * random.normal()) * (seen + wander) + 0.005 * seen.max() * random.normal(size=len(t))
    return Record(t, T_of(t) + 0.0 * t, seen / 1e3, "W/g")


CLEAN, FAULTY = (0.0, 0.0, 0.0, 0.0), (4.0, 3.0, 0.15, 0.02)  # s, s, W/kg over a hold, share of a mass


def runs_of(truth, faults=CLEAN, holds=(), seed=1):
    random = np.random.default_rng(seed)
    found = []
    for beta in RAMPS:
        t = np.linspace(0.0, (570.0 - 250.0) / beta * 60.0, 1600)
        one = recorded(truth, lambda s, b=beta / 60.0: 250.0 + b * s, t, random, faults, beta / 60.0)
        found.append(fitting.analyse(one, f"{beta:g} K/min", heating_rate=beta / 60.0))
    heat = float(np.median([run.heat for run in found]))
    for T in holds:
        one = recorded(truth, lambda s, T=T: T + 0.0 * s, np.linspace(0.0, HOLDS[T], 1600), random, faults)
        run = fitting.analyse(one, f"{T:g} K", isothermal=T, total_heat=heat)
        run.on_ramps = True
        found.append(run)
    return found


@pytest.fixture(scope="module")
def clean():
    return {truth: fitting.analyse_without_law(runs_of(truth, holds=HOLDS if truth == "diffusion" else ())) for truth in TRUTHS}


@pytest.mark.parametrize("model", STANDARD, ids=lambda m: m.code)
def test_g_is_the_integral_of_one_over_f(model):
    for alpha in (0.1, 0.5, 0.9):
        found = quad(lambda x: 1.0 / float(model.f(np.array(x))), 0.0, alpha)[0]
        assert float(model.g(np.array(alpha))) == pytest.approx(found, rel=1e-6)


@pytest.mark.parametrize(("truth", "faults"), [(truth, faults) for truth in TRUTHS for faults in (CLEAN, FAULTY) if (truth, faults) != ("diffusion", FAULTY)])
def test_the_verdict_is_right(truth, faults):
    found = fitting.analyse_without_law(runs_of(truth, faults, HOLDS if truth == "diffusion" else (), seed=7)).verdict
    assert found.said == ("single" if truth in SINGLE else "not single"), found.reason
    wanted = {"first order": "nth-order", "order 1.6": "nth-order", "autocatalytic": "autocatalytic", "diffusion": "kamal-sourour with diffusion",
              "parallel": "parallel", "consecutive": "sequential"}  # fmt: skip
    assert wanted[truth] in found.laws
    assert "10 to 20 %" in found.reason


def test_diffusion_is_mostly_found_under_faults_and_never_made_up():
    """A drift may hide that a run stops, so not each laboratory sees it; one that drift makes is none."""
    def short(truth):
        return [bool(fitting.analyse_without_law(runs_of(truth, FAULTY, HOLDS, seed=seed)).stalls) for seed in range(1, 9)]

    assert sum(short("diffusion")) >= 4
    assert not any(short("first order"))


def test_a_verdict_takes_the_runs_scatter_into_account():
    """A thermometer that wanders by some 5 K lets E swing by more than 20 %; that is not called several steps."""
    runs = runs_of("first order", seed=3)
    random = np.random.default_rng(4)
    loose = []
    for run in runs:
        off = 5.0 * random.normal() * np.sin(np.linspace(0.0, 40.0, len(run.time)) + random.uniform(0, 6))
        loose.append(processed(replace(run, temperature=run.temperature + off)))
    found = fitting.analyse_without_law(loose).verdict
    assert found.variation > 0.2
    assert found.said == "undecided"
    assert found.surely < 0.1 < found.at_most


def test_energy_of_one_step_is_the_true_one(clean):
    for truth in SINGLE:
        steps = clean[truth].steps
        assert steps.E[2:17] == pytest.approx(70e3, rel=0.02)
        assert np.all((steps.low < 70e3) & (steps.high > 70e3))


def test_master_plots_pick_the_right_model(clean):
    plots = clean["first order"].plots
    assert plots.nearest[0].model.code == "F1"
    assert plots.nearest[0].both < 0.05 and plots.nearest[1].both > 3.0 * plots.nearest[0].both
    assert not plots.rises
    assert clean["autocatalytic"].plots.rises
    # a^0.7 (1 - a)^1.4 is greatest at 0.7/2.1.
    assert clean["autocatalytic"].plots.y_top == pytest.approx(1.0 / 3.0, abs=0.06)
    for code, f in (("A2", lambda a: 2.0 * (1.0 - a) * np.sqrt(-np.log1p(-np.minimum(a + 1e-6, 0.999999)))), ("R3", lambda a: 3.0 * (1.0 - a) ** (2 / 3)),
                    ("D3", lambda a: 1.5 * (1 - a) ** (2 / 3) / (1.0 - (1.0 - np.maximum(a, 1e-4)) ** (1 / 3)))):
        TRUTHS[code] = one_step(f)
        try:
            assert fitting.analyse_without_law(runs_of(code)).plots.nearest[0].model.code == code
        finally:
            del TRUTHS[code]


def test_combined_analysis_recovers_its_orders(clean):
    for truth, m, n in (("first order", 0.0, 1.0), ("order 1.6", 0.0, 1.6), ("autocatalytic", 0.7, 1.4)):
        found = clean[truth].combined
        assert (found.m, found.n) == pytest.approx((m, n), abs=0.04), truth
        assert found.E == pytest.approx(70e3, rel=0.02)
        assert found.ln_cA == pytest.approx(17.0, abs=0.5)
        assert found.correlation < -0.999


def test_pre_exponential_factor_by_compensation(clean):
    """A of a first-order step is the true one; of another order it is that of an f near 1 - alpha."""
    line = clean["first order"].compensation
    assert line.correlation > 0.99
    assert line.ln_A[3:16] == pytest.approx(17.0, abs=0.6)
    assert np.all((line.low[3:16] < 17.0) & (line.high[3:16] > 17.0))
    # The band is E's by the slope, and the scatter of the lines, which is little here.
    steps = clean["first order"].steps
    by_E = line.slope * (steps.high - steps.low)[3:16]
    assert np.all((line.high - line.low)[3:16] >= by_E) and np.all((line.high - line.low)[3:16] < 1.5 * by_E + 0.5)
    # A step of the model's own factor has A less by it: ln 3 for R3 (f = 3 (1 - a)^(2/3)).
    TRUTHS["R3"] = one_step(lambda a: 3.0 * (1.0 - a) ** (2 / 3))
    try:
        assert fitting.analyse_without_law(runs_of("R3")).compensation.ln_A[9] == pytest.approx(17.0 + np.log(3.0), abs=0.4)
    finally:
        del TRUTHS["R3"]


COLD = (320.0, 343.0)  # K, of which the first is far below where ramps react


@pytest.mark.parametrize("truth", SINGLE)
@pytest.mark.parametrize("faults", [CLEAN, FAULTY], ids=["clean", "lag, drift, mass"])
def test_forecast_holds_the_true_time_at_another_temperature(truth, faults):
    free = fitting.analyse_without_law(runs_of(truth, faults, seed=11))
    for T in COLD:
        t = np.concatenate([[0.0], np.geomspace(1.0, 4e7, 4000)])
        alpha = np.maximum.accumulate(cured(truth, lambda s, T=T: T + 0.0 * s, t))
        told = free.forecast(Programme("cold", np.zeros(1), np.array([T])))
        for at in (0.5, 0.9):
            _, low, high = told.at(at)
            assert low < float(np.interp(at, alpha, t)) < high
            assert high / low < 3.0, "a band that says something"


@pytest.mark.parametrize("truth", ["parallel", "consecutive"])
@pytest.mark.parametrize("faults", [CLEAN, FAULTY], ids=["clean", "lag, drift, mass"])
def test_forecast_of_several_steps_knows_its_own_bias(truth, faults):
    """Ramps alone: held warm, the steps share the cure otherwise, and the method is off by 10 to 80 %."""
    free = fitting.analyse_without_law(runs_of(truth, faults, seed=3))
    blind = replace(free, mixture=None)
    missed = held = 0
    for T in (323.0, 343.0, 363.0, 383.0):
        t = np.concatenate([[0.0], np.geomspace(1.0, 4e8, 4000)])
        alpha = np.maximum.accumulate(cured(truth, lambda s, T=T: T + 0.0 * s, t))
        programme = Programme("held", np.zeros(1), np.array([T]))
        told, before = free.forecast(programme), blind.forecast(programme)
        for at in (0.3, 0.5, 0.9):
            true = float(np.interp(at, alpha, t))
            value, low, high = told.at(at)
            held += low < true < high
            assert value == before.at(at)[0], "the forecast itself is without a law"
            missed += not before.at(at)[1] < true < before.at(at)[2]
    assert held >= 11, "of 12, by intervals of 95 %"
    assert missed >= 3, "what the runs scatter by alone does not tell it"


def test_one_step_needs_no_such_band(clean):
    assert all((clean[truth].mixture is None) == (clean[truth].verdict.said == "single") for truth in TRUTHS)


def test_forecast_follows_any_programme(clean):
    """A ramp to 60 °C, a soak, a second ramp, a soak."""
    time, T = 60.0 * np.array([0.0, 30.0, 150.0, 170.0, 400.0]), 273.15 + np.array([20.0, 60.0, 60.0, 90.0, 90.0])
    t = np.linspace(0.0, time[-1], 3000)
    alpha = cured("autocatalytic", lambda s: np.interp(s, time, T), t)
    told = clean["autocatalytic"].forecast(Programme("oven", time, T))
    for at in (0.3, 0.9):
        found, low, high = told.at(at)
        assert low < float(np.interp(at, alpha, t)) < high
        assert found == pytest.approx(float(np.interp(at, alpha, t)), rel=0.02)
    short = clean["autocatalytic"].forecast(Programme("short", time[:3], T[:3]))
    assert np.isnan(short.at(0.95)[0]), "the programme ends before"
    assert short.at(0.05)[0] == pytest.approx(told.at(0.05)[0], rel=1e-3)


def test_a_hold_that_vitrifies_stops_short_of_what_ramps_foretell(clean):
    free = clean["diffusion"]
    assert len(free.stalls) >= 2
    assert all(one.ended + 0.05 < one.foretold for one in free.stalls)
    assert free.stalls[0].ended < 0.9
    assert "ramps foretell" in free.verdict.reason
    for truth in SINGLE:
        assert fitting.analyse_without_law(runs_of(truth, FAULTY, HOLDS, seed=5)).stalls == ()


def test_fewer_than_three_runs_say_nothing():
    assert fitting.analyse_without_law(runs_of("first order")[:2]) is None


def test_runs_at_one_heating_rate_tell_no_energy():
    same = [run for _ in range(3) for run in runs_of("first order")[:1]]
    found = fitting.analyse_without_law(same)
    assert found.verdict is None
    assert np.isnan(found.steps.E).all()
    assert not len(found.forecast(Programme("cold", np.zeros(1), np.array([320.0]))).alpha)


def test_rates_at_degrees_of_cure_are_those_of_the_truth():
    runs = runs_of("first order")
    alpha = np.linspace(0.1, 0.9, 17)
    at = crossings(runs, alpha)
    true = np.exp(17.0 - 70e3 / (R * at.T)) * (1.0 - alpha)
    assert at.rate == pytest.approx(true, rel=0.03)


def test_e_that_falls_late_is_found():
    """Two parallel steps, the second of less energy, are one truth with a falling E; one step is none."""
    TRUTHS["falling"] = (2, lambda T, y: [k(24.0, 90e3, T) * (1 - min(y[0], 1.0)), k(6.0, 40e3, T) * (1 - min(y[1], 1.0))],
                         lambda y: 0.6 * y[0] + 0.4 * y[1])
    try:
        fall = late_fall(fitting.analyse_without_law(runs_of("falling")).steps)
    finally:
        del TRUTHS["falling"]
    assert fall is not None and fall.below < 0.8 * fall.above
    assert late_fall(fitting.analyse_without_law(runs_of("first order")).steps) is None


def test_a_notebook_sees_it(clean, tmp_path):
    free = clean["order 1.6"]
    assert repr(free).startswith("<ModelFree of 5 runs: single step")
    frame = free.to_dataframe()
    assert list(frame.columns)[:4] == ["alpha", "E_kJ_mol", "E_low_kJ_mol", "E_high_kJ_mol"]
    assert frame["E_kJ_mol"].between(frame["E_low_kJ_mol"], frame["E_high_kJ_mol"]).all()
    assert len(free.plot(tmp_path / "free.png").axes) == 4
    page = free._repr_html_()
    assert "One step may describe the reaction" in page and "Combined kinetic analysis" in page
    assert "Combined kinetic analysis" not in clean["parallel"]._repr_html_(), "no single f is met there"


def test_a_sequential_scheme_recovers_its_constants():
    """Truth: 50 and 100 kJ/mol, first order both, half of the heat each; three steps side by side follow it less well."""
    runs = runs_of("consecutive", FAULTY, seed=2)
    found = fit_scheme("sequential", runs, 70e3)
    values = {key: value for key, value, _ in found.constants}
    assert (values["E1_kJ_mol"], values["E2_kJ_mol"]) == pytest.approx((50.0, 100.0), rel=0.02)
    assert (values["n1"], values["n2"], values["share1"]) == pytest.approx((1.0, 1.0, 0.5), abs=0.03)
    assert values["k2_1_s"] == pytest.approx(k(25.0, 100e3, found.T_ref), rel=0.1)
    assert found.rms_rate < 0.006
    assert fit_scheme("three-step parallel", runs, 70e3).rms_left_out > 1.3 * found.rms_left_out
    assert not found.writable


def test_three_parallel_steps_recover_three():
    """Truth: steps apart enough to be told, with half of the heat in the middle one."""
    TRUTHS["three"] = (3, lambda T, y: [k(11.5, 50e3, T) * (1 - min(y[0], 1.0)), k(19.0, 80e3, T) * (1 - min(y[1], 1.0)),
                                        k(22.0, 105e3, T) * (1 - min(y[2], 1.0))], lambda y: 0.25 * y[0] + 0.5 * y[1] + 0.25 * y[2])
    try:
        runs = runs_of("three", seed=2)
    finally:
        del TRUTHS["three"]
    found = fit_scheme("three-step parallel", runs, 80e3)
    values = {key: value for key, value, _ in found.constants}
    steps = sorted((values[f"E{i}_kJ_mol"], values[f"share{i}"]) for i in (1, 2, 3))
    assert [E for E, _ in steps] == pytest.approx([50.0, 80.0, 105.0], rel=0.05)
    assert [share for _, share in steps] == pytest.approx([0.25, 0.5, 0.25], abs=0.04)
    assert found.writable
