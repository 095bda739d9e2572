"""Bad calorimeter data: a clear statement each, never a silent fit. And what the document reader refuses."""

import copy
import json
import re
from pathlib import Path

import numpy as np
import pytest
from dsc_synthetic import HEAT, hold, ramp, record
from typer.testing import CliRunner

import libcure
from libcure import fitting
from libcure.cli import app
from libcure.fitting.checks import compare_heats

NOTEBOOKS = Path(__file__).parents[2] / "notebooks"
DOCUMENT = json.loads((NOTEBOOKS / "data" / "dsc" / "fit.json").read_text(encoding="utf-8"))


def good(beta=5.0, noise=0.005, points=800, seed=1, **changes):
    r = record(ramp("kamal-sourour", beta, points), noise, np.random.default_rng(seed))
    parts = {"time": r.time, "temperature": r.temperature, "heat_flow": r.heat_flow, "heat_flow_unit": "W/g"}
    return fitting.Record(**{**parts, **changes})


def analyse(r, beta=5.0, **options):
    return fitting.analyse(r, "A", heating_rate=beta / 60, **options)


def codes(run):
    return {f.code for f in run.findings}


def test_good_data_raise_no_finding():
    run = analyse(good())
    assert codes(run) == set()
    assert run.heat == pytest.approx(HEAT, rel=0.02)


def test_unsorted_time():
    r = good()
    time = r.time.copy()
    time[[300, 301]] = time[[301, 300]]
    with pytest.raises(libcure.CureError, match=r"run A: time: .* in row 302; allowed: times that rise"):
        analyse(good(time=time))


def test_gap_inside_the_exotherm_is_refused_and_outside_is_said():
    r = good()
    top = int(np.argmax(r.heat_flow))

    def without(a, b):
        keep = np.r_[0:a, b : len(r.time)]
        return fitting.Record(r.time[keep], r.temperature[keep], r.heat_flow[keep], "W/g")

    with pytest.raises(libcure.CureError, match="without data .*no gap inside the exotherm"):
        analyse(without(top - 30, top + 10))
    far = len(r.time) - 100
    assert "gap" in codes(analyse(without(far, far + 40)))


def test_saturated_signal():
    r = good()
    with pytest.raises(libcure.CureError, match="the signal is saturated.*weigh in less"):
        analyse(good(heat_flow=np.minimum(r.heat_flow, 0.7 * r.heat_flow.max())))


def test_two_exotherms():
    r = good()
    second = 0.4 * r.heat_flow.max() * np.exp(-0.5 * ((r.temperature - 470) / 8) ** 2)
    run = analyse(good(heat_flow=r.heat_flow + second))
    (found,) = [f for f in run.findings if f.code == "two_exotherms"]
    assert "2 exotherms, at" in found.message
    assert "197 °C" in found.message


@pytest.mark.parametrize("left", [None, (280.0, 310.0)])
def test_wrong_sign(left):
    options = {} if left is None else {"left": left, "right": (500.0, 555.0)}
    with pytest.raises(libcure.CureError, match='exotherm: "down", but the peak points the other way'):
        analyse(good(), exotherm_up=False, **options)


def test_wrong_mass():
    runs = [fitting.analyse(good(beta), f"{beta:g} K/min", heating_rate=beta / 60) for beta in (2, 5, 10)]
    assert compare_heats(runs) == []
    wrong = good(20.0)
    runs.append(fitting.analyse(fitting.Record(wrong.time, wrong.temperature, 2 * wrong.heat_flow, "W/g"), "20 K/min",
                                heating_rate=20 / 60))
    (found,) = compare_heats(runs)
    assert found.about == "run 20 K/min"
    assert "Is the sample mass right?" in found.message
    fit = fitting.fit_law(fitting.FitLaw("kamal-sourour"), runs, options=fitting.Options(starts=4))
    assert fit.heat == pytest.approx(HEAT, rel=0.02)


@pytest.mark.parametrize(("keep", "side"), [((360.0, 560.0), "before"), ((270.0, 400.0), "after")])
def test_no_baseline_region(keep, side):
    r = good()
    inside = (r.temperature > keep[0]) & (r.temperature < keep[1])
    with pytest.raises(libcure.CureError, match=f"no straight signal {side} the exotherm"):
        analyse(fitting.Record(r.time[inside], r.temperature[inside], r.heat_flow[inside], "W/g"))


def test_a_linear_baseline_under_a_heat_capacity_step_is_said():
    r = good()
    released = np.concatenate([[0.0], np.cumsum(r.heat_flow[1:] * np.diff(r.time))])
    step = -0.15 * r.heat_flow.max() * np.clip(released / released[-1], 0.0, 1.0)
    stepped = good(heat_flow=r.heat_flow + step)
    (found,) = [f for f in analyse(stepped, baseline="linear").findings if f.code == "linear_baseline"]
    assert re.search(r"a linear baseline gives \d+\.\d J/g, a tangential-sigmoidal one \d+\.\d J/g, and degrees of cure up "
                     r"to 0\.0\d\d apart", found.message)
    assert "linear_baseline" not in codes(analyse(stepped))
    for seed in range(8):
        for noise in (0.002, 0.005, 0.02):
            assert "linear_baseline" not in codes(analyse(good(noise=noise, seed=seed), baseline="linear"))
    assert analyse(stepped).heat == pytest.approx(HEAT, rel=0.02)


@pytest.mark.parametrize("kind", ["linear", "tangential-sigmoidal", "spline"])
def test_each_baseline_finds_the_heat_over_a_straight_zero(kind):
    assert analyse(good(), baseline=kind).heat == pytest.approx(HEAT, rel=0.02)


def test_a_spline_follows_a_curved_zero_through_chosen_ends():
    r = good(noise=0.002)
    u = (r.temperature - 270.0) / 290.0
    bent = good(heat_flow=r.heat_flow + 0.4 * r.heat_flow.max() * u * u)
    ends = {"left": (290.0, 330.0), "right": (500.0, 545.0)}
    off = {kind: abs(analyse(bent, baseline=kind, **ends).heat / HEAT - 1.0) for kind in ("linear", "spline")}
    assert off["spline"] < 0.03
    assert off["linear"] > 2.0 * off["spline"]


def test_wrong_heating_rate():
    with pytest.raises(libcure.CureError, match=r"heating_rate_K_min: 10; allowed: 5, as the temperatures"):
        analyse(good(5.0), beta=10.0)


def test_heating_rate_that_nobody_stated_is_that_of_the_record():
    taken = fitting.analyse(good(5.0), "A")
    assert 60.0 * taken.heating_rate == pytest.approx(5.0, rel=1e-3) and codes(taken) == {"heating_rate"}
    assert taken.heat == pytest.approx(analyse(good(5.0)).heat, rel=1e-3)
    entry = {key: value for key, value in DOCUMENT["runs"][0].items() if key != "heating_rate_K_min"}
    study = fitting.study.from_document({**DOCUMENT, "runs": [entry, *DOCUMENT["runs"][1:]]}, NOTEBOOKS / "data" / "dsc")
    stated = DOCUMENT["runs"][0]["heating_rate_K_min"]
    assert 60.0 * study.runs[0].heating_rate == pytest.approx(stated, rel=0.01)
    assert f"{60.0 * study.runs[0].heating_rate:.4g} K/min" in next(f.message for f in study.findings if f.code == "heating_rate")


@pytest.mark.parametrize("bent", [
    lambda T, u: T + 6.0 * u * u,  # its last quarter rises faster than its first by more than a tenth
    lambda T, u: T[::-1],
    lambda T, u: np.full(len(T), 350.0) + 0.5 * u,
])  # fmt: skip
def test_a_heating_rate_is_taken_from_a_steady_rise_alone(bent):
    r = good(5.0)
    u = np.linspace(-1.0, 1.0, len(r.time))
    with pytest.raises(libcure.CureError, match=r"heating_rate_K_min: missing; allowed: .*within 5%"):
        fitting.analyse(good(5.0, temperature=bent(r.temperature, u)), "A")


def test_statements_of_what_the_data_cannot_tell():
    runs = [fitting.analyse(good(beta, 0.02, 400), f"{beta:g} K/min", heating_rate=beta / 60) for beta in (5.0,)]
    assert {"few_ramps"} <= {f.code for f in fitting.isoconversional_analysis(runs).findings}
    fit = fitting.fit_law(fitting.FitLaw("autocatalytic"), runs, options=fitting.Options(starts=4))
    said = {f.code: f.message for f in fitting.identifiability(fit, [], [], [], runs, [fit])}
    assert re.search(r"are correlated -?(0\.9\d\d|1\.000): the data know a combination", said["correlated"])
    assert "is hardly known" in said["unknown"]
    assert "add a" in said["correlated"]
    assert "no run vitrifies" in said["diffusion"]
    assert "known to a factor of" in said["extrapolation"]


HELD = {318.0: 60e3, 338.0: 30e3, 358.0: 15e3}  # K, s


def held(truth, signal=lambda x, peak: 0.0, temperatures=tuple(HELD), points=800, **options):
    """Isothermal runs of a truth whose recorded signal goes astray: ``signal`` is of the share of the time and the peak."""
    random, runs = np.random.default_rng(1), []
    for T in temperatures:
        clean = hold(truth, T, HELD[T], points)
        r = record(clean, 0.005, random)
        off = signal(r.time / r.time[-1], HEAT * clean[3].max() / 1e3)
        runs.append(fitting.analyse(fitting.Record(r.time, r.temperature, r.heat_flow + off, "W/g"), f"{T:g} K", isothermal=T,
                                    **{"total_heat": HEAT, **options}))
        runs[-1].on_ramps = "residual_heat" not in options
    return runs


def said_of_diffusion(runs, law=fitting.FitLaw("nth-order")):
    ramps = [fitting.analyse(good(beta, points=300), f"{beta:g}", heating_rate=beta / 60) for beta in (3.0, 12.0)]
    fit = fitting.fit_law(law, ramps, options=fitting.Options(starts=2))
    found = [f for f in fitting.identifiability(fit, [], [], [], [*ramps, *runs], [fit]) if f.code.startswith("diffusion")]
    return " ".join(f.message for f in found)


DRIFTS = {
    "none": lambda x, peak: 0.0 * x,
    "line up": lambda x, peak: 0.05 * peak * x,
    "line down": lambda x, peak: -0.05 * peak * x,
    "slow line": lambda x, peak: 0.02 * peak * x,
    "settling": lambda x, peak: -0.05 * peak * np.exp(-5.0 * x),
    "wave": lambda x, peak: 0.02 * peak * np.cos(7.0 * x),
}


@pytest.mark.parametrize("drift", DRIFTS)
@pytest.mark.parametrize("truth", ["nth-order", "autocatalytic", "kamal-sourour", "two-branch"])
def test_drift_is_not_taken_for_vitrification(truth, drift):
    """None of these truths has diffusion control: what a record stops short of is time, or the drift of its signal."""
    said = said_of_diffusion(held(truth, DRIFTS[drift]))
    assert "it vitrifies." not in said
    assert "cannot be told apart" in said or "no run vitrifies" in said


@pytest.mark.parametrize("truth", ["chern-poehlein", "rabinowitch"])
def test_a_resin_that_vitrifies_is_called_so_on_evidence_only(truth):
    said = said_of_diffusion(held(truth))
    assert "it vitrifies. Fit the law with diffusion" in said
    assert "rests on this: final degrees of cure rise with temperature (0." in said
    # Two temperatures, or a signal that drifts, are none; the heat found in a ramp afterwards is.
    assert "cannot be told apart" in said_of_diffusion(held(truth, temperatures=(318.0, 338.0)))
    assert "cannot be told apart" in said_of_diffusion(held(truth, DRIFTS["line up"]))
    rescanned = held(truth, temperatures=(318.0,), residual_heat=0.3 * HEAT, total_heat=None)
    assert "it vitrifies. Fit the law with diffusion" in said_of_diffusion(rescanned)


@pytest.mark.parametrize("temperature", [318.0, 338.0])
def test_a_slow_hold_that_drifts_is_not_said_to_point_the_other_way(temperature):
    """Its signal rises by twice the exotherm until the end: what a person sees is a rise, and no peak that points down."""
    with pytest.raises(libcure.CureError, match=r"heat flow: still rises at the end of the record, by 0\.0\d+ W/g an hour.*give end_min") as found:
        held("kamal-sourour", lambda x, peak: 2.0 * peak * x, temperatures=(temperature,))
    assert "the other way" not in str(found.value)
    upside = hold("kamal-sourour", temperature, HELD[temperature], 800)
    r = record(upside, 0.005, np.random.default_rng(1))
    with pytest.raises(libcure.CureError, match='"up", but the peak points the other way'):
        fitting.analyse(fitting.Record(r.time, r.temperature, -r.heat_flow, "W/g"), "turned", isothermal=temperature, total_heat=HEAT)


@pytest.mark.parametrize("truth", ["nth-order", "parallel"])
def test_a_hold_that_ends_above_its_tail_is_not_said_to_point_the_other_way(truth):
    """It begins with a strong exotherm, which points up, and drifts by less: it hides the heat and is no peak that points down."""
    with pytest.raises(libcure.CureError, match=r"heat flow: falls to 0\.0\d+ W/g below the level of its end.*give end_min") as found:
        held(truth, lambda x, peak: 0.4 * peak * x, temperatures=(338.0,))
    assert "the other way" not in str(found.value)


@pytest.mark.parametrize("truth", ["nth-order", "kamal-sourour"])
def test_final_degrees_that_three_ramps_speak_against_are_no_vitrification(truth):
    """A signal that rises in the cold run only makes final degrees rise with temperature; ramps of the same resin foretell better."""
    runs = [fitting.analyse(record(ramp(truth, beta, 600), 0.005, np.random.default_rng(2)), f"{beta:g}", heating_rate=beta / 60)
            for beta in (2.0, 6.0, 18.0)]
    fit = fitting.fit_law(fitting.FitLaw("nth-order"), runs, options=fitting.Options(starts=2))
    for drift in DRIFTS.values():
        said = " ".join(f.message for f in fitting.identifiability(fit, [], [], [], [*runs, *held(truth, drift)], [fit]))
        assert "it vitrifies." not in said


def test_diffusion_control_that_rests_on_drift_is_said():
    law = fitting.FitLaw("kamal-sourour", diffusion=True, fixed={"C": 30.0, "alpha_c": 0.9, "alpha_cT_1_K": 0.005})
    said = said_of_diffusion(held("kamal-sourour", DRIFTS["line up"]), law)
    assert "cannot be told apart" in said
    assert "The law's diffusion control rests on that" in said
    assert said_of_diffusion(held("chern-poehlein"), law) == ""


def test_degrees_of_cure_that_cannot_be_are_said():
    (above,) = held("kamal-sourour", lambda x, peak: -0.08 * peak * x, temperatures=(358.0,))
    (found,) = [f for f in above.findings if f.code == "alpha_above_one"]
    assert above.alpha[-1] > 1.2
    assert f"the degree of cure goes up to {above.alpha.max():.2f}, and 1 is all there is" in found.message
    (falling,) = held("kamal-sourour", lambda x, peak: 0.08 * peak * x, temperatures=(358.0,))
    (found,) = [f for f in falling.findings if f.code == "alpha_falls"]
    assert re.search(r"the degree of cure falls by 0\.\d\d until \d+ min, which no cure does", found.message)
    for truth in ("nth-order", "kamal-sourour", "chern-poehlein"):
        for run in held(truth):
            assert not codes(run) & {"alpha_above_one", "alpha_falls"}


def test_units_of_peaks_are_checked():
    for method in (fitting.kissinger, fitting.e698):
        with pytest.raises(libcure.CureError, match=r"heating_rate and peak: 5, 20 K/s, which would be 1200 K/min; these look like "
                           r"K/min: divide by 60; 110, 146.3 K, colder than any cure; these look like °C: add 273.15; "
                           r"allowed: heating rates in K/s and temperatures in K"):
            method([5.0, 20.0], [110.0, 146.3])
        with pytest.raises(libcure.CureError, match=r"^heating_rate: 1, 2.5, 5 K/s"):
            method([1.0, 2.5, 5.0], [373.0, 388.0, 399.0])
        with pytest.raises(libcure.CureError, match=r"^peak: 110, 146.3 K"):
            method([5.0 / 60, 20.0 / 60], [110.0, 146.3])
        with pytest.raises(libcure.CureError, match="finite|K"):
            method([5.0 / 60, 20.0 / 60], [383.0, np.nan])
        assert method([5.0 / 60, 20.0 / 60], [383.15, 419.45]).E > 30e3


def test_temperatures_in_celsius_are_refused():
    in_minutes = [fitting.analyse(good(beta), f"{beta:g}", heating_rate=beta / 60) for beta in (2.0, 5.0, 12.0)]
    for run in in_minutes:
        run.heating_rate *= 60.0
    for method in (fitting.isoconversional, fitting.isoconversional_analysis):
        with pytest.raises(libcure.CureError, match=r"run 12: 12 K/s, .* look like K/min"):
            method(in_minutes)
    runs = [fitting.analyse(good(beta), f"{beta:g}", heating_rate=beta / 60) for beta in (2.0, 5.0, 12.0)]
    for run in runs:
        run.temperature = run.temperature - 273.15
    for method in ("friedman", "kas", "vyazovkin"):
        with pytest.raises(libcure.CureError, match="run 2: .* these look like °C: add 273.15"):
            fitting.isoconversional(runs, method)
    with pytest.raises(libcure.CureError, match="these look like °C"):
        fitting.isoconversional_analysis(runs)
    with pytest.raises(libcure.CureError, match="are the temperatures in degC"):
        fitting.fit_law(fitting.FitLaw("nth-order", fixed={"n": 1.0, "E_kJ_mol": 60.0}), [],
                        [fitting.GelTime("film", 1800.0, 20.0, 20.0)], T_ref=293.15)


def test_missing_mass():
    with pytest.raises(libcure.CureError, match="mass"):
        analyse(good(heat_flow_unit="mW"))


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ("", "empty"),
        ("time_s,temperature_C\n1,2\n", "no column for heat flow"),
        ("time_s,temperature_R,heat_flow_mW\n1,2,3\n", 'unit "R"'),
        ("time_s,temperature_C,heat_flow_mW\n" + "1,2,3\n" * 60 + "1,2,x\n", 'line 62, heat flow: "x"'),
        ("time_s,temperature_C,heat_flow_mW\n" + "1,2,nan\n" * 60, "finite number"),
        ("time_s,temperature_C,heat_flow_mW\n1,2,3\n", "1 rows"),
    ],
)
def test_bad_csv(text, match, tmp_path):
    file = tmp_path / "run.csv"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(libcure.CureError, match=match) as caught:
        fitting.read_csv(file)
    assert str(file) in str(caught.value)


def test_csv_dialects_read_alike(tmp_path):
    t, T, q = np.arange(60) / 7, 20 + np.arange(60) / 3, np.sin(np.arange(60))
    rows = list(zip(t, T, q, strict=True))
    comma, semicolon, tab = (tmp_path / f"{n}.csv" for n in "abc")
    comma.write_text("time_min,temperature_C,heat_flow_mW\n" + "".join(f"{a:.9f},{b:.9f},{c:.9f}\n" for a, b, c in rows))
    semicolon.write_text("# a note; with signs\nHeat flow [mW];Time [min];Temperature [°C];other\n" + "".join(
        f"{c:.9f};{a:.9f};{b:.9f};x\n".replace(".", ",") for a, b, c in rows), encoding="utf-8")
    tab.write_text("Time (s)\tTemp. (K)\tHeat flow (uW)\n" + "".join(
        f"{60 * a:.9f}\t{b + 273.15:.9f}\t{1e3 * c:.9f}\n" for a, b, c in rows))
    one, two, three = (fitting.read_csv(f) for f in (comma, semicolon, tab))
    assert np.allclose(one.time, two.time) and np.allclose(one.time, three.time)
    assert np.allclose(one.temperature, two.temperature) and np.allclose(one.temperature, three.temperature)
    assert np.allclose(one.heat_flow, two.heat_flow) and np.allclose(1e3 * one.heat_flow, three.heat_flow)
    assert (one.heat_flow_unit, three.heat_flow_unit) == ("mW", "uW")


BAD = {
    "unknown key": (("runs", 0, "mas_mg"), 3, "mass_mg"),
    "unknown law": (("laws", 0, "law"), "guess", "nth-order"),
    "negative mass": (("runs", 0, "mass_mg"), -1, "runs"),
    "text for number": (("runs", 0, "mass_mg"), "8", "runs"),
    "no sign": (("runs", 0, "exotherm"), "left", "up"),
    "both programmes": (("runs", 0, "isothermal_C"), 60, "runs"),
    "no laws": (("laws",), [], "laws"),
    "too many starts": (("options", "starts"), 10**9, "starts"),
    "unknown option": (("options", "sed"), 1, "seed"),
    "unknown family": (("model", "family"), "glue", "family"),
    "id with a path": (("model", "id"), "../up", "id"),
    "empty title": (("title",), " ", "title"),
    "unknown fixed": (("laws", 0, "fixed"), {"q": 1}, "fixed"),
    "unknown diffusion": (("laws", 0, "diffusion"), "free", "rabinowitch"),
    "ether is no number": (("laws", 0, "ether"), 1, "ether"),
    "too small a bootstrap": (("options", "bootstrap"), 5, "20"),
    "unknown baseline": (("runs", 0, "baseline"), {"kind": "cubic"}, "kind"),
    "wrong format": (("format",), "libcure/fit/2", "format"),
}


def changed(path, value):
    document = copy.deepcopy(DOCUMENT)
    place = document
    for step in path[:-1]:
        place = place[step]
    place[path[-1]] = value
    return document


@pytest.mark.parametrize("name", BAD)
def test_bad_documents_are_refused_by_reader_and_schema(name, tmp_path):
    path, value, said = BAD[name]
    document = changed(path, value)
    file = tmp_path / "fit.json"
    file.write_text(json.dumps(document), encoding="utf-8")
    with pytest.raises(libcure.CureError) as caught:
        fitting.load(file)
    assert said in str(caught.value)
    with pytest.raises(libcure.CureError):
        libcure.validate(document)


@pytest.mark.parametrize(
    ("path", "value", "said"),
    [
        (("runs", 1, "id"), DOCUMENT["runs"][0]["id"], "each id once"),
        (("options", "held_out"), "nobody", "the id of a run"),
        (("laws", 0, "fixed"), {"m": 1.0}, "fixed.m"),
        (("laws", 1, "initial_cure"), False, "alpha0"),
        (("laws", 1), {"law": "nth-order"}, "each law once"),
        (("laws", 1), {"law": "nth-order", "ether": True}, "laws[1].ether"),
        (("laws", 1), {"law": "epoxy-amine", "inhibitor": True}, "laws[1].inhibitor"),
        (("laws", 1), {"law": "epoxy-amine"}, "laws[1].fixed.hydrogens: missing; allowed: amine hydrogens per epoxide"),
        (("laws", 1), {"law": "epoxy-amine", "fixed": {"hydrogens": 1.0}}, "fixed.hydroxyl"),
        (("laws", 1), {"law": "two-branch", "fixed": {"B": 9.0}}, "laws[1].fixed.B: 9; allowed: 0.05 to 1"),
        (("model", "properties_from"), "no-such-resin", "one of"),
        (("runs", 0, "file"), "no_such.csv", "no_such.csv"),
        (("runs", 0, "begin_min"), 3, "only for isothermal"),
        (("runs", 0, "baseline"), {"left_C": [60, 20], "right_C": [200, 250]}, "ascending"),
    ],
)
def test_what_only_the_reader_can_see(path, value, said):
    with pytest.raises(libcure.CureError) as caught:
        fitting.study.from_document(changed(path, value), NOTEBOOKS / "data" / "dsc")
    assert said in str(caught.value)


def test_every_law_of_the_schema_is_read():
    laws = [{"law": "two-branch", "fixed": {"B": 0.6, "alpha_switch": 0.3, "k2_over_k1": -0.5}},
            {"law": "epoxy-amine", "ether": True, "fixed": {"hydrogens": 1.0, "hydroxyl": 0}},
            {"law": "kamal-sourour", "diffusion": "rabinowitch", "fixed": {"C1": 40.2, "C2_K": 51.6}},
            {"law": "nth-order", "diffusion": True}, {"law": "autocatalytic", "inhibitor": True}, {"law": "parallel"},
            {"law": "autocatalysed-nth-order"}]
    document = changed(("laws",), laws)
    libcure.validate(document)
    read = fitting.study.from_document(document, NOTEBOOKS / "data" / "dsc").laws
    assert [law.diffusion_form for law in read] == ["none", "none", "rabinowitch", "chern-poehlein", "none", "none", "none"]
    assert read[2].glass_transition == pytest.approx((238.15, 352.15, 0.4))
    assert {law.base for law in read} | {"kamal-sourour"} == set(fitting.laws.BASES)
    keys = {p.key for law in read for p in law.parameters}
    schema = json.loads((libcure.models_folder() / "schema" / "fit.schema.json").read_text(encoding="utf-8"))
    assert set(schema["$defs"]["law"]["properties"]["fixed"]["properties"]) == keys
    assert tuple(schema["$defs"]["law"]["properties"]["law"]["enum"]) == fitting.laws.BASES


def test_shipped_document_fits_its_schema():
    libcure.validate(DOCUMENT)


def test_command_writes_a_model_that_predict_takes(tmp_path):
    document = copy.deepcopy(DOCUMENT)
    document["runs"] = [r for r in document["runs"] if "2.5" not in r["id"] and "isothermal_C" not in r]
    for run in document["runs"]:
        run["file"] = str(NOTEBOOKS / "data" / "dsc" / run["file"])
    document["laws"] = [{"law": "kamal-sourour"}]
    document["options"] = {"starts": 4, "bootstrap": 20}
    file, out = tmp_path / "fit.json", tmp_path / "out"
    file.write_text(json.dumps(document), encoding="utf-8")
    done = CliRunner().invoke(app, ["fit", str(file), "--out", str(out)])
    assert done.exit_code == 0, done.output
    assert sorted(p.name for p in out.iterdir()) == [
        "curves.csv", "energies.csv", "fit.json", "invented-epoxy-fitted.json", "model_free.csv", "predictions.csv", "report.html", "report.pdf",
        "residuals.csv"]
    model = out / "invented-epoxy-fitted.json"
    written = json.loads(model.read_text(encoding="utf-8"))
    assert len(written["covariance"]["matrix"]) == 7
    assert written["rate"]["k2"]["E"]["value"] == pytest.approx(55.0, abs=2.0)
    assert libcure.load_resin(model).id == "invented-epoxy-fitted"
    page = (out / "report.html").read_text(encoding="utf-8")
    assert "http" not in page.replace("data:image", "")
    assert "what they do not" in page
    assert "95 % (bootstrap of 20)" in page
    case = json.loads((libcure.models_folder() / "cases" / "cold_ground_winter.json").read_text(encoding="utf-8"))
    case["resin"] = str(model)
    assert libcure.predict(case).times.gel_first_min > 0
    samples = libcure.models.resin_samples(model, {"rate.k2.E": np.array([54.0, 56.0])})
    assert len(samples) == 2


def test_command_refuses_in_one_line_and_writes_nothing(tmp_path):
    out = tmp_path / "out"
    file = tmp_path / "fit.json"
    file.write_text(json.dumps(changed(("runs", 0, "exotherm"), "up")).replace('"ramp_1K.csv"', json.dumps(
        str(NOTEBOOKS / "data" / "dsc" / "ramp_1K.csv"))), encoding="utf-8")
    done = CliRunner().invoke(app, ["fit", str(file), "--out", str(out)])
    assert done.exit_code == 2
    assert not out.exists()
