"""Whatever small data set is fitted: what is written runs in predict with its ranges, and what is not written is said why."""

import copy
import json
import re
from dataclasses import replace

import numpy as np
import pytest
from dsc_synthetic import Noise, hold, ramp, record
from small_chart import small
from typer.testing import CliRunner

import libcure
from libcure import fitting
from libcure.cli import app
from libcure.sampling.resin_constants import resin_constants

MODELS = libcure.models_folder()
CASE = json.loads((MODELS / "cases" / "cold_ground_winter.json").read_text(encoding="utf-8"))
TRUTHS = ("nth-order", "autocatalytic", "kamal-sourour", "two-branch", "epoxy-amine", "parallel", "inhibitor", "chern-poehlein",
          "rabinowitch", "autocatalysed-nth-order")  # fmt: skip
LAWS = (
    {"law": "nth-order"}, {"law": "autocatalytic"}, {"law": "kamal-sourour"}, {"law": "parallel"},
    {"law": "two-branch"}, {"law": "kamal-sourour", "diffusion": True}, {"law": "autocatalytic", "diffusion": True},
    {"law": "kamal-sourour", "diffusion": "rabinowitch"}, {"law": "nth-order", "diffusion": "rabinowitch"},
    {"law": "nth-order", "initial_cure": True}, {"law": "autocatalytic", "inhibitor": True},
    {"law": "epoxy-amine", "fixed": {"hydrogens": 1.0, "hydroxyl": 0.05}},
    {"law": "epoxy-amine", "ether": True, "diffusion": True, "fixed": {"hydrogens": 1.0, "hydroxyl": 0.05}},
    {"law": "autocatalysed-nth-order"},
)  # fmt: skip
OWN = {"nth-order": 0, "autocatalytic": 1, "kamal-sourour": 2, "two-branch": 4, "epoxy-amine": 11, "parallel": 3, "inhibitor": 10,
       "chern-poehlein": 5, "rabinowitch": 7, "autocatalysed-nth-order": 13}  # fmt: skip
SETS, HELD = 40, (15, 25, 35)  # and those whose data hold the constants of a law
ABOUT = {"id": "trial", "title": "Trial", "family": "epoxy-amine", "properties_from": "epoxy-amine-medium"}


def write_csv(run, noise, random, path):
    r = record(run, noise, random)
    rows = zip(r.time, r.temperature - 273.15, r.heat_flow, strict=True)
    path.write_text("time_s,temperature_C,heat_flow_W_g\n" + "".join(f"{t:.3f},{T:.4f},{q:.7f}\n" for t, T, q in rows))


def fit_document(seed, folder):
    """A small data set, invented: a ramp or a few, holds, gel times, or these alone, with noise and drift."""
    random = np.random.default_rng(seed)
    truth = TRUTHS[seed % len(TRUTHS)]
    only_gel_times = seed % 5 == 4
    runs, cups = [], []
    if not only_gel_times:
        noise = Noise(random.choice([0.002, 0.01, 0.03]), drift=random.choice([0.0, 0.003]), mass=0.02)
        for beta in random.choice([2.0, 5.0, 10.0, 20.0], size=random.integers(1, 4), replace=False):
            write_csv(ramp(truth, beta, 250), noise, random, folder / f"{beta:g}.csv")
            runs.append({"id": f"ramp {beta:g}", "file": f"{beta:g}.csv", "exotherm": "up", "heating_rate_K_min": beta,
                         "baseline": {"kind": "linear", "left_C": [0, 12], "right_C": [258, 284]}})  # fmt: skip
        for T, length in ((328.0, 60e3), (348.0, 30e3))[: random.integers(0, 3)]:
            write_csv(hold(truth, T, length, 250), noise, random, folder / f"hold{T:g}.csv")
            runs.append({"id": f"hold {T:g}", "file": f"hold{T:g}.csv", "exotherm": "up", "isothermal_C": T - 273.15})
    count = int(random.integers(3, 6)) if only_gel_times else int(random.integers(0, 3))
    for T in np.linspace(5.0, 35.0, count):
        minutes = 40.0 * np.exp(60e3 / 8.314 * (1 / (T + 273.15) - 1 / 293.15) + 0.1 * random.normal())
        cups.append({"id": f"film {T:g}", "gel_time_min": minutes, "ambient_C": T, "alpha_gel": 0.5})
    chosen = random.choice(len(LAWS), size=2, replace=False)
    chosen[1] = OWN[truth] if seed % 2 else chosen[1]
    if LAWS[chosen[0]]["law"] == LAWS[chosen[1]]["law"]:
        chosen = chosen[:1]
    laws = [{"law": "nth-order", "fixed": {"n": 1.0}}, {"law": "autocatalytic", "fixed": {"m": 0.5, "n": 1.5}}] \
        if only_gel_times else [copy.deepcopy(LAWS[i]) for i in chosen]  # fmt: skip
    document = {"format": "libcure/fit/1", "title": f"Invented set {seed}", "laws": laws,
                "model": ABOUT, "options": {"starts": 4, "seed": seed}}  # fmt: skip
    document.update({key: value for key, value in (("runs", runs), ("gel_times", cups)) if value})
    file = folder / "fit.json"
    file.write_text(json.dumps(document), encoding="utf-8")
    return file


@pytest.mark.parametrize("seed", [pytest.param(seed, marks=pytest.mark.trials) if seed % 12 and seed != HELD[0] else seed for seed in range(SETS)])
def test_what_fit_writes_runs(seed, tmp_path):
    study = fitting.run(fitting.load(fit_document(seed, tmp_path)))
    libcure.validate(json.loads(json.dumps(fitting.result_document(study), allow_nan=False)))
    # Else the rest would look at nothing.
    assert seed not in HELD or not study.best.unfit
    if study.best.unfit:
        with pytest.raises(libcure.CureError, match="a law whose constants the data hold"):
            fitting.model_document(study.best, study.document["model"], "invented data")
        return
    document = fitting.model_document(study.best, study.document["model"], "invented data")
    check_that_it_runs(fitting.write_model(document, tmp_path), seed)


def check_that_it_runs(model, seed):
    prediction = libcure.predict({**CASE, "resin": str(model)}, numerical_error=False)
    assert prediction.ranges.constants
    constants = resin_constants({"resin": str(model)}, model.parent)
    # Farther out than the samples of a prediction go.
    for resin in constants.resins(2.0 * np.random.default_rng(seed).normal(size=(64, constants.dimensions))):
        assert np.isfinite(resin.rate(np.full(5, 293.15), np.linspace(0.0, 0.9, 5))).all()
        assert 0.0 <= resin.initial_degree_of_cure <= 0.99
        assert resin.heat_of_reaction > 0.0


@pytest.mark.parametrize("law", [
    {"law": "autocatalytic"}, {"law": "kamal-sourour", "diffusion": "rabinowitch"}, {"law": "autocatalytic", "inhibitor": True},
    {"law": "kamal-sourour", "diffusion": True}, {"law": "parallel"},
], ids=str)  # fmt: skip
def test_constants_that_are_all_but_unknown_run_too(law, tmp_path):
    """The same law with a covariance as wide as one may be that is written."""
    file = fit_document(1, tmp_path)
    document = json.loads(file.read_text())
    document["laws"], document["options"]["starts"] = [law], 1
    file.write_text(json.dumps(document))
    study = fitting.load(file)
    fit = fitting.fit_law(study.laws[0], study.runs, study.gel_times, options=study.options)
    spans = np.array([fit.law.parameters[i].high - fit.law.parameters[i].low for i in fit.law.free])
    middle = np.array([0.0 if p.unit == "1/s" else 0.5 * (p.low + p.high) for p in (fit.law.parameters[i] for i in fit.law.free)])
    values = fit.values.copy()
    values[fit.law.free] = np.where(middle == 0.0, fit.x, middle)
    free = values[fit.law.free]
    wide = replace(fit, x=free, values=values, covariance=np.diag((0.99 * spans / (2 * 1.96)) ** 2),
                   solution=replace(fit.solution, on_bound=(False,) * len(free)))  # fmt: skip
    assert wide.unfit == ""
    model = fitting.write_model(fitting.model_document(wide, study.document["model"], "invented data"), tmp_path)
    check_that_it_runs(model, 2)


def two_ramps(tmp_path, *laws, truth="nth-order", more=()):
    random = np.random.default_rng(3)
    runs = []
    for beta in (3.0, 12.0):
        write_csv(ramp(truth, beta, 250), 0.005, random, tmp_path / f"{beta:g}.csv")
        runs.append({"id": f"ramp {beta:g}", "file": f"{beta:g}.csv", "exotherm": "up", "heating_rate_K_min": beta})
    document = {"format": "libcure/fit/1", "title": "Two invented ramps", "runs": [*runs, *more], "laws": list(laws), "model": ABOUT,
                "options": {"starts": 4}}  # fmt: skip
    file = tmp_path / "fit.json"
    file.write_text(json.dumps(document), encoding="utf-8")
    return CliRunner().invoke(app, ["fit", str(file), "--out", str(tmp_path / "out")])


UNHELD = {"law": "nth-order", "diffusion": "rabinowitch"}


def test_a_law_on_its_bounds_is_passed_over_and_said(tmp_path):
    done = two_ramps(tmp_path, UNHELD, {"law": "nth-order"})
    assert done.exit_code == 0, done.output
    written = json.loads((tmp_path / "out" / "trial.json").read_text())
    assert written["diffusion"]["form"] == "none"
    report = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    assert "nth-order + Rabinowitch diffusion (no model)" in report
    assert re.search(r"no model +\d", done.stdout)
    for page in (done.stdout, report):
        words = " ".join(page.split())
        assert re.search(r"not written as a model: .*(ended on its bound|the data say nothing of)", words)


def test_no_law_that_the_data_hold_is_one_line_and_a_report(tmp_path):
    done = two_ramps(tmp_path, UNHELD)
    assert done.exit_code == 2
    assert done.stderr.count("\n") == 1
    assert re.search(r"laws: none can be a model \(nth-order \+ Rabinowitch diffusion: .*no model was written", done.stderr)
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == ["curves.csv", "fit.json", "report.html", "report.pdf", "residuals.csv"]
    assert "not written as a model" in (tmp_path / "out" / "report.html").read_text(encoding="utf-8")


def test_a_degree_of_cure_that_cannot_be_is_on_the_screen_and_in_the_report(tmp_path):
    random = np.random.default_rng(4)
    run = hold("nth-order", 358.0, 15e3, 250)
    drifting = record(run, 0.005, random, lambda T: np.linspace(0.006, 0.0, len(T)))
    rows = zip(drifting.time, drifting.temperature - 273.15, drifting.heat_flow, strict=True)
    (tmp_path / "hold.csv").write_text(
        "time_s,temperature_C,heat_flow_W_g\n" + "".join(f"{t:.3f},{T:.4f},{q:.7f}\n" for t, T, q in rows))
    done = two_ramps(tmp_path, {"law": "nth-order"}, more=[
        {"id": "hold 85", "file": "hold.csv", "exotherm": "up", "isothermal_C": 84.85}])  # fmt: skip
    assert done.exit_code == 0, done.output
    for page in (done.stdout, (tmp_path / "out" / "report.html").read_text(encoding="utf-8")):
        assert re.search(r"the degree of cure goes up to 1\.\d\d, and 1 is all there is", " ".join(page.split()))


def test_a_chart_takes_a_fitted_model(tmp_path):
    done = two_ramps(tmp_path, {"law": "autocatalytic"}, truth="autocatalytic")
    assert done.exit_code == 0, done.output
    document = small()
    document["axes"][0].update(values=["epoxy-amine-slow", str(tmp_path / "out" / "trial.json")])
    chart = tmp_path / "chart.json"
    chart.write_text(json.dumps(document), encoding="utf-8")
    done = CliRunner().invoke(app, ["chart", str(chart), "--out", str(tmp_path / "c")])
    assert done.exit_code == 0, done.output
