"""Heat by itself: a wall, the ground, surfaces. What jobs are computed with, for comparison and for other uses. Everything SI.

Arguments broadcast, and may be quantities of pint in place of numbers.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from libcure import _core
from libcure.documents.quantities import in_unit

__all__ = [
    "ground_temperature",
    "h_open_air",
    "h_radiation",
    "nusselt_crossflow",
    "nusselt_free_cylinder",
    "nusselt_inside_cylinder",
    "solve_wall",
    "steady_heat_around",
]

Array = NDArray[np.float64]
_H = "W/m**2/kelvin"
_LAYER = {"thickness": "m", "conductivity": "W/m/kelvin", "density": "kg/m**3", "specific_heat": "J/kg/kelvin", "contact_outside": "m**2*kelvin/W"}
_SURFACES = {
    "temperature": {"time": "s", "value": "kelvin"},
    "flux": {"time": "s", "value": "W/m**2"},
    "convection": {"h": _H, "temperature": "kelvin", "absorbed": "W/m**2"},
}


def _si(value: Any, unit: str, field: str) -> Any:
    return in_unit(value, unit, field, difference=False)


def _numbers(field: str, *values: ArrayLike) -> list[Any]:
    return [_si(value, "", field) for value in values]


def _part(part: Mapping[str, object], units: Mapping[str, str], field: str) -> dict[str, object]:
    """A layer or a surface with its quantities, alone or in tables over time, as numbers."""
    def plain(key: str, value: object) -> object:
        if isinstance(value, Mapping):
            return {inner: _si(one, "s" if inner == "time" else units.get(key, ""), f"{field}.{key}.{inner}") for inner, one in value.items()}
        return _si(value, units.get(key, ""), f"{field}.{key}")

    return {key: plain(key, value) for key, value in part.items()}


def solve_wall(
    geometry: str,
    inner_radius: float,
    layers: Sequence[Mapping[str, object]],
    inner: Mapping[str, object],
    outer: Mapping[str, object],
    initial: ArrayLike,
    times: ArrayLike,
    resin: _core.Resin | None = None,
    reacting: int | None = None,
    source: float = 0.0,
    alpha0: float | None = None,
    tolerance: tuple[float, float] = (5e-3, 1e-6),
) -> tuple[Array, Array]:
    """Conduction with cure through a layered wall, by the solver of the whole job.

    Args:
        geometry: ``slab`` (per m2), ``cylinder`` (per m) or ``sphere``.
        inner_radius: of the innermost face [m]; 0 for a solid body, which has no inner surface.
        layers: inside to outside, each ``name``, ``thickness`` [m], ``conductivity`` [W/(m K)],
            ``density`` [kg/m3], ``specific_heat`` [J/(kg K)], ``cells``, and optionally ``growth``
            (last cell width over first) and ``contact_outside`` [m2 K/W].
        inner: ``{"kind": "insulated"}``, ``{"kind": "temperature", "time": [s], "value": [K]}``,
            ``{"kind": "flux", "time": [s], "value": [W/m2]}`` into the wall, or
            ``{"kind": "convection", "h": [W/(m2 K)], "temperature": [K], "absorbed": [W/m2]}``,
            where each value is a number or a table ``{"time": [s], "value": [...]}``.
        outer: the same.
        initial: temperatures (cells,) [K].
        times: at which to read the solution (n,) [s], rising, from 0 on.
        resin: what cures, if anything does; with ``reacting``, the index of its layer.
        source: heat of full cure per volume of that layer [J/m3].
        alpha0: initial degree of cure; None takes the resin's own.
        tolerance: local error allowed in one step [K], [-].

    Returns:
        Temperatures (n, cells) [K] and degrees of cure (n, reacting cells) [-].

    Raises:
        CureError: bad input, or a run that stopped (``time_reached_s``).
    """
    def face(surface: Mapping[str, object], field: str) -> dict[str, object]:
        return _part(surface, _SURFACES.get(str(surface.get("kind")), {}), field)

    return _core.solve_wall(
        geometry, _si(inner_radius, "m", "inner_radius"), [_part(layer, _LAYER, f"layers[{i}]") for i, layer in enumerate(layers)],
        face(inner, "inner"), face(outer, "outer"),
        _si(initial, "kelvin", "initial"), _si(times, "s", "times"), resin, reacting, _si(source, "J/m**3", "source"), alpha0, tolerance,
    )  # fmt: skip


def steady_heat_around(
    edge: ArrayLike, inner_radius: ArrayLike, thickness: ArrayLike, conductivity: float, rows: int, T_inner: float, T_outer: float, /
) -> float:
    """Steady heat [W/m] outwards through one layer, by the solver of sections.

    Args:
        edge: of the columns (n + 1,) [rad from the invert; a full turn, or half of it between planes of symmetry].
        inner_radius, thickness: of the columns (n,) [m].
        conductivity: of the layer [W/(m K)].
        rows: of cells across it.
        T_inner, T_outer: of the surfaces [K].

    Raises:
        CureError: what cannot be.
    """
    return _core.steady_heat_around(
        _si(edge, "rad", "edge"), _si(inner_radius, "m", "inner_radius"), _si(thickness, "m", "thickness"),
        _si(conductivity, "W/m/kelvin", "conductivity"), rows, _si(T_inner, "kelvin", "T_inner"), _si(T_outer, "kelvin", "T_outer"),
    )  # fmt: skip


def nusselt_free_cylinder(Ra: ArrayLike, Pr: ArrayLike, /) -> Array:
    """Free convection around a level cylinder (Churchill & Chu 1975), Ra and Nu on the diameter.

    Raises:
        CureError: outside Ra 0 to 1e12, Pr 1e-3 to 1e5.
    """
    return _core.nusselt_free_cylinder(*_numbers("Ra and Pr", Ra, Pr))


def nusselt_crossflow(Re: ArrayLike, Pr: ArrayLike, /) -> Array:
    """Flow across a cylinder (Churchill & Bernstein 1977).

    Raises:
        CureError: outside Re up to 1e7, Re Pr from 0.2.
    """
    return _core.nusselt_crossflow(*_numbers("Re and Pr", Re, Pr))


def nusselt_inside_cylinder(Ra: ArrayLike, /) -> Array:
    """Inside a closed level cylinder (Evans & Stefany 1966), at least conduction.

    Raises:
        CureError: above Ra 1e9.
    """
    return _core.nusselt_inside_cylinder(*_numbers("Ra", Ra))


def h_open_air(surface: ArrayLike, ambient: ArrayLike, diameter: ArrayLike, wind: ArrayLike, pressure: ArrayLike, /) -> Array:
    """Air around a level pipe [W/(m2 K)]; surface, ambient [K], diameter [m], wind [m/s], pressure [Pa]."""
    return _core.h_open_air(
        _si(surface, "kelvin", "surface"), _si(ambient, "kelvin", "ambient"), _si(diameter, "m", "diameter"), _si(wind, "m/s", "wind"),
        _si(pressure, "Pa", "pressure"),
    )  # fmt: skip


def h_radiation(emissivity: ArrayLike, T1: ArrayLike, T2: ArrayLike, /) -> Array:
    """Radiation as a coefficient [W/(m2 K)] between a grey surface and its surroundings [K]."""
    return _core.h_radiation(_si(emissivity, "", "emissivity"), _si(T1, "kelvin", "T1"), _si(T2, "kelvin", "T2"))


def ground_temperature(
    mean: ArrayLike, amplitude: ArrayLike, day_of_minimum: ArrayLike, diffusivity: ArrayLike, depth: ArrayLike, day: ArrayLike, /
) -> Array:
    """Undisturbed ground (Kusuda & Achenbach 1965) [K]; mean, amplitude [K], days of the year, diffusivity [m2/s], depth [m]."""
    return _core.ground_temperature(
        _si(mean, "kelvin", "mean"), in_unit(amplitude, "kelvin", "amplitude", difference=True), _si(day_of_minimum, "day", "day_of_minimum"),
        _si(diffusivity, "m**2/s", "diffusivity"), _si(depth, "m", "depth"), _si(day, "day", "day"),
    )  # fmt: skip
