"""Undisturbed ground, groundwater and frost of a case."""

from __future__ import annotations

import numpy as np
import pytest
from conditions_case import CLIMATE, case, codes, few, ground, numbers, point, release, verdict
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

import libcure


def test_climate_is_the_formula_at_depth_and_day() -> None:
    """Kusuda & Achenbach 1965, worked out here with moist sand's diffusivity (2.1 W/(m K), 1800, 1176)."""
    diffusivity = 2.1 / (1800 * 1176)
    damping = np.sqrt(diffusivity * 365 * 86400 / np.pi)
    s = 1.5 / damping
    expected = 10 - 9 * np.exp(-s) * np.cos(2 * np.pi * (60 - 35) / 365 - s)
    v = verdict(ground=ground(temperature_C=None, climate=CLIMATE))
    assert_allclose(v["ground"]["temperature_C"], expected, rtol=1e-9)
    assert_allclose(v["ground"]["climate"]["amplitude_at_depth_K"], 9 * np.exp(-s), rtol=1e-9)
    assert_allclose(v["ground"]["climate"]["lag_days"], s / (2 * np.pi) * 365, rtol=1e-9)


def test_climate_and_its_temperature_given_are_the_same_job() -> None:
    by_climate = verdict(ground=ground(temperature_C=None, climate=CLIMATE))
    given_ = verdict(ground=ground(temperature_C=by_climate["ground"]["temperature_C"]))
    for key in ("working_time_min", "gel_time_last_min", "criterion_met_min"):
        assert_allclose(by_climate[key], given_[key], rtol=1e-9)


def test_months_of_a_wave_are_that_wave() -> None:
    """A month's mean of 10 - 9 cos(...) is flatter by sin(x)/x, x = pi/12."""
    x = np.pi / 12
    middle = (np.arange(12) + 0.5) * 365 / 12
    months = 10 - 9 * np.sin(x) / x * np.cos(2 * np.pi * (middle - 35) / 365)
    by_month = {"monthly_mean_C": list(months), "depth_m": 1.5, "day": 60}
    a = verdict(ground=ground(temperature_C=None, climate=by_month))["ground"]
    b = verdict(ground=ground(temperature_C=None, climate=CLIMATE))["ground"]
    assert_allclose(a["temperature_C"], b["temperature_C"], atol=1e-6)
    assert a["climate"]["worst_month_K"] < 1e-6


@few
@given(day=numbers(0, 365), depth=st.floats(0.5, 4), mean=st.floats(6, 14))
def test_warmer_ground_never_releases_later(day: float, depth: float, mean: float) -> None:
    def at(annual: float) -> float:
        climate = {**CLIMATE, "annual_mean_C": annual, "day": day, "depth_m": depth}
        return release(verdict(ground=ground(temperature_C=None, climate=climate), after_release={"duration_min": 5}))

    times = [at(mean + warmer) for warmer in (0, 3, 6)]
    assert times[0] >= times[1] >= times[2]
    assert times[2] < times[0] or np.isinf(times[2])


def test_far_radius_error_is_what_a_near_end_does() -> None:
    """The ground cut short changes the pipe's warming by about the share stated (an estimate for steady heat)."""

    def warming(radius: float | None) -> tuple[float, float]:
        p = point(case(ground=ground(radius_m=radius), after_release={"duration_min": 1}))
        held = p.history.stages[1]
        outer = np.flatnonzero(held.layer == "pipe")[-1]
        return float(held.temperature[-1, outer] - 281.15), p.verdict["ground"]["far_radius_error"]

    whole, none = warming(None)
    assert none < 1e-6
    for radius in (0.25, 0.4, 0.7):
        cut, share = warming(radius)
        assert 0.002 < share < 1.0
        assert 0.4 < (whole - cut) / whole / share < 1.5


def test_groundwater_keeps_the_wall_at_its_temperature() -> None:
    water = ground(groundwater={"h_W_m2K": 5e4, "temperature_C": 8})
    p = point(case(ground=water))
    held = p.history.stages[1]
    assert "ground" not in set(held.layer)
    assert abs(held.temperature[-1, -1] - 281.15) < 0.5
    assert p.verdict["ground"]["far_radius_m"] is None
    # Steady heat from the fill through all layers to the water, in series.
    T, r = held.temperature[-1], held.radius
    i = int(np.flatnonzero(held.layer == "pipe")[0])
    k_clay = 1.2
    q = (T[i] - T[i + 5]) * 2 * np.pi * k_clay / np.log(r[i + 5] / r[i])
    q_water = (T[-1] - 281.15) / (np.log(held.face[-1] / r[-1]) / (2 * np.pi * k_clay) + 1 / (5e4 * 2 * np.pi * held.face[-1]))
    assert_allclose(q, q_water, rtol=2e-2)


@few
@given(h=st.floats(150, 2000), cold=st.floats(4, 10))
def test_groundwater_never_lets_a_warmed_wall_release_sooner(h: float, cold: float) -> None:
    held = {"fill_temperature_C": 40, "h_W_m2K": 200}
    dry = verdict(ground=ground(temperature_C=cold), held=held)
    wet = verdict(ground=ground(temperature_C=cold, groundwater={"h_W_m2K": h}), held=held)
    assert release(wet) >= release(dry) - 0.1


def test_groundwater_may_lie_outside_some_soil() -> None:
    near, far = (
        verdict(ground=ground(material="saturated-sand", groundwater={"h_W_m2K": 500, "radius_m": r})) for r in (0.12, 0.5)
    )
    assert release(near) >= release(far)
    assert near["ground"]["groundwater"]["radius_m"] == 0.12


FROSTY = {"bore_temperature_C": -15, "h_W_m2K": 20, "duration_min": 7 * 1440}


def test_frost_never_lets_the_ground_be_colder() -> None:
    for material in ("moist-sand", "saturated-sand", "saturated-clay", "loam", "silt", "moist-clay"):
        dry, wet = (
            verdict(ground=ground(material=material, temperature_C=3, freezing=freezing), after_release=FROSTY)
            for freezing in (False, True)
        )
        assert dry["ground"]["coldest_C"] < -0.5, material
        assert wet["ground"]["coldest_C"] > dry["ground"]["coldest_C"], material
        assert wet["solver"]["energy_residual"] < 1e-9
        assert "ground_below_freezing" in codes(dry)
        assert "ground_frozen" in codes(wet)


def test_frozen_ground_keeps_the_wall_cold_for_longer() -> None:
    dry, wet = (
        verdict(ground=ground(material="saturated-sand", temperature_C=-2, freezing=freezing), held={"fill_temperature_C": 40})
        for freezing in (False, True)
    )
    assert release(wet) > release(dry)


def test_frost_changes_nothing_where_it_never_freezes() -> None:
    a, b = (verdict(ground=ground(freezing=freezing)) for freezing in (False, True))
    for key in ("working_time_min", "gel_time_last_min", "criterion_met_min"):
        assert_allclose(a[key], b[key], rtol=2e-4)


def test_dry_ground_has_nothing_to_freeze() -> None:
    with pytest.raises(libcure.CureError, match="ground.freezing.*only with a ground whose file gives"):
        case(ground=ground(material="dry-sand", freezing=True))
