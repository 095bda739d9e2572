"""What a fit hands on: peaks alone, fit.json and tables, report on paper and on a telephone, and what a notebook shows."""

import base64
import copy
import csv
import json
import pickle
import re
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from calorimeter_chain import HOLDS, Faults, hold_record, solved
from forked_command import run
from scipy.integrate import solve_ivp
from scipy.stats import linregress, t
from test_fit_instrument import ramps, study_of

import libcure
from libcure import fitting
from libcure.render import fit_pictures
from libcure.render.pages import Pages

DSC = Path(__file__).parents[2] / "notebooks" / "data" / "dsc"
SHIPPED = json.loads((DSC / "fit.json").read_text(encoding="utf-8"))
PEAKS = [{"heating_rate_K_min": 5, "temperature_C": 110.0}, {"heating_rate_K_min": 10, "temperature_C": 127.1},
         {"heating_rate_K_min": 20, "temperature_C": 146.3}]  # fmt: skip
ALONE = {"format": "libcure/fit/1", "title": "Three peaks", "peaks": PEAKS}


def written(tmp_path, document, name="job.json"):
    file = tmp_path / name
    file.write_text(json.dumps(document), encoding="utf-8")
    return file


@pytest.fixture(scope="module")
def study():
    document = copy.deepcopy(SHIPPED)
    document["laws"] = [{"law": "kamal-sourour"}, {"law": "nth-order"}]
    document["options"] = {"starts": 4}
    document["gel_times"] = [{"id": "film", "gel_time_min": 40.0, "ambient_C": 60.0, "alpha_gel": 0.5}]
    return fitting.run(fitting.study.from_document(document, DSC))


def test_peaks_alone_give_energies_with_students_interval(tmp_path):
    out = tmp_path / "out"
    done = run("fit", written(tmp_path, ALONE), "--out", out)
    beta = np.array([p["heating_rate_K_min"] for p in PEAKS]) / 60.0
    T = np.array([p["temperature_C"] for p in PEAKS]) + 273.15
    line = linregress(1.0 / T, np.log(beta / T**2))  # Kissinger, Anal. Chem. 29, 1702, 1957
    E, half = (-8.31446261815324e-3 * line.slope, 8.31446261815324e-3 * line.stderr * t.ppf(0.975, 1))
    assert f"Kissinger      {E:.1f} ± {half:.1f} kJ/mol" in done.stdout
    assert "ASTM E698" in done.stdout and re.search(r"^without a law +E, 95 % *$", done.stdout, re.M)
    result = json.loads((out / "fit.json").read_text(encoding="utf-8"))
    libcure.validate(result)
    found = result["activation_energy"]["by_peaks"]["kissinger"]
    assert found["E_kJ_mol"] == pytest.approx(E, rel=1e-9)
    assert (found["low_kJ_mol"], found["high_kJ_mol"]) == pytest.approx((E - half, E + half), rel=1e-9)
    page = (out / "report.html").read_text(encoding="utf-8")
    assert f"{E:.2f}" in page and f"{E - half:.2f} to {E + half:.2f}" in page
    assert sorted(p.name for p in out.iterdir()) == ["fit.json", "report.html", "report.pdf"]


def test_two_peaks_have_no_interval_and_it_is_said(tmp_path):
    out = tmp_path / "out"
    done = run("fit", written(tmp_path, {**ALONE, "peaks": PEAKS[::2]}), "--out", out)
    said = " ".join(done.stdout.split())
    assert "Kissinger 44.4 kJ/mol (two peaks: no interval)" in said
    assert "how far it may be off is not known. Add a third heating rate." in said
    assert "nan" not in done.stdout + (out / "report.html").read_text(encoding="utf-8").replace("data:image", "").split("<picture")[0]
    result = json.loads((out / "fit.json").read_text(encoding="utf-8"))
    assert result["activation_energy"]["by_peaks"]["e698"]["low_kJ_mol"] is None


def test_peaks_stand_beside_those_of_the_runs():
    document = copy.deepcopy(SHIPPED)
    document["runs"] = [r for r in document["runs"] if "isothermal_C" not in r][:2]
    alone = fitting.study.from_document(document, DSC)
    document["peaks"] = [{"heating_rate_K_min": 40, "temperature_C": 160.0}]
    both = fitting.study.from_document(document, DSC)
    few, more = (fitting.isoconversional_analysis(s.runs, s.peaks) for s in (alone, both))
    assert len(more.peaks) == len(few.peaks) + 1
    assert more.heating_rates[-1] == pytest.approx(40 / 60)
    assert np.isnan(few.kissinger.half_width) and more.kissinger.half_width > 0


@pytest.mark.parametrize(("change", "said"), [
    ({"laws": [{"law": "nth-order"}]}, "laws: given with peaks alone"),
    ({"peaks": PEAKS[:1]}, "peaks: 1 heating rates"),
    ({"peaks": [PEAKS[0], {**PEAKS[1], "temperature_C": 100.0}]}, "peaks at two or more heating rates that rise with them"),
    ({"peaks": [{"heating_rate_K_min": 5, "temperature_K": 383}]}, "peaks[0].temperature_C: missing"),
    ({"peaks": [{"heating_rate_K_min": 5, "temperature_C": 1383}]}, "peaks"),
    ({"peaks": None, "runs": SHIPPED["runs"]}, "laws: missing; allowed: the laws to fit"),
    ({"peaks": None}, "runs: missing; allowed: runs, gel_times or peaks"),
])  # fmt: skip
def test_peaks_that_cannot_be_are_refused(change, said, tmp_path):
    document = {k: v for k, v in {**ALONE, **change}.items() if v is not None}
    done = run("fit", written(tmp_path, document), "--out", tmp_path / "out", code=2)
    assert said in done.stderr
    assert done.stderr.count("\n") == 1


@pytest.fixture(scope="module")
def files(study, tmp_path_factory):
    """What is written of the study, once, and how full each page of paper was when it was turned."""
    filled = []
    turn = Pages.turn

    def watched(pages):
        if pages.pages and pages.y > pages.margin + 4.0:
            filled.append(pages.y / pages.height)
        turn(pages)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Pages, "turn", watched)
        return fitting.write(study, tmp_path_factory.mktemp("files")), filled


def test_all_files_say_the_same(study, files):
    files = files[0]
    tmp_path = files.result.parent
    assert sorted(p.name for p in tmp_path.iterdir()) == sorted(
        ["invented-epoxy-fitted.json", "report.html", "report.pdf", "fit.json", "curves.csv", "residuals.csv", "energies.csv", "model_free.csv",
         "predictions.csv"])
    assert files.all == [tmp_path / p.name for p in files.all]
    result = json.loads(files.result.read_text(encoding="utf-8"))
    libcure.validate(result)
    best = study.best
    assert [law["law"] for law in result["laws"]] == [fit.law.label for fit in study.fits]
    for k, p in enumerate(best.free_parameters):
        entry = result["laws"][0]["constants"][k]
        assert entry["value"] == p.outside(float(best.x[k]))
        assert entry["low"] < entry["value"] < entry["high"]
        assert entry["profile"][0] is None or entry["profile"][0] < entry["value"]
    with (tmp_path / "curves.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    with (tmp_path / "residuals.csv").open(encoding="utf-8") as file:
        left = list(csv.DictReader(file))
    assert len(rows) == len(left) == sum(len(r.t) for r in best.runs)
    first = [r for r in rows if r["run"] == best.runs[0].id]
    rate, fitted = (np.array([float(r[k]) for r in first]) for k in ("rate_1_s", "rate_fit_1_s"))
    np.testing.assert_allclose(rate, best.runs[0].rate, rtol=1e-6, atol=1e-12)
    off = np.array([float(r["rate_over_peak"]) for r in left if r["run"] == best.runs[0].id])
    np.testing.assert_allclose(off, (rate - fitted) / rate.max(), atol=1e-6)
    with (tmp_path / "energies.csv").open(encoding="utf-8") as file:
        energies = list(csv.DictReader(file))
    assert {r["method"] for r in energies} == {"friedman", "kas", "vyazovkin"}
    assert "nan" not in (tmp_path / "energies.csv").read_text(encoding="utf-8")
    scatter = t.ppf(0.975, sum(r.dynamic for r in best.runs) - 1) * best.heat_error
    half = best.heat_half_width
    # The scatter by Student's t, and what baselines hide in all ramps alike.
    assert scatter < half < scatter + 0.1 * best.heat
    heat = next(c for c in result["laws"][0]["constants"] if c["constant"] == "heat_J_g")
    assert heat["high"] - heat["value"] == pytest.approx(half / 1e3)


def test_files_are_written_all_or_none(study, tmp_path, monkeypatch):
    """And it is told before anything is drawn."""
    monkeypatch.setattr("libcure.rendering.report", None)
    (tmp_path / "energies.csv").mkdir()
    with pytest.raises(libcure.CureError, match=r"--out: .*energies\.csv.*ordinary file"):
        fitting.write(study, tmp_path)
    assert [p.name for p in tmp_path.iterdir()] == ["energies.csv"]


def test_the_result_never_replaces_the_document(tmp_path):
    file = written(tmp_path, ALONE, "fit.json")
    before = file.read_bytes()
    done = run("fit", file, "--out", tmp_path, code=2)
    assert "another folder: the result, fit.json, would replace the document" in done.stderr
    assert file.read_bytes() == before
    assert [p.name for p in tmp_path.iterdir()] == ["fit.json"]


def test_check_knows_the_result(files):
    assert "valid: libcure/fit-result/1" in run("check", files[0].result).stdout


def test_no_page_on_paper_is_half_empty(files):
    filled = files[1]
    assert len(filled) >= 3
    assert min(filled) > 0.6


def test_the_page_reads_on_a_narrow_screen(files):
    page = files[0].page.read_text(encoding="utf-8")
    assert '<meta name="viewport" content="width=device-width, initial-scale=1">' in page
    pictures = re.findall(r'<picture><source media="\(max-width: 640px\)" srcset="data:image/png;base64,([^"]+)"><img alt="[^"]+" '
                          r'src="data:image/png;base64,([^"]+)">', page)  # fmt: skip
    assert len(pictures) == page.count("<img") == 9
    for narrow, wide in pictures:
        # The header has the width in bytes 16 to 19 (ISO/IEC 15948, 11.2.2).
        across = [int.from_bytes(base64.b64decode(png[:64])[16:20], "big") for png in (narrow, wide)]
        assert across[0] <= 660 < across[1]
    cells = re.findall(r"<td[^>]*>", page)
    assert cells and all('data-head="' in cell for cell in cells)


def test_notebooks_show_each_part(study, tmp_path):
    free, best = study.isoconversional, study.best
    shown = [
        (study.runs[0], r"<Run '1 K/min': 1 K/min, \d+ of \d+ points, 40\d\.\d J/g>", "40", ["time_min", "alpha"]),
        (best, r"<LawFit kamal-sourour: 6 constants, 7 runs, rate rms \d\.\d\d % of the peak>", "E1", ["constant", "low", "high"]),
        (free, r"<Isoconversional: 5 heating rates, Kissinger 56\.\d ± 0\.\d kJ/mol, ASTM E698 .*, friedman .*, vyazovkin .*>", "Kissinger",
         ["alpha", "E_kJ_mol"]),
        (study, r"<Study 'INVENTED epoxy.*': 5 ramps, 2 isothermal runs, 1 gel time; best kamal-sourour>", "nth-order", ["law", "delta_aicc"]),
    ]
    for i, (one, said, word, columns) in enumerate(shown):
        assert re.fullmatch(said, repr(one)), repr(one)
        html = one._repr_html_()
        assert word in html and "<table>" in html and "\n\n\n" not in html
        frame = one.to_dataframe()
        assert len(frame) > 1 and set(columns) <= set(frame.columns)
        one.plot(tmp_path / f"{i}.png")
        assert (tmp_path / f"{i}.png").stat().st_size > 5000
    frame = study.runs[0].to_dataframe()
    assert len(frame) == len(study.runs[0].time)
    np.testing.assert_array_equal(frame["alpha"].dropna(), study.runs[0].alpha)
    with pytest.raises(libcure.CureError, match="path"):
        study.plot(tmp_path / "picture.gif")


def test_a_study_survives_pickling(study):
    again = pickle.loads(pickle.dumps(study))
    assert repr(again) == repr(study)
    pd.testing.assert_frame_equal(again.to_dataframe(), study.to_dataframe())
    near, nearest = (one.model_free.plots.nearest for one in (again, study))
    assert near and near == nearest


def test_a_study_that_was_not_run_shows_itself():
    one = fitting.study.from_document(SHIPPED, DSC)
    assert repr(one).endswith("; not run>")
    assert "1 K/min" in one._repr_html_()
    assert one.plot() is not None
    alone = fitting.study.from_document(ALONE, DSC)
    assert "3 peaks; not run" in repr(alone)
    with pytest.raises(libcure.CureError, match="plot"):
        alone.plot()
    fitting.run(alone)
    assert "Three peaks" in alone._repr_html_() and alone.plot() is not None


def test_a_study_of_gel_times_alone_has_no_pictures_of_records(monkeypatch):
    monkeypatch.setattr(fit_pictures, "_made", lambda makers: [caption for caption, _ in makers])
    law = SimpleNamespace(law=SimpleNamespace(label="nth-order"))
    assert fit_pictures.rest(SimpleNamespace(runs=[], fits=[law], best=law, gel_times=[1])) == [
        "Profile likelihoods, nth-order", "Gel times", "Correlation of the constants, nth-order"]


def test_texts_of_a_document_are_escaped_in_html():
    document = copy.deepcopy(ALONE)
    document["title"] = "<script>alert(1)</script>"
    one = fitting.run(fitting.study.from_document(document, DSC))
    assert "<script>" not in one._repr_html_()


@pytest.fixture(scope="module")
def foretold():
    document = copy.deepcopy(SHIPPED)
    document["laws"], document["options"] = [{"law": "kamal-sourour"}], {"starts": 4}
    document["predictions"] = [{"id": "shop", "isothermal_C": 45}, {"id": "oven", "programme": [[0, 20], [30, 60], [300, 60]]}]
    return fitting.run(fitting.study.from_document(document, DSC))


TRUE = {"k1": (4.0e-5, 68e3), "k2": (3.2e-3, 55e3), "m": 0.85, "n": 1.6}  # notebooks/data/make_dsc.py, rate constants at 353.15 K


def true_times(time, T, alphas):
    """By another integrator [s]."""
    def rate(t, y):
        k1, k2 = (A * np.exp(-E / 8.314462618 * (1.0 / np.interp(t, time, T) - 1.0 / 353.15)) for A, E in (TRUE["k1"], TRUE["k2"]))
        a = min(max(y[0], 0.0), 1.0)
        return [(k1 + k2 * a ** TRUE["m"]) * (1.0 - a) ** TRUE["n"]]

    t = np.linspace(time[0], time[-1], 20000)
    path = solve_ivp(rate, (t[0], t[-1]), [0.0], "LSODA", t, rtol=1e-8, atol=1e-10, max_step=60.0)
    return np.interp(alphas, path.y[0], t)


def test_predictions_stand_side_by_side_and_hold_the_truth(foretold, tmp_path):
    files = fitting.write(foretold, tmp_path)
    result = json.loads(files.result.read_text(encoding="utf-8"))
    libcure.validate(result)
    truth = {"shop": true_times([0.0, 4e5], [318.15, 318.15], [0.5, 0.9]),
             "oven": true_times([0.0, 1800.0, 18000.0], [293.15, 333.15, 333.15], [0.5, 0.9])}  # fmt: skip
    for one in result["predictions"]:
        assert one["law"] == "kamal-sourour"
        for at, wanted in zip(one["times"], truth[one["id"]] / 60.0, strict=True):
            value, low, high = at["without_law_min"]
            assert low < wanted < high and value == pytest.approx(wanted, rel=0.12)
            value, low, high = at["by_law_min"]
            assert low < value < high and value == pytest.approx(wanted, rel=0.05)
    with (tmp_path / "predictions.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert {row["programme"] for row in rows} == {"shop", "oven"}
    # Runs react from 60 degC on; the oven is cold only while nothing cures.
    assert [one["extrapolated"] for one in result["predictions"]] == [True, False]
    free = result["model_free"]
    assert free["verdict"]["said"] == "single" and "kamal-sourour" in free["verdict"]["laws"]
    assert len(free["shaped_by"]) == 5 and len(free["runs"]) == 7
    page = files.page.read_text(encoding="utf-8")
    order = [page.index(f"<h2>{caption}") for caption in ("Activation energy without a law", "E, A and master plots", "Times foretold", "Numbers", "Records")]
    assert order == sorted(order)
    assert "One step may describe the reaction" in page


@pytest.mark.parametrize(("change", "said"), [
    ({"predictions": [{"id": "a", "isothermal_C": 40}, {"id": "a", "isothermal_C": 50}]}, 'predictions[1].id: "a"; allowed: each id once'),
    ({"predictions": [{"id": "a", "programme": [[0, 20], [0, 30]]}]}, "predictions[0].programme: times 0, 0 min; allowed: times that begin at 0 and rise"),
    ({"predictions": [{"id": "a", "isothermal_C": 900}]}, "predictions"),
    ({"predictions": [{"id": "a", "programme": [[0, 20], [5, 900]]}]}, "predictions[0].programme: 20 to 900 degC; allowed: -20 to 300"),
    ({"predictions": [{"id": "a"}]}, "predictions"),
    ({"schemes": ["sequential"], "model": {**SHIPPED["model"], "law": "sequential"}}, "model files hold no reactions in series"),
    ({"schemes": ["four-step"]}, "schemes"),
    ({"schemes": ["sequential"], "runs": SHIPPED["runs"][:2]}, "schemes: given with 2 runs; allowed: 3 runs or more"),
])  # fmt: skip
def test_predictions_and_schemes_that_cannot_be_are_refused(change, said, tmp_path):
    with pytest.raises(libcure.CureError) as refused:
        fitting.study.from_document({**copy.deepcopy(SHIPPED), **change}, DSC)
    assert said in str(refused.value)


def test_three_parallel_steps_are_written_where_asked(tmp_path):
    document = copy.deepcopy(SHIPPED)
    document["runs"] = document["runs"][:3]
    document["laws"], document["options"], document["schemes"] = [{"law": "kamal-sourour"}], {"starts": 2}, ["three-step parallel"]
    document["model"]["law"] = "three-step parallel"
    study = fitting.run(fitting.study.from_document(document, DSC))
    resin = libcure.load_resin(fitting.write(study, tmp_path).model)
    (scheme,) = study.schemes
    values = {key: value for key, value, _ in scheme.constants}
    wanted = sum(values[f"share{i}"] * values[f"k{i}_1_s"] for i in (1, 2, 3))
    assert float(resin.rate([scheme.T_ref], [0.0])[0]) == pytest.approx(wanted, rel=1e-6)
    assert json.loads((tmp_path / "fit.json").read_text(encoding="utf-8"))["schemes"][0]["in_model_files"]
    assert "It is written as the document asks" in " ".join(f.message for f in study.findings)


def test_the_terminal_shows_forecasts_side_by_side_and_what_ramps_of_two_steps_do_not_determine(tmp_path):
    records = ramps("parallel", (1.0, 2.5, 5.0, 10.0, 20.0), Faults(), np.random.default_rng(12), 500)
    study_of(tmp_path, records, "parallel", predictions=[{"id": "bench", "isothermal_C": 92}])
    done = run("fit", str(tmp_path / "fit.json"), "--out", str(tmp_path / "out"))
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    at = next(i for i, line in enumerate(lines) if line.startswith("foretold [min], 95 %"))
    assert lines[at].split()[-5:] == ["without", "a", "law", "by", "parallel"]
    half, most = (re.findall(r"([\d.]+) \(([\d.]+) to ([\d.]+)\)", line) for line in lines[at + 1 : at + 3])
    assert lines[at + 1].startswith("bench") and len(half) == len(most) == 2
    result = json.loads((tmp_path / "out" / "fit.json").read_text(encoding="utf-8"))
    shown = {at["alpha"]: at["without_law_min"] for at in result["predictions"][0]["times"]}
    assert [float(v) for v in half[0]] == pytest.approx(shown[0.5], rel=6e-3)
    time = np.concatenate([[0.0], np.geomspace(1.0, 1e6, 4000)])
    alpha = np.maximum.accumulate(solved("parallel", lambda t: 365.15 + 0.0 * t, time)[0])
    for (_, low, high), share in ((half[0], 0.5), (most[0], 0.9)):
        assert float(low) < float(np.interp(share, alpha, time)) / 60.0 < float(high)
    said = " ".join(done.stdout.split())
    assert "do not determine how the steps share the cure" in said and "Add a hold at 100 °C, until it ends." in said


def test_a_hold_near_the_forecast_shows_how_steps_mix(tmp_path):
    random = np.random.default_rng(13)
    records = ramps("parallel", (2.0, 5.0, 10.0, 20.0), Faults(), random, 400)
    held = hold_record("parallel", 373.0, HOLDS[373.0], Faults(), random, 400)
    bench = [{"id": "bench", "isothermal_C": 92}]
    study = fitting.run(study_of(tmp_path, {**records, "held": (held, {"isothermal_C": 99.85})}, "parallel", predictions=bench))
    assert "forecast_mixed" not in {f.code for f in study.findings}
    alone = fitting.run(study_of(tmp_path, records, "parallel", predictions=bench))
    assert [f.about for f in alone.findings if f.code == "forecast_mixed"] == ["predictions"]
