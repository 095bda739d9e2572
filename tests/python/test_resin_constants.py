"""The constants of a blend are as uncertain as those of its parts."""

import json
import os

import numpy as np
import pytest

import libcure
from libcure import _core, ensemble
from libcure.documents import models_folder
from libcure.sampling import normal, unit_points
from libcure.sampling.resin_constants import resin_constants

MODELS = models_folder()
COLD = libcure.load_case(MODELS / "cases" / "cold_ground_winter.json")
Z = normal(unit_points(12, 16, 3))


def constants_of(resin, beside=MODELS):
    return resin_constants({**COLD.document, "resin": resin}, beside)


def document(name):
    return json.loads((MODELS / "resins" / f"{name}.json").read_text())


def rates(resins):
    T, alpha = np.full(5, 285.0), np.linspace(0.02, 0.6, 5)
    return np.array([resin.rate(T, alpha) for resin in resins])


def test_a_blend_of_one_resin_with_itself_is_that_resin():
    """Also sample by sample, since the parts' constants move together; else the spread would shrink by mixing."""
    alone = constants_of("epoxy-amine-medium")
    parts = [{"resin": "epoxy-amine-medium", "share": 0.3}, {"resin": "epoxy-amine-medium", "share": 0.7}]
    blended = constants_of({"components": parts})
    assert blended.dimensions == alone.dimensions
    assert blended.whole
    z = Z[:, : alone.dimensions]
    np.testing.assert_allclose(rates(blended.resins(z)), rates(alone.resins(z)), rtol=1e-12)
    assert rates(alone.resins(z)).std(axis=0).min() > 0.0


def test_the_middle_of_the_shipped_blend_is_the_blend():
    found = constants_of("epoxy-amine-blend-60-40")
    (middle,) = found.resins(np.zeros((1, found.dimensions)))
    shipped = libcure.models.load_resin("epoxy-amine-blend-60-40")
    np.testing.assert_allclose(rates([middle]), rates([shipped]), rtol=1e-12)
    assert middle.heat_of_reaction == pytest.approx(shipped.heat_of_reaction)


def test_a_sample_adds_the_rates_of_its_parts_by_share():
    """The mixing rule of the blend (an assumption of this project), here by hand."""
    found = constants_of("epoxy-amine-blend-60-40")
    z = Z[:, : found.dimensions]
    by_hand = 0.0
    for name, share in (("epoxy-amine-medium", 0.6), ("epoxy-amine-slow", 0.4)):
        part = constants_of(name)
        by_hand = by_hand + share * rates(part.resins(z[:, : part.dimensions]))
    np.testing.assert_allclose(rates(found.resins(z)), by_hand, rtol=1e-12)


def test_a_part_without_covariance_counts_as_exact_and_is_told(tmp_path):
    exact = document("epoxy-amine-slow")
    del exact["covariance"]
    (tmp_path / "exact.json").write_text(json.dumps(exact))
    parts = [{"resin": "epoxy-amine-medium", "share": 0.5}, {"resin": "exact.json", "share": 0.5}]
    half = constants_of({"components": parts}, tmp_path)
    assert not half.whole
    spread = rates(half.resins(Z[:, : half.dimensions])).std(axis=0)
    assert (spread > 0.0).all()
    assert constants_of("exact.json", tmp_path) is None
    assert constants_of({"components": [{**part, "resin": "exact.json"} for part in parts]}, tmp_path) is None


def test_parts_are_looked_up_beside_the_blend_and_changes_are_seen(tmp_path):
    (tmp_path / "resins").mkdir()
    part = tmp_path / "resins" / "part.json"
    part.write_text(json.dumps(document("epoxy-amine-medium")))
    blend = {**document("epoxy-amine-blend-60-40"),
             "components": [{"resin": "./part.json", "share": 0.5}, {"resin": "epoxy-amine-slow", "share": 0.5}]}  # fmt: skip
    (tmp_path / "resins" / "blend.json").write_text(json.dumps(blend))
    found = constants_of("resins/blend.json", tmp_path)
    assert found is constants_of("resins/blend.json", tmp_path)
    changed = document("epoxy-amine-medium")
    del changed["covariance"]
    part.write_text(json.dumps(changed))
    os.utime(part, ns=(1, 1))
    assert not constants_of("resins/blend.json", tmp_path).whole


def test_a_job_with_a_blend_in_another_folder_runs(tmp_path):
    """Paths in a blend's file start from its own folder, also where limits and families of its parts are looked up."""
    (tmp_path / "mixes").mkdir()
    (tmp_path / "mixes" / "part.json").write_text(json.dumps(document("epoxy-amine-medium")))
    parts = [{"resin": "./part.json", "share": 0.6}, {"resin": "epoxy-amine-slow", "share": 0.4}]
    (tmp_path / "mixes" / "blend.json").write_text(json.dumps({**document("epoxy-amine-blend-60-40"), "components": parts}))
    path = tmp_path / "case.json"
    path.write_text(json.dumps({**COLD.document, "resin": "mixes/blend.json"}))
    here, shipped = libcure.predict(path), libcure.predict(COLD.replace({"resin": "epoxy-amine-blend-60-40"}))
    assert here.verdict["ranges"] == shipped.verdict["ranges"]
    advice = libcure.advise(path, samples=16, working=30)
    assert "epoxy-amine-fast" in [h.resin for h in advice.hardeners]


def test_the_ranges_of_a_blend_hold_those_with_exact_constants():
    p = libcure.predict(COLD.replace({"resin": "epoxy-amine-blend-60-40"}), numerical_error=False)
    r = p.ranges
    assert r.constants
    found = constants_of("epoxy-amine-blend-60-40")
    inputs = {"ground.temperature_offset_K": np.zeros(16)}
    out = ensemble.simulate_many(p.case, inputs, resins=found.resins(normal(unit_points(found.dimensions, 16, 1))))
    assert np.ptp(out.working_time_s) > 0.2 * 60.0 * p.times.working_min
    assert r.working_min.p95 - r.working_min.p5 > 0.2 * p.times.working_min


def test_blends_and_draws_that_make_no_sense_are_refused():
    path = MODELS / "resins" / "epoxy-amine-slow.json"
    with pytest.raises(libcure.CureError, match="share"):
        _core.UncertainResin([(path, 0.5), (path, 0.6)]).resins(np.zeros((1, 11)))
    with pytest.raises(libcure.CureError, match="z: 2 columns; allowed: 11"):
        _core.UncertainResin([(path, 1.0)]).resins(np.zeros((1, 2)))
