"""A model file says the same as the fit it came from, for every law that can be fitted."""

import json
from functools import cache

import numpy as np
import pytest
from dsc_synthetic import ramp, record

import libcure
from libcure import _core, fitting
from libcure.fitting.laws import worth

ABOUT = {"id": "trial", "title": "Trial", "family": "other", "properties_from": "epoxy-amine-medium"}
GLASS = fitting.study._glass_transition(libcure.models.resin_path("epoxy-amine-medium"))
LAWS = [
    fitting.FitLaw("nth-order"),
    fitting.FitLaw("autocatalytic"),
    fitting.FitLaw("kamal-sourour", diffusion=True, fixed={"C": 30.0, "alpha_cT_1_K": 0.002}),
    fitting.FitLaw("nth-order", inhibitor=True, fixed={"epsilon": 0.02}),
    fitting.FitLaw("parallel", fixed={"n_a": 1.0}),
    fitting.FitLaw("two-branch", fixed={"B": 0.9, "alpha_switch": 0.4}),
    fitting.FitLaw("two-branch", fixed={"k2_over_k1": -0.8, "B": 0.9, "alpha_switch": 0.4}),
    fitting.FitLaw("epoxy-amine", fixed={"hydrogens": 1.0, "hydroxyl": 0.05}),
    fitting.FitLaw("epoxy-amine", ether=True, diffusion=True, fixed={
        "hydrogens": 0.7, "hydroxyl": 0.05, "E_ether_kJ_mol": 95.0, "C": 30.0, "alpha_c": 1.3, "alpha_cT_1_K": 0.003}),
    fitting.FitLaw("kamal-sourour", diffusion="rabinowitch", fixed={
        "k_d0_1_s": 1e-3, "C1": 40.0, "C2_K": 52.0}, glass_transition=GLASS),
    fitting.FitLaw("nth-order", alpha0=True, fixed={"alpha0": 0.01}),
]


@cache
def runs_of(truth):
    random = np.random.default_rng(3)
    return [fitting.analyse(record(ramp(truth, beta, 400), 0.005, random, lambda T: 0.0 * T), f"{beta} K/min",
                            heating_rate=beta / 60, baseline="linear") for beta in (2, 6, 18)]


@pytest.fixture
def runs():
    return runs_of("kamal-sourour")


@pytest.mark.parametrize("law", LAWS, ids=lambda law: law.label)
def test_model_file_cures_as_the_fit_did(law, tmp_path):
    # Data that hold the law's constants.
    truth = "inhibitor" if law.inhibitor else "etherification" if law.ether else \
        "chern-poehlein" if law.diffusion is True else "kamal-sourour"
    fit = fitting.fit_law(law, runs_of(truth), options=fitting.Options(starts=4, instrument=fitting.EXACT))
    document = fitting.model_document(fit, ABOUT, "three invented ramps")
    if "alpha_cT" in (values := dict(zip((p.name for p in law.parameters), fit.values, strict=True))):
        # The file has the critical degree of cure at 0 K, the fit at its reference temperature.
        d = document["diffusion"]
        assert d["alpha_c0"]["value"] + d["alpha_cT"]["value"] * fit.T_ref == pytest.approx(values["alpha_c"], rel=1e-9)
    resin = libcure.load_resin(fitting.write_model(document, tmp_path))
    for run, (_, alpha, share) in zip(fit.runs, fit.curves, strict=True):
        cured = libcure.zero_d.along(resin, [run.time[0], run.time[-1]], [run.temperature[0], run.temperature[-1]],
                                     at=run.t)[0]
        # The same baseline as the run's, taken from the model's rate.
        rate = np.gradient(cured, run.t)
        rate -= run.basis @ (run.functionals @ rate)
        shown = np.concatenate([[0.0], np.cumsum(0.5 * np.diff(run.t) * (rate[1:] + rate[:-1]))])
        # The file's two-branch law jumps where the fitted one is rounded off, and trapezia depend on where between two
        # points it jumps.
        allowed = 4.0 if law.base == "two-branch" else 2.0 if law.inhibitor else 1.0
        assert shown[-1] == pytest.approx(share, abs=allowed * 2e-3)
        assert np.max(np.abs(shown / share - alpha)) < allowed * 4e-3
    block = document["covariance"]
    assert len(block["parameters"]) == len(block["scale"]) == len(block["matrix"])
    errors = dict(zip(block["parameters"], np.sqrt(np.diag(block["matrix"])), strict=True))
    scales = dict(zip(block["parameters"], block["scale"], strict=True))
    limits = _core.resin_limits(json.dumps(document), "trial")
    for p in law.parameters:
        # A fit never ends where the file may not.
        if p.unit != "1/s":
            assert limits[p.path][0] <= p.outside(p.low) < p.outside(p.high) <= limits[p.path][1]
    for i, k in enumerate(law.free):
        p = law.parameters[k]
        if p.path in errors and p.name != "alpha_c":
            if p.name == "k2_over_k1":
                continue  # a ratio inside, a rate constant in the file
            # A small change on the scale of the file is one on that of the fit.
            value, scale = p.outside(float(fit.x[i])), scales[p.path]
            moved = _core.drawn(scale, limits[p.path], value, np.array([1e-6 * errors[p.path]]))[0]
            change = np.log(moved / value) if p.log else (moved - value) * p.factor
            assert change == pytest.approx(1e-6 * fit.errors[i], rel=1e-4)
            assert scale == ("logit" if np.isfinite(limits[p.path]).all() else "log")


def test_every_number_has_its_provenance(runs, tmp_path):
    fit = fitting.fit_law(LAWS[0], runs, options=fitting.Options(starts=2))
    document = fitting.model_document(fit, ABOUT, "three invented ramps")
    assert document["status"] == "estimated"
    assert "fit of the law nth-order to three invented ramps" in document["rate"]["k"]["E"]["where"]
    assert "95 % interval" in document["rate"]["k"]["E"]["note"]
    low, high = document["rate"]["k"]["E"]["range"]
    assert low < document["rate"]["k"]["E"]["value"] < high
    assert "Taken from the model epoxy-amine-medium, not measured here" in document["density"]["note"]
    assert "No diffusion control was fitted" in document["note"]
    with pytest.raises(libcure.CureError, match="not a blend"):
        fitting.model_document(fit, {**ABOUT, "properties_from": "epoxy-amine-blend-60-40"}, "x")


def test_a_law_whose_constants_the_data_do_not_hold_is_no_model(runs):
    law = fitting.FitLaw("kamal-sourour", diffusion="rabinowitch", fixed={"C1": 40.0, "C2_K": 52.0},
                         glass_transition=GLASS)
    fit = fitting.fit_law(law, runs, options=fitting.Options(starts=4))
    with pytest.raises(libcure.CureError, match=r"(k_d0 ended on its bound|say nothing of k_d0).*a law whose constants the data hold"):
        fitting.model_document(fit, ABOUT, "three invented ramps")
    said = {f.code: f.message for f in fitting.identifiability(fit, [], [], [], runs, [fit])}
    assert {"unknown", "on_bound"} & set(said)


def test_an_impossible_model_is_not_written(runs, tmp_path):
    fit = fitting.fit_law(LAWS[0], runs, options=fitting.Options(starts=2))
    document = fitting.model_document(fit, ABOUT, "three invented ramps")
    document["density"]["value"] = -1
    with pytest.raises(libcure.CureError):
        fitting.write_model(document, tmp_path)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(("value", "low", "high", "digits"), [
    (100.0, 99.0, 101.0, 4),  # 100.0, as its half width is 1.0
    (5.0, 1.0, 9.0, 2),
    (1.0, -100.0, 100.0, 2),
    (123456.0, 123455.999, 123456.001, 6),
    (0.0, -1.0, 1.0, 4),
    (3.0, 3.0, 3.0, 4),
])  # fmt: skip
def test_a_value_has_the_digits_that_its_interval_leaves(value, low, high, digits):
    assert worth(value, low, high) == digits
