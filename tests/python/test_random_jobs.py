"""Random jobs against nodes on the faces, solved by SciPy: the stated errors cover, times lean by less than 0.15 %, and are right to 1 % or 1 min.

LIBCURE_RANDOM_JOBS=1000 asks for more of them than every run has; before a release (DEVELOPERS.md).
"""

import os

import numpy as np
import vertex_wall

import libcure
from libcure import _core
from libcure.documents import models_folder

COUNT = int(os.environ.get("LIBCURE_RANDOM_JOBS", "50"))
NAMES = {"working": "working_time_min", "gel_first": "gel_time_first_min", "gel_last": "gel_time_last_min", "release": "criterion_met_min"}
VERTICES = 1e-3  # what the vertices are right to, relative: on twice as many they move by a third of it


def job(rng: np.random.Generator) -> libcure.Case:
    """A pouch, a wet-out and a day of hold in constant surroundings."""
    air, ground = rng.uniform(5, 28), rng.uniform(4, 20)
    change = {
        "resin": str(rng.choice(["epoxy-amine-fast", "epoxy-amine-medium", "epoxy-amine-slow"])),
        "liner.thickness_mm": rng.uniform(2, 8), "pipe.inner_diameter_mm": rng.uniform(80, 200),
        "pipe.material": str(rng.choice(["vitrified-clay", "pvc", "concrete"])), "pipe.wall_mm": rng.uniform(4, 20),
        "ground.temperature_C": ground,
        "initial_temperature_C": {"resin": rng.uniform(8, 24), "fibre": air, "packer": air, "pipe": ground, "air": air},
        "stages[0].ambient_temperature_C": air, "stages[1].ambient_temperature_C": air, "stages[0].duration_min": rng.uniform(2, 8),
        "stages[1].duration_min": rng.uniform(2, 8), "stages[2].duration_min": 1440, "stages[2].ends": "at_duration",
        "stages[2].fill_temperature_C": rng.uniform(8, 45), "stages[2].h_W_m2K": 10 ** rng.uniform(0.8, 2.3),
    }  # fmt: skip
    return libcure.load_case(models_folder() / "cases" / "cold_ground_winter.json").replace(change)


def test_stated_errors_of_random_jobs_cover_and_lean_little() -> None:
    rng = np.random.default_rng(24)
    off = []
    for i in range(COUNT):
        case = job(rng)
        face = next(s for s in _core.predict(case.core, False, None, None).stages if s.kind == "held").face[-1]
        truth = vertex_wall.times_of(case.document, face)
        v = libcure.predict(case, uncertain="none").verdict
        for name, key in NAMES.items():
            if name == "release" and v["release_state"] == "gelled_before_held":
                # Of that the other code knows nothing; it must have gelled by then for it too.
                assert v[key] is None and truth["gel_first"] < v["held_from_min"] * (1 + VERTICES) + v["numerical_error"]["gel_time_first_min"]
                continue
            assert (v[key] is None) == (not np.isfinite(truth[name])), (i, name)
            if v[key] is None:
                continue
            error = v["numerical_error"][key]
            assert abs(v[key] - truth[name]) <= error + VERTICES * truth[name], (i, name, v[key], truth[name], error)
            assert abs(v[key] - truth[name]) <= max(0.01 * truth[name], 1.0), (i, name)
            off.append(v[key] / truth[name] - 1)
    assert len(off) > 3 * COUNT
    # At this accuracy our times are some 0.09 % early, a third of which are the vertices; the stated errors are several times that. Fixed draws.
    assert abs(np.mean(off)) < 1.5e-3
