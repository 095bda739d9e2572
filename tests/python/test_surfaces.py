"""Correlated coefficients, radiation and sun of a case."""

from __future__ import annotations

import json
from typing import Any

import fluids
import ht
import numpy as np
from conditions_case import MODELS, case, codes, few, numbers, point, release, verdict
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.optimize import brentq

from libcure import _core

SIGMA = 5.670374419e-8


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
@given(wind=st.floats(1, 15), air=numbers(-5, 12))
def test_wind_cools_faster_than_still_air(wind: float, air: float) -> None:
    def last(**wet_out: Any) -> float:
        ten = {"resin": 25, "fibre": 25, "packer": 25, "air": air}
        p = point(case(initial_temperature_C=ten, wet_out={"duration_min": 5, **wet_out}))
        stage = p.history.stages[0]
        return float(stage.temperature[-1, -1])

    still = last(h_W_m2K="natural")
    breeze = last(h_W_m2K="wind", wind_m_s=wind)
    gale = last(h_W_m2K="wind", wind_m_s=2 * wind)
    assert still >= breeze > gale


def test_emissivity_zero_is_none() -> None:
    for wet_out in ({}, {"absorbed_sun_W_m2": 300}):
        a, b = verdict(wet_out=wet_out), verdict(wet_out={**wet_out, "emissivity": 0, "surroundings_temperature_C": -40})
        assert a["criterion_met_min"] == b["criterion_met_min"]
        assert a["working_time_min"] == b["working_time_min"]


def test_a_clear_cold_sky_cools_and_the_sun_warms() -> None:
    def end(**wet_out: Any) -> float:
        stage = point(case(wet_out={"h_W_m2K": "natural", **wet_out})).history.stages[0]
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
