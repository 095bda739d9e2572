"""Ground and surfaces of a case in words, for the verdict's page and for ``libcure check``."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

__all__ = ["facts", "far_radius"]


def facts(ground: Mapping[str, Any], films: list[Mapping[str, Any]]) -> list[tuple[str, str]]:
    """What was worked out, each with its heading; nothing for what the document gives itself.

    Args:
        ground: ``ground`` of a verdict or of :attr:`Case.conditions`.
        films: ``films`` of the same.
    """
    lines = []
    if climate := ground["climate"]:
        lines.append(("Ground", _climate(ground["temperature_C"], climate)))
    if water := ground["groundwater"]:
        lines.append(
            (
                "Groundwater",
                f"{water['temperature_C']:.1f} °C, moving past {1e3 * water['radius_m']:.0f} mm from the axis "
                f"with a film of {water['h_W_m2K']:g} W/(m²K)",
            )
        )
    if ice := ground["freezing"]:
        lines.append(("Frost", _frost(ice, ground.get("coldest_C"))))
    lines += [("Air", _film(film)) for film in films]
    return lines


def far_radius(ground: Mapping[str, Any]) -> str:
    """How far the ground goes and how wrong that may make the pipe's warming; empty with groundwater."""
    if ground["far_radius_m"] is None:
        return ""
    share = 100.0 * ground["far_radius_error"]
    error = "below 0.01 %" if share < 0.01 else f"{share:.2g} %"
    return f"ground out to {ground['far_radius_m']:.2f} m, its end changes the pipe's warming by {error}"


def _climate(temperature: float, c: Mapping[str, Any]) -> str:
    wave = f"{c['annual_mean_C']:g} ± {c['amplitude_K']:.3g} °C"
    if c["worst_month_K"] is not None:
        wave = f"{c['annual_mean_C']:.1f} ± {c['amplitude_K']:.1f} °C through the months ({c['worst_month_K']:.1f} K off)"
    return (
        f"{temperature:.1f} °C at {c['depth_m']:g} m on day {c['day']:g}; "
        f"the surface's year is {wave}, here {c['lag_days']:.0f} days later and ± {c['amplitude_at_depth_K']:.1f} K"
    )


def _frost(ice: Mapping[str, Any], coldest: float | None) -> str:
    water = f"{ice['water_kg_m3']:g} kg/m³ of water freeze between {ice['start_C']:g} and {ice['start_C'] - ice['range_K']:g} °C"
    return water if coldest is None else f"{water}; coldest ground {coldest:.1f} °C"


def _film(film: Mapping[str, Any]) -> str:
    law = "free convection of closed air"
    if "around" in film["law"]:
        law = f"wind of {film['wind_m_s']:g} m/s" if film["wind_m_s"] else "free convection in open air"
    used = ""
    if film.get("h_low_W_m2K") is not None:
        low, high = f"{film['h_low_W_m2K']:.1f}", f"{film['h_high_W_m2K']:.1f}"
        used = f" {low if low == high else f'{low} to {high}'} W/(m²K),"
    stage = str(film["stage"]).replace("_", " ")
    return f"{film['surface']}, {stage}:{used} {law} ({film['source']})"
