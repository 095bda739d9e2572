"""Ground, frost, groundwater, fill cycles and correlated coefficients of a case."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import fluids
import ht
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.optimize import brentq

import libcure
from libcure import _core, ensemble

MODELS = Path(__file__).parents[2] / "models"
SIGMA = 5.670374419e-8

CASE: dict[str, Any] = {
    "format": "libcure/case/1",
    "resin": "epoxy-amine-medium",
    "pipe": {"inner_diameter_mm": 150, "wall_mm": 10, "material": "vitrified-clay"},
    "liner": {"thickness_mm": 4, "length_mm": 900, "fibre_volume_fraction": 0.25},
    "ground": {"material": "moist-sand", "temperature_C": 8},
    "initial_temperature_C": {"resin": 18, "fibre": 14, "packer": 12, "air": 10},
    "stages": [
        {"kind": "wet_out", "duration_min": 10},
        {"kind": "held", "duration_min": 1440, "fill_temperature_C": 25, "h_W_m2K": 20},
        {"kind": "after_release", "duration_min": 60},
    ],
    "release": {"alpha_min": 0.7, "Tg_above_wall_K": 5, "safety_factor": 1.25},
}
CLIMATE = {"annual_mean_C": 10, "amplitude_K": 9, "day_of_minimum": 35, "depth_m": 1.5, "day": 60}
few = settings(max_examples=20, deadline=None, derandomize=True)


def case(**changes: Any) -> libcure.Case:
    """CASE with whole sections, or stages by ``wet_out``, ``held``, ``after_release``, replaced or added to."""
    document = json.loads(json.dumps(CASE))
    for key, value in changes.items():
        stage = next((s for s in document["stages"] if s["kind"] == key), None)
        if stage is not None:
            stage.update(value)
            for gone in [k for k, v in stage.items() if v is None]:
                del stage[gone]
        elif isinstance(value, dict) and key in ("pipe", "liner", "initial_temperature_C"):
            document[key].update(value)
        else:
            document[key] = value
    return libcure.Case.from_dict(document)


def ground(**changes: Any) -> dict[str, Any]:
    given = {"material": "moist-sand", "temperature_C": 8, **changes}
    return {k: v for k, v in given.items() if v is not None}


def verdict(**changes: Any) -> dict[str, Any]:
    return libcure.predict(case(**changes)).verdict


def codes(v: dict[str, Any]) -> set[str]:
    return {c["code"] for c in v["cautions"]}


def release(v: dict[str, Any]) -> float:
    return np.inf if v["release_time_min"] is None else v["release_time_min"]


# Ground.


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
    for key in ("working_time_min", "gel_time_last_min", "release_time_min"):
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
@given(day=st.floats(0, 365), depth=st.floats(0.5, 4), mean=st.floats(6, 14))
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
        p = libcure.predict(case(ground=ground(radius_m=radius), after_release={"duration_min": 1}))
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
    p = libcure.predict(case(ground=water))
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


# Frost.

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
    for key in ("working_time_min", "gel_time_last_min", "release_time_min"):
        assert_allclose(a[key], b[key], rtol=2e-4)


def test_dry_ground_has_nothing_to_freeze() -> None:
    with pytest.raises(libcure.CureError, match="ground.freezing.*only with a ground whose file gives"):
        case(ground=ground(material="dry-sand", freezing=True))


# Surfaces.


def wet_out_balance(film_h: Any, T: float, ambient: float, emissivity: float, surroundings: float) -> float:
    """Coefficient where convection and radiation meet conduction from the outermost node, neat resin."""
    resin = json.loads((MODELS / "resins" / "epoxy-amine-medium.json").read_text(encoding="utf-8"))
    k = resin["conductivity"]["value"]
    outer, cell = 0.075, 0.004 / 24
    half = outer * np.log(outer / (outer - 0.5 * cell)) / k

    def excess(surface: float) -> float:
        radiated = emissivity * SIGMA * (surroundings**4 - surface**4)
        return film_h(surface) * (ambient - surface) + radiated - (surface - T) / half

    return film_h(brentq(excess, T - 30, T + 30, xtol=1e-10))


def air_of(film: float) -> Any:
    density, viscosity, conductivity, _, prandtl = _core.air(film, 101325.0)
    return density, viscosity, conductivity, prandtl


def still_air(surface: float, ambient: float, diameter: float) -> float:
    density, viscosity, conductivity, prandtl = air_of(0.5 * (surface + ambient))
    grashof = fluids.Grashof(diameter, 2 / (surface + ambient), surface, ambient, rho=density, mu=viscosity, g=9.80665)
    return ht.conv_free_immersed.Nu_horizontal_cylinder_Churchill_Chu(prandtl, grashof) * conductivity / diameter


def windy_air(surface: float, ambient: float, diameter: float, wind: float) -> float:
    density, viscosity, conductivity, prandtl = air_of(0.5 * (surface + ambient))
    reynolds = fluids.Reynolds(wind, diameter, density, viscosity)
    return ht.conv_external.Nu_cylinder_Churchill_Bernstein(reynolds, prandtl) * conductivity / diameter


def test_natural_convection_inside_a_stage_agrees_with_the_package() -> None:
    """The wet laminate starts at 20 °C in still air of -10 °C and cools: the largest coefficient is the first one."""
    hot = {"resin": 20, "fibre": 20, "packer": 20, "air": -10}
    v = verdict(
        initial_temperature_C=hot,
        liner={"fibre_volume_fraction": 0},
        wet_out={"h_W_m2K": "natural", "emissivity": 0.8, "surroundings_temperature_C": -15},
    )
    (film,) = v["films"]
    expected = wet_out_balance(lambda s: still_air(s, 263.15, 0.15), 293.15, 263.15, 0.8, 258.15)
    assert_allclose(film["h_high_W_m2K"], expected, rtol=1e-6)
    assert film["h_low_W_m2K"] < film["h_high_W_m2K"]
    assert film["in_range"] and film["source"] == "Churchill & Chu 1975"


def test_wind_inside_a_stage_agrees_with_the_package() -> None:
    """The coefficient depends on the film temperature alone: it lies between those of start and air."""
    hot = {"resin": 40, "fibre": 40, "packer": 40, "air": 10}
    v = verdict(
        initial_temperature_C=hot, liner={"fibre_volume_fraction": 0}, wet_out={"h_W_m2K": "wind", "wind_m_s": 4, "emissivity": 0}
    )
    (film,) = v["films"]
    first = wet_out_balance(lambda s: windy_air(s, 283.15, 0.15, 4), 313.15, 283.15, 0.0, 283.15)
    ends = sorted((film["h_low_W_m2K"], film["h_high_W_m2K"]))
    assert min(abs(e - first) for e in ends) < 1e-6 * first
    bounds = sorted(windy_air(s, 283.15, 0.15, 4) for s in (283.15, 313.15))
    assert bounds[0] <= ends[0] <= ends[1] <= bounds[1]


@few
@given(wind=st.floats(1, 15), air=st.floats(-5, 12))
def test_wind_cools_faster_than_still_air(wind: float, air: float) -> None:
    def last(**wet_out: Any) -> float:
        ten = {"resin": 25, "fibre": 25, "packer": 25, "air": air}
        p = libcure.predict(case(initial_temperature_C=ten, wet_out={"duration_min": 5, **wet_out}))
        stage = p.history.stages[0]
        return float(stage.temperature[-1, -1])

    still = last(h_W_m2K="natural")
    breeze = last(h_W_m2K="wind", wind_m_s=wind)
    gale = last(h_W_m2K="wind", wind_m_s=2 * wind)
    assert still >= breeze > gale


def test_emissivity_zero_is_none() -> None:
    for wet_out in ({}, {"absorbed_sun_W_m2": 300}):
        a, b = verdict(wet_out=wet_out), verdict(wet_out={**wet_out, "emissivity": 0, "surroundings_temperature_C": -40})
        assert a["release_time_min"] == b["release_time_min"]
        assert a["working_time_min"] == b["working_time_min"]


def test_a_clear_cold_sky_cools_and_the_sun_warms() -> None:
    def end(**wet_out: Any) -> float:
        stage = libcure.predict(case(wet_out={"h_W_m2K": "natural", **wet_out})).history.stages[0]
        return float(stage.temperature[-1, -1])

    assert end(emissivity=0.9, surroundings_temperature_C=-30) < end(emissivity=0) < end(emissivity=0, absorbed_sun_W_m2=600)
    table = {"time_min": [0, 5, 10], "value": [0, 600, 0]}
    assert end(emissivity=0) < end(emissivity=0, absorbed_sun_W_m2=table) < end(emissivity=0, absorbed_sun_W_m2=600)


def test_bladder_pressure_carries_more_heat() -> None:
    low, high = (
        verdict(held={"h_W_m2K": "natural", "fill_temperature_C": 45, "fill_gauge_pressure_bar": p}) for p in (0.2, 2)
    )
    assert high["films"][0]["h_high_W_m2K"] > low["films"][0]["h_high_W_m2K"]
    assert release(high) < release(low)
    assert_allclose(low["films"][0]["air_pressure_bar"], 1.21325)


def test_beyond_its_source_a_correlation_says_so() -> None:
    big = verdict(
        pipe={"inner_diameter_mm": 900},
        held={"h_W_m2K": "natural", "fill_temperature_C": 70, "fill_gauge_pressure_bar": 2},
    )
    assert not big["films"][0]["in_range"]
    assert "correlation_out_of_range" in codes(big)
    assert "correlation_out_of_range" not in codes(verdict(held={"h_W_m2K": "natural"}))


# Fill cycles.


def test_cycle_is_its_table() -> None:
    cycle = {"start_C": 10, "legs": [{"to_C": 40, "rate_K_min": 1.5, "hold_min": 60}, {"to_C": 20, "rate_K_min": 0.5, "hold_min": 0}]}
    table = {"time_min": [0, 20, 80, 120], "value": [10, 40, 40, 20]}
    a = verdict(held={"fill_temperature_C": None, "fill_cycle": cycle})
    b = verdict(held={"fill_temperature_C": table})
    assert a["release_time_min"] == pytest.approx(b["release_time_min"], rel=1e-9)
    assert a["layer_peak"]["bladder"]["temperature_C"] == pytest.approx(b["layer_peak"]["bladder"]["temperature_C"], abs=1e-6)


def test_fill_hotter_than_the_bladder_may_be() -> None:
    cycle = {"legs": [{"to_C": 85, "rate_K_min": 2, "hold_min": 60}, {"to_C": 20, "rate_K_min": 1, "hold_min": 0}]}
    v = verdict(held={"fill_temperature_C": None, "fill_cycle": cycle})
    assert "fill_above_bladder_limit" in codes(v)  # natural rubber: 70 °C


# Materials over temperature.


def with_table(tmp_path: Path, **table: Any) -> str:
    document = json.loads((MODELS / "materials" / "pvc.json").read_text(encoding="utf-8"))
    document["temperature_table"] = {
        "temperature": {"values": [0, 40, 80], "unit": "degC"},
        **table,
        "basis": "assumption",
        "source": "none",
        "where": "test",
        "note": "invented",
    }
    path = tmp_path / "plastic.json"
    path.write_text(json.dumps(document))
    libcure.validate(document)
    return str(path)


def test_flat_table_is_no_table(tmp_path: Path) -> None:
    k = json.loads((MODELS / "materials" / "pvc.json").read_text(encoding="utf-8"))["conductivity"]["value"]
    flat = with_table(tmp_path, conductivity={"values": [k, k, k], "unit": "W/(m K)"})
    a, b = verdict(pipe={"material": "pvc"}), verdict(pipe={"material": flat})
    for key in ("working_time_min", "release_time_min", "peak_temperature_C"):
        assert_allclose(a[key], b[key], rtol=1e-6)


def test_more_heat_capacity_and_less_conductivity_are_felt(tmp_path: Path) -> None:
    hot = {"held": {"fill_temperature_C": 50, "h_W_m2K": 300}, "pipe": {"material": "pvc"}}
    plain = release(verdict(**hot))
    heavy = with_table(tmp_path, specific_heat={"values": [2.7, 2.7, 2.7], "unit": "kJ/(kg K)"})
    assert release(verdict(held=hot["held"], pipe={"material": heavy})) > plain
    insulating = with_table(tmp_path, conductivity={"values": [40, 40, 40], "unit": "mW/(m K)"})
    assert release(verdict(held=hot["held"], pipe={"material": insulating})) < plain


@pytest.mark.parametrize(
    ("table", "says"),
    [
        ({}, "conductivity, specific_heat, or both"),
        ({"conductivity": {"values": [1, 2], "unit": "W/(m K)"}}, "3, one for each temperature"),
        ({"conductivity": {"values": [1, 2, -1], "unit": "W/(m K)"}}, "above 0"),
        ({"conductivity": {"values": [1, 2, 3], "unit": "degC"}}, "one of W/"),
        (
            {"temperature": {"values": [0, 0, 80], "unit": "degC"}, "conductivity": {"values": [1, 2, 3], "unit": "W/(m K)"}},
            "rising",
        ),
    ],
)
def test_bad_tables_are_refused(tmp_path: Path, table: dict[str, Any], says: str) -> None:
    document = json.loads((MODELS / "materials" / "hdpe.json").read_text(encoding="utf-8"))
    kept = {k: document["temperature_table"][k] for k in ("temperature", "basis", "source", "where", "note")}
    document["temperature_table"] = {**kept, **table}
    path = tmp_path / "bad.json"
    path.write_text(json.dumps(document))
    with pytest.raises(libcure.CureError, match=says) as caught:
        case(pipe={"material": str(path)})
    assert "temperature_table" in caught.value.field


# All of it.


@few
@given(
    material=st.sampled_from(["moist-sand", "saturated-sand", "moist-clay", "silt", "loam"]),
    pipe=st.sampled_from(["hdpe", "vitrified-clay", "cast-iron"]),
    temperature=st.floats(-4, 10),
    freezing=st.booleans(),
    water=st.one_of(st.none(), st.floats(50, 2000)),
    wind=st.floats(0, 20),
    bore=st.floats(-20, 20),
    to=st.floats(30, 80),
)
def test_energy_closes_whatever_is_asked_for(
    material: str, pipe: str, temperature: float, freezing: bool, water: float | None, wind: float, bore: float, to: float
) -> None:
    cycle = {"legs": [{"to_C": to, "rate_K_min": 2, "hold_min": 60}, {"to_C": 15, "rate_K_min": 1, "hold_min": 0}]}
    v = verdict(
        ground=ground(
            material=material,
            temperature_C=temperature,
            freezing=freezing,
            groundwater=None if water is None else {"h_W_m2K": water, "temperature_C": 3},
        ),
        pipe={"material": pipe},
        wet_out={"h_W_m2K": "wind", "wind_m_s": wind, "surroundings_temperature_C": -10},
        held={"fill_temperature_C": None, "fill_cycle": cycle, "h_W_m2K": "natural", "duration_min": 300},
        after_release={"bore_temperature_C": bore, "h_W_m2K": "natural", "duration_min": 1440},
    )
    libcure.validate(v)
    assert v["solver"]["energy_residual"] < 1e-9
    assert np.isfinite(v["peak_temperature_C"])


def test_many_at_once_give_what_one_gives() -> None:
    """Correlations and groundwater go through the packed solver, frost and tables round it."""
    packed = {
        "ground": ground(material="saturated-sand", groundwater={"h_W_m2K": 300}),
        "wet_out": {"h_W_m2K": "wind", "wind_m_s": 5},
        "held": {"h_W_m2K": "natural", "fill_temperature_C": 45},
    }
    for changes in (packed, {"ground": ground(temperature_C=-1, freezing=True)}, {"pipe": {"material": "hdpe"}}):
        one = verdict(**changes)
        many = ensemble.simulate_many(case(**changes), {"ground.temperature_offset_K": np.zeros(3)})
        for name in ("working_time", "release_time"):
            assert_allclose(getattr(many, f"{name}_s") / 60, one[f"{name}_min"], rtol=5e-3)
    one = ensemble.simulate_many(case(**packed), {"fill_h_factor": np.array([0.7, 1.0, 1.4]), "ambient_h_factor": 1.0})
    assert one.release_time_s[0] > one.release_time_s[1] > one.release_time_s[2]
    two = ensemble.simulate_many(case(**packed), {"ground.temperature_offset_K": np.array([-3.0, 0.0, 3.0])})
    assert two.release_time_s[0] > two.release_time_s[1] > two.release_time_s[2]


def test_cautions_of_ground_and_water() -> None:
    shallow = {**CLIMATE, "depth_m": 0.3}
    assert "shallow_pipe" in codes(verdict(ground=ground(temperature_C=None, climate=shallow)))
    assert "shallow_pipe" not in codes(verdict(ground=ground(temperature_C=None, climate={**CLIMATE, "depth_m": 4})))
    assert "groundwater_film_weak" in codes(verdict(ground=ground(groundwater={"h_W_m2K": 5})))
    assert "groundwater_film_weak" not in codes(verdict(ground=ground(groundwater={"h_W_m2K": 300})))
    odd = {"monthly_mean_C": [0, 10, 0, 10, 0, 10, 20, 25, 20, 10, 5, 0], "depth_m": 1.5, "day": 60}
    assert "months_not_a_wave" in codes(verdict(ground=ground(temperature_C=None, climate=odd)))


def test_pages_show_what_was_worked_out() -> None:
    from rich.console import Console

    from libcure.verdict_view import VerdictView

    p = libcure.predict(MODELS / "cases" / "groundwater_hot_water_fill.json")
    console = Console(width=100, record=True, force_terminal=False)
    with console.capture() as page:
        console.print(VerdictView(p))
    shown = " ".join(page.get().replace("│", " ").split())
    for words in ("on day 50", "Groundwater", "wind of 5 m/s", "Churchill & Bernstein 1977", "Evans & Stefany 1966"):
        assert words in shown
    with console.capture() as page:
        console.print(VerdictView(libcure.predict(case())))
    assert "its end changes the pipe's warming by below 0.01 %" in " ".join(page.get().split())
    assert case(ground=ground(temperature_C=None, climate=CLIMATE)).conditions["ground"]["climate"]["day"] == 60


@pytest.mark.parametrize("water", [None, {"h_W_m2K": 300, "temperature_C": 3}, {"h_W_m2K": 300, "radius_m": 0.5}])
def test_sections_have_the_same_ground_and_surfaces(water: dict[str, Any] | None) -> None:
    """With all columns alike a section says what one dimension says, also of frost, film and groundwater."""
    changes: dict[str, Any] = {
        "ground": ground(material="saturated-sand", temperature_C=-1, freezing=True, groundwater=water),
        "held": {"h_W_m2K": "natural", "fill_temperature_C": 60, "duration_min": 240},
        "after_release": {"h_W_m2K": "natural", "bore_temperature_C": -5, "duration_min": 240},
        "release": {"alpha_min": 0.5, "Tg_above_wall_K": 0, "safety_factor": 1},
    }
    one, two = verdict(**changes), verdict(**changes, section={"kind": "around", "columns": 8})
    libcure.validate(two)
    assert two["solver"]["energy_residual"] < 1e-9
    assert two["release_time_min"] == pytest.approx(one["release_time_min"], rel=1e-3)
    for a, b in zip(one["films"], two["films"], strict=True):
        assert b["h_high_W_m2K"] == pytest.approx(a["h_high_W_m2K"], rel=1e-3)
    if one["ground"]["coldest_C"] is None:
        assert two["ground"]["coldest_C"] is None
    else:
        assert two["ground"]["coldest_C"] == pytest.approx(one["ground"]["coldest_C"], abs=0.02)


def test_check_shows_what_ground_and_surfaces_came_to() -> None:
    from typer.testing import CliRunner

    from libcure.cli import app

    shown = CliRunner().invoke(app, ["check", str(MODELS / "cases" / "groundwater_hot_water_fill.json")])
    assert shown.exit_code == 0
    words = " ".join(shown.output.split())
    assert "valid" in words and "4.6" in words and "on day 50" in words and "Churchill & Bernstein 1977" in words
    plain = CliRunner().invoke(app, ["check", str(MODELS / "cases" / "cold_ground_winter.json")])
    assert len(plain.output.splitlines()) == 1
