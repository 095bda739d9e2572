"""What every crew knows (common practice, no source), over ranges and not at one point."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from conditions_case import numbers, point
from hypothesis import given, settings
from hypothesis import strategies as st

import libcure

CASES = Path(__file__).parents[2] / "models" / "cases"
COLD = libcure.load_case(CASES / "cold_ground_winter.json").replace({"stages[2].ends": "at_duration"})
RESINS = ["epoxy-amine-fast", "epoxy-amine-medium", "epoxy-amine-slow", "vinyl-ester-cold"]

# Each example is a whole job; a few dozen a property find a broken sign within seconds.
few = settings(max_examples=15, deadline=None, derandomize=True)


def never(minutes: float | None) -> float:
    """Minutes, or infinity for never."""
    return np.inf if minutes is None else minutes


# A mild day, so that every hardener lasts until the packer has met the resin: resin that is past
# its limit before that cannot be shortened by the packer.
MILD = {
    "initial_temperature_C.air": 12,
    "initial_temperature_C.resin": 12,
    "initial_temperature_C.fibre": 12,
    "stages[0].ambient_temperature_C": 12,
    "stages[0].duration_min": 1,
    "stages[1].ambient_temperature_C": 12,
    "stages[1].duration_min": 5,
    "stages[3].duration_min": 10,
}


@few
@given(
    resin=st.sampled_from(RESINS),
    thickness=st.floats(2.0, 8.0),
    ground=st.floats(2.0, 20.0),
)
def test_hot_packer_shortens_working_time_strongly(
    resin: str, thickness: float, ground: float
) -> None:
    case = COLD.replace(
        {**MILD, "resin": resin, "liner.thickness_mm": thickness, "ground.temperature_C": ground}
    )
    working = [
        never(point(case.replace({"initial_temperature_C.packer": T})).times.working_min)
        for T in (15, 25, 35, 45)
    ]
    assert all(a >= b for a, b in zip(working, working[1:], strict=False))
    # A slow hardener outlasts the packer's heat, which cold ground soon takes away again.
    if resin in ("epoxy-amine-fast", "vinyl-ester-cold"):
        assert working[-1] < 0.85 * working[0]


@few
@given(resin=st.sampled_from(RESINS), thickness=st.floats(2.0, 8.0), packer=st.floats(5.0, 35.0))
def test_chilled_resin_lengthens_working_time(resin: str, thickness: float, packer: float) -> None:
    case = COLD.replace(
        {
            "resin": resin,
            "liner.thickness_mm": thickness,
            "initial_temperature_C.packer": packer,
            "stages[3].duration_min": 10,
        }
    )
    working = [
        never(point(case.replace({"initial_temperature_C.resin": T})).times.working_min)
        for T in (4, 12, 20, 28)
    ]
    assert all(a > b for a, b in zip(working, working[1:], strict=False))


@few
@given(
    resin=st.sampled_from(RESINS),
    thickness=st.floats(2.0, 6.0),
    material=st.sampled_from(["moist-sand", "saturated-clay", "dry-sand"]),
)
def test_colder_ground_lengthens_release(resin: str, thickness: float, material: str) -> None:
    case = COLD.replace(
        {
            "resin": resin,
            "liner.thickness_mm": thickness,
            "ground.material": material,
            "release.alpha_min": 0.65,
            "stages[2].duration_min": 4000,
            "stages[3].duration_min": 10,
        }
    )
    release = [
        never(
            point(
                case.replace({"ground.temperature_C": T, "initial_temperature_C.pipe": T})
            ).times.criterion_met_min
        )
        for T in (2, 8, 14, 20)
    ]
    assert all(a >= b for a, b in zip(release, release[1:], strict=False))
    assert release[0] > release[-1]


@few
@given(
    resin=st.sampled_from([*RESINS, "unsaturated-polyester-cold", "polyurethane-winkler-2009"]),
    diameter=st.floats(70.0, 300.0),
    thickness=st.floats(1.5, 8.0),
    fibre=numbers(0.0, 0.5),
    packer=numbers(-5.0, 60.0),
    ground=numbers(-2.0, 30.0),
    pipe=st.sampled_from(["pvc", "cast-iron", "vitrified-clay", "concrete"]),
)
def test_energy_closes_and_results_are_finite(
    resin: str,
    diameter: float,
    thickness: float,
    fibre: float,
    packer: float,
    ground: float,
    pipe: str,
) -> None:
    result = libcure.predict(
        COLD.replace(
            {
                "resin": resin,
                "pipe.inner_diameter_mm": diameter,
                "pipe.material": pipe,
                "liner.thickness_mm": thickness,
                "liner.fibre_volume_fraction": fibre,
                "initial_temperature_C.packer": packer,
                "ground.temperature_C": ground,
            }
        )
    )
    assert result.verdict["solver"]["energy_residual"] < 1e-9
    for stage in result.history.stages:
        T, alpha = stage.temperature, stage.alpha
        assert np.isfinite(T).all() and np.isfinite(alpha).all()
        assert alpha.min() >= -1e-5 and alpha.max() <= 1.0 + 1e-5
        # Cure never runs backwards.
        assert np.diff(alpha, axis=0).min() > -2e-5
    times = result.times
    assert never(times.gel_first_min) <= never(times.gel_last_min)
    answer = result.answer
    assert (answer.release_min is None) == (answer.status == "stop")
    if answer.release_min is not None:
        assert answer.release_min % 5 == pytest.approx(0, abs=1e-9)
        assert times.criterion_met_min is None or answer.release_min >= times.criterion_met_min
        assert times.service_min is None or times.service_min >= answer.release_min


def test_a_cold_resin_vitrifies_short_of_the_criterion_and_warmth_cures_it() -> None:
    cold = COLD.replace(
        {
            "resin": "epoxy-amine-slow",
            "release.alpha_min": 0.85,
            "stages[2].duration_min": 20000,
            "stages[3].duration_min": 10,
        }
    )
    verdict = point(cold).verdict
    assert verdict["criterion_met_min"] is None
    assert verdict["release_state"] == "vitrified"
    remedy = verdict["curing_temperature_C"]
    assert remedy is not None and remedy > 4
    warm = cold.replace(
        {
            "ground.temperature_C": remedy + 2,
            "initial_temperature_C.pipe": remedy + 2,
            "stages[2].fill_temperature_C": remedy + 2,
        }
    )
    assert point(warm).verdict["criterion_met_min"] is not None


def test_held_stage_may_end_at_the_release() -> None:
    long = libcure.predict(COLD)
    short = libcure.predict(COLD.replace({"stages[2].ends": "at_release"}))
    end = short.history.stages[3].time[0] / 60
    assert end == pytest.approx(long.answer.release_min)
    assert short.times.criterion_met_min == pytest.approx(long.times.criterion_met_min, abs=1e-6)
