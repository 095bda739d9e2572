"""Heat-transfer correlations against the independent packages `ht` and `fluids`."""

from __future__ import annotations

import fluids
import ht
import numpy as np
import pytest
from numpy.testing import assert_allclose

from libcure import CureError, _core

RA = np.logspace(-3, 11.9, 40)
PR = np.array([0.01, 0.5, 0.707, 7.0, 300.0])


def test_free_convection_around_a_cylinder() -> None:
    """Churchill & Chu 1975; the package takes Prandtl and Grashof numbers."""
    ours = _core.nusselt_free_cylinder(RA[:, None], PR[None, :])
    theirs = [[ht.conv_free_immersed.Nu_horizontal_cylinder_Churchill_Chu(p, r / p) for p in PR] for r in RA]
    assert_allclose(ours, theirs, rtol=1e-12)


def test_crossflow() -> None:
    """Churchill & Bernstein 1977."""
    Re = np.logspace(2, 6.9, 30)
    ours = _core.nusselt_crossflow(Re[:, None], PR[None, 1:])
    theirs = [[ht.conv_external.Nu_cylinder_Churchill_Bernstein(r, p) for p in PR[1:]] for r in Re]
    assert_allclose(ours, theirs, rtol=1e-12)


def test_air_of_the_standard_atmosphere() -> None:
    """Viscosity and conductivity of the U.S. Standard Atmosphere 1976; ideal-gas density."""
    other = fluids.atmosphere.ATMOSPHERE_1976
    for T in (230.0, 285.0, 300.0, 345.0, 400.0):
        density, viscosity, conductivity, _, prandtl = _core.air(T, 101325.0)
        assert_allclose(density, other.density(T, 101325.0), rtol=2e-4)
        assert_allclose(viscosity, other.viscosity(T), rtol=1e-3)
        assert_allclose(conductivity, other.thermal_conductivity(T), rtol=1e-3)
        assert 0.68 < prandtl < 0.73


def test_open_air_is_put_together_from_the_same_parts() -> None:
    """The whole path, film properties to coefficient, done again with the packages' functions."""
    surface, ambient, diameter = 318.0, 296.0, 0.11
    film = 0.5 * (surface + ambient)
    density, viscosity, conductivity, _, prandtl = _core.air(film, 101325.0)
    grashof = fluids.Grashof(diameter, 1.0 / film, surface, ambient, rho=density, mu=viscosity, g=9.80665)
    free = ht.conv_free_immersed.Nu_horizontal_cylinder_Churchill_Chu(prandtl, grashof)
    assert_allclose(_core.h_open_air(surface, ambient, diameter, 0.0, 101325.0), free * conductivity / diameter)
    reynolds = fluids.Reynolds(4.0, diameter, density, viscosity)
    wind = ht.conv_external.Nu_cylinder_Churchill_Bernstein(reynolds, prandtl)
    assert_allclose(_core.h_open_air(surface, ambient, diameter, 4.0, 101325.0), wind * conductivity / diameter)


def test_radiation() -> None:
    """Grey exchange; the package has an older Stefan-Boltzmann constant, 1.3e-6 off."""
    flux = ht.radiation.q_rad(emissivity=0.92, T=325.0, T2=288.0)
    assert_allclose(_core.h_radiation(0.92, 325.0, 288.0) * (325.0 - 288.0), flux, rtol=2e-6)


def test_ranges_are_kept() -> None:
    with pytest.raises(CureError, match="Rayleigh number.*allowed: 0 to 1e\\+12"):
        _core.nusselt_free_cylinder(1e13, 0.7)
    with pytest.raises(CureError, match="air temperature"):
        _core.air(25.0, 101325.0)


def test_ground_broadcasts_over_depths_and_days() -> None:
    """Worked values of Kusuda & Achenbach's formula: 10 degC mean, 10 K, day 35, 0.6 mm2/s."""
    depth = np.array([0.0, 1.0, 2.0, 3.0, 5.0])
    T = _core.ground_temperature(283.15, 10.0, 35.0, 0.6e-6, depth[:, None], np.array([35.0, 126.0, 217.5]))
    expected = [
        [0.000, 9.957, 20.000],
        [3.891, 7.337, 16.109],
        [6.964, 6.766, 13.036],
        [8.995, 7.227, 11.005],
        [10.586, 8.838, 9.414],
    ]
    assert_allclose(T - 273.15, expected, atol=1e-3)


def test_monthly_table_keeps_its_mean_and_coldest_month() -> None:
    """Monthly means of an invented climate whose coldest months are January and February."""
    monthly = 283.15 - 9.0 * np.cos(2.0 * np.pi * (np.arange(12) + 0.5 - 1.0) / 12.0)
    mean, amplitude, day, worst = _core.ground_from_monthly(list(monthly), 6e-7)
    assert_allclose(mean, 283.15, rtol=1e-12)
    assert_allclose(day, 365.0 / 12.0, rtol=1e-9)
    assert 9.0 < amplitude < 9.2 and worst < 1e-9


def test_far_radius_is_where_its_error_says() -> None:
    radius = _core.far_radius(0.08, 7e-7, 21600.0, 0.01)
    assert_allclose(_core.far_radius_error(radius - 0.08, 7e-7, 21600.0), 0.01, rtol=1e-6)
