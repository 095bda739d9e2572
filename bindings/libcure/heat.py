"""Heat by itself: a wall, the ground, surfaces. What jobs are computed with, for comparison and for other uses. Everything SI."""

from libcure._core import (
    ground_temperature,
    h_open_air,
    h_radiation,
    nusselt_crossflow,
    nusselt_free_cylinder,
    nusselt_inside_cylinder,
    solve_wall,
    steady_heat_around,
)

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
