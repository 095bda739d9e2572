"""Times are those of the liner's faces, where resin is coldest or hottest: against nodes that stand on them."""

from typing import Any

import numpy as np
import pytest
import vertex_wall

import libcure
from libcure import _core, ensemble
from libcure.documents import models_folder

HELD = {"stages[2].duration_min": 1440, "stages[2].ends": "at_duration"}
WARM = dict.fromkeys(("resin", "fibre", "packer", "pipe", "air"), 18)
JOBS: dict[str, dict[str, Any]] = {
    "winter, fast": {},
    "winter, medium": {"resin": "epoxy-amine-medium"},
    "mild, steep activation": {
        "resin": "dcpd-grubbs-goli-2018", "ground.temperature_C": 14, "initial_temperature_C": WARM, "release.alpha_min": 0.4, "release.Tg_margin_K": 5,
        "stages[2].fill_temperature_C": 25,
    },
    "thick, clay": {
        "liner.thickness_mm": 9, "pipe.material": "vitrified-clay", "pipe.wall_mm": 18, "pipe.inner_diameter_mm": 150,
        "ground.temperature_C": 10, "initial_temperature_C.pipe": 10,
    },
    "warm water, slow": {
        "resin": "epoxy-amine-slow", "ground.temperature_C": 16, "initial_temperature_C": WARM,
        "stages[2].fill_temperature_C": 40, "stages[2].h_W_m2K": 100,
    },
    "hot water, thick": {
        "initial_temperature_C.packer": 25, "stages[2].fill_temperature_C": 50, "stages[2].h_W_m2K": 200,
        "liner.thickness_mm": 6, "pipe.inner_diameter_mm": 150,
    },
    "warm water, thick, medium": {
        "resin": "epoxy-amine-medium", "liner.thickness_mm": 6, "pipe.inner_diameter_mm": 150,
        "stages[2].fill_temperature_C": 35, "stages[2].h_W_m2K": 100,
    },
}  # fmt: skip
NAMES = {
    "working": "working_time_min", "gel_first": "gel_time_first_min", "gel_last": "gel_time_last_min",
    "release": "criterion_met_min",
}  # fmt: skip


def job(name: str) -> libcure.Case:
    return libcure.load_case(models_folder() / "cases" / "cold_ground_winter.json").replace({**JOBS[name], **HELD})


def compare(name: str) -> list[tuple[str, float, float, float]]:
    """Time, ours, that on vertices, and the numerical error we state [min], of what both reach."""
    case = job(name)
    ground = next(s for s in _core.predict(case.core, False, None, None).stages if s.kind == "held").face[-1]
    truth = vertex_wall.times_of(case.document, ground)
    v = libcure.predict(case, uncertain="none").verdict
    assert [v[key] is None for key in NAMES.values()] == [not np.isfinite(truth[k]) for k in NAMES]
    return [(k, v[key], truth[k], v["numerical_error"][key]) for k, key in NAMES.items() if v[key] is not None]


def test_times_are_those_of_an_independent_solver_with_nodes_on_the_faces() -> None:
    found = [(name, *row) for name in JOBS for row in compare(name)]
    assert len(found) >= 26
    for name, time, ours, truth, error in found:
        # The vertices are right to some 0.05 %: on three times as many they move by a quarter of that.
        assert abs(ours - truth) <= error + 5e-4 * truth, (name, time, ours, truth, error)
        assert abs(ours - truth) < 3e-3 * truth, (name, time, ours, truth)
    off = np.array([ours / truth - 1 for _, _, ours, truth, _ in found])
    assert abs(off.mean()) < 1e-3
    # With what is left of the error on the safe side, no release is early and no working time late.
    for name, time, ours, truth, error in found:
        if time == "release":
            assert ours + error > truth, name
        if time == "working":
            assert ours - error < truth * (1 + 5e-4), name


@pytest.mark.parametrize("accuracy", ["quick", "standard"])
def test_the_deciding_points_of_a_wall_that_is_cold_on_one_side_are_its_faces(accuracy: str) -> None:
    case = job("warm water, slow").replace({"accuracy": accuracy})
    v = libcure.predict(case, numerical_error=False, uncertain="none").verdict
    bore, outside = 1e3 * (0.05 - 0.003), 50.0
    assert v["limiting"]["release"]["position"] == "outer face"
    assert v["limiting"]["release"]["radius_mm"] == pytest.approx(outside, abs=1e-9)
    assert v["limiting"]["gel_first"]["position"] == "inner face"
    assert v["limiting"]["gel_first"]["radius_mm"] == pytest.approx(bore, abs=1e-9)


def test_the_ensemble_reads_the_same_points() -> None:
    case = job("warm water, slow")
    out = ensemble.simulate_many(case, {}, temperature_tolerance_K=5e-3, alpha_tolerance=1e-5)
    v = libcure.predict(case, numerical_error=False, uncertain="none").verdict
    assert out.points == case.core.liner_points
    assert out.release_point[0] == out.points - 1
    for key in NAMES.values():
        ours = out.release_time_s if key == "criterion_met_min" else getattr(out, key.replace("_min", "_s"))
        assert ours[0] / 60 == pytest.approx(v[key], rel=5e-4)


def test_coarse_cells_are_right_to_their_stated_error() -> None:
    """Nodes of a few wide cells would be early by a whole per cent and more."""
    case = job("warm water, slow")
    fine = libcure.predict(case.replace({"accuracy": "fine"}), numerical_error=False, uncertain="none").verdict
    quick = libcure.predict(case.replace({"accuracy": "quick"}), uncertain="none").verdict
    for key in NAMES.values():
        assert abs(quick[key] - fine[key]) <= quick["numerical_error"][key]
        assert quick[key] == pytest.approx(fine[key], rel=5e-3)
