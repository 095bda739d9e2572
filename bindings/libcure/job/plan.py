"""From a crew's answers to a case, and to what is not known of it.

What was answered has the usual ranges of a prediction; what was not has the usual value of the place, and a wider range. All
stand-ins and ranges are assumptions of this project, no source.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from libcure.case import Case
from libcure.errors import input_error
from libcure.job.facts import FILLS, PIPES, Said
from libcure.job.places import Place, find_place
from libcure.sampling import UncertainInput

__all__ = ["Job", "job_of"]

FIRST_MIXED = 4.0  # min in the pouch before the wet-out
LONGEST_HOLD = 2880.0  # min
GROUNDS = {"dry": "dry-sand", "damp": "moist-sand", "seeping": "saturated-sand", "running": "saturated-sand"}
# W/(m2 K) of water that moves behind the wall.
GROUNDWATER = {"seeping": 50.0, "running": 300.0}
PACKER_OVER_AIR = {"shade": (0.0, 3.0), "van": (2.0, 4.0), "sun": (15.0, 10.0)}
HEATED_PACKER = (20.0, 5.0)
SUN = 300.0  # W/m2 on the wet-out, where the packer lay in the sun
STORED_SPREAD, MIXED_SPREAD = 6.0, 2.0  # K, of the resin, unmeasured and measured
AIR_SPREAD, UNKNOWN_AIR_SPREAD = 3.0, 6.0  # K
WALL_SD = 1.0  # K, of a measured wall
OFFSETS = {
    "ground": ("ground.temperature_offset_K", "initial_temperature.pipe_offset_K"),
    "resin_temperature": ("initial_temperature.resin_offset_K",),
    "air": ("ambient_offset_K", "initial_temperature.fibre_offset_K"),
    "packer": ("initial_temperature.packer_offset_K",),
    "fill": ("fill_temperature_offset_K",),
}


@dataclass
class Job:
    """A case with its ranges, as a crew's answers make it."""

    case: Case
    ranges: tuple[UncertainInput, ...]
    place: Place
    taken: list[str]
    """What was not known, and what stands for it."""
    mixed_at: float | None
    """Minutes after midnight; None: not known, so that times count from mixing."""
    planned_min: float
    """From mixing until in place, as planned."""


@dataclass
class _Planning:
    said: Mapping[str, Said]
    taken: list[str] = field(default_factory=list)
    ranges: list[UncertainInput] = field(default_factory=list)

    def value(self, key: str) -> Any:
        return self.said[key].value if key in self.said else None

    def or_take(self, key: str, stand_in: float, words: str) -> float:
        """An answer, or what stands for it, which then is said."""
        value = self.value(key)
        if value is None:
            self.taken.append(words)
            return stand_in
        return float(value)

    def uncertain(self, name: str, title: str, distribution: str, spread: float, moves: tuple[str, ...] = ()) -> None:
        self.ranges.append(UncertainInput(name, title, moves or OFFSETS[name], distribution, spread))


def job_of(said: Mapping[str, Said], *, title: str = "", file: str = "") -> Job:
    """The job that answers describe.

    Args:
        said: answers by key, understood and without doubt; what is missing is not known.
        title: of the case.
        file: where the answers come from, for messages.

    Raises:
        CureError: the resin is not known, or the answers together make no case.
    """
    p = _Planning(said)
    if p.value("resin") is None:
        raise input_error("resin", "not known", "the resin and hardener: without them no time can be told", file)
    place = find_place(str(p.value("like") or "anywhere"))
    if p.value("like") is None:
        p.taken.append(f"place: {place.title}")
    document: dict[str, Any] = {"format": "libcure/case/1", "title": title or f"Job at {place.title}", "resin": p.value("resin")}
    document |= _pipe(p, place) | _liner(p)
    depth = p.or_take("depth", place.depth_mm, f"depth: {place.depth_mm / 1e3:g} m")
    document |= _ground(p, place, depth)
    temperatures = _temperatures(p, place, float(document["ground"]["temperature_C"]))
    document["initial_temperature_C"] = temperatures
    minutes = p.or_take("in_place", 20.0, "in place 20 min after mixing, up to half as long again")
    if p.value("in_place") is None:
        p.uncertain("duration", "Time until in place", "lognormal", 0.25, ("mixed_mass.duration_factor", "wet_out.duration_factor"))
    document["stages"] = _stages(p, minutes, temperatures)
    p.uncertain("thickness", "Liner thickness", "normal", 0.08 if p.value("thickness") is not None else 0.18, ("liner.thickness_factor",))
    p.uncertain("contact", "Contact resistance", "lognormal", 0.7, ("contact_factor",))
    mixed_at = p.value("mixed_at")
    return Job(Case.from_dict(document), tuple(p.ranges), place, p.taken, mixed_at, minutes)


def _pipe(p: _Planning, place: Place) -> dict[str, Any]:
    pipe = p.value("pipe")
    if pipe is None:
        p.taken.append(f"pipe: {place.pipe}")
        pipe = place.pipe
        p.uncertain("pipe", "Conductivity of the pipe", "lognormal", 0.5, ("pipe.conductivity_factor",))
    material, share = PIPES[pipe]
    bore = p.or_take("bore", place.bore_mm, f"bore: {place.bore_mm:g} mm")
    return {"pipe": {"material": material, "inner_diameter_mm": bore, "wall_mm": round(max(share * bore, 3.0), 1)}}


def _liner(p: _Planning) -> dict[str, Any]:
    thickness = p.or_take("thickness", 4.0, "liner 4 mm thick")
    length = p.or_take("length", 600.0, "liner 600 mm long")
    return {"liner": {"thickness_mm": thickness, "length_mm": length}}


def _ground(p: _Planning, place: Place, depth_mm: float) -> dict[str, Any]:
    wall, water = p.value("wall"), p.value("water")
    likely = round(place.ground_C(depth_mm), 1)
    if wall is None:
        p.taken.append(f"pipe's wall at {likely:g} °C, give or take {2.0 * place.ground_sd_K:g} K: measure it")
    p.uncertain("ground", "Ground temperature", "normal", WALL_SD if wall is not None else place.ground_sd_K)
    if water is None:
        p.taken.append(f"ground: {place.water}")
    p.uncertain("soil", "Conductivity of the ground", "lognormal", 0.2 if water is not None else 0.5, ("ground.conductivity_factor",))
    T = wall if wall is not None else likely
    ground: dict[str, Any] = {"material": GROUNDS[water or place.water], "temperature_C": T}
    found: dict[str, Any] = {"ground": ground}
    if water in GROUNDWATER:
        ground["groundwater"] = {"h_W_m2K": GROUNDWATER[water], "temperature_C": T}
        # Standing to the surface at most.
        found["release"] = {"bears": {"water_head_m": round(depth_mm / 1e3, 2)}}
    return found


def _temperatures(p: _Planning, place: Place, ground_C: float) -> dict[str, float]:
    air = p.or_take("air", place.air_C, f"air at {place.air_C:g} °C, give or take {UNKNOWN_AIR_SPREAD:g} K")
    p.uncertain("air", "Air temperature", "uniform", AIR_SPREAD if p.value("air") is not None else UNKNOWN_AIR_SPREAD)
    resin = p.or_take("resin_temperature", air, f"resin as the air, give or take {STORED_SPREAD:g} K: measure it in the cans")
    known = p.value("resin_temperature") is not None
    p.uncertain("resin_temperature", "Resin temperature at mixing", "uniform", MIXED_SPREAD if known else STORED_SPREAD)
    return {"air": air, "resin": resin, "fibre": air, "packer": _packer(p, air), "pipe": _pipe_temperature(p, ground_C)}


def _packer(p: _Planning, air: float) -> float:
    packer: float | str | None = p.value("packer")
    if isinstance(packer, float):
        T, spread = packer, 3.0
    elif packer == "heated":
        T, spread = HEATED_PACKER
    else:
        over, spread = PACKER_OVER_AIR.get(packer or "", (0.0, 8.0))
        T = air + over
    if not isinstance(packer, float):
        where = f"packer from the {packer}" if packer in ("shade", "sun", "van") else "heated packer" if packer else "packer"
        p.taken.append(f"{where} at {T:g} °C, give or take {spread:g} K")
    p.uncertain("packer", "Packer temperature", "uniform", spread)
    return T


def _pipe_temperature(p: _Planning, ground_C: float) -> float:
    """The pipe starts between the ground and the hot water that went through it."""
    hot: tuple[float, float] | str | None = p.value("hot_water")
    if not isinstance(hot, tuple):
        return ground_C
    water, ago = hot
    # The ground takes the heat back within hours; half an hour is short for that (assumption).
    left = (water - ground_C) * math.exp2(-ago / 30.0)
    p.taken.append(f"pipe still {left:.0f} K warmer at first from the hot water, or not at all; no faster release is counted on it")
    p.uncertain("hot_water", "Warmth left in the pipe", "uniform", min(max(abs(left) / 2.0, 0.5), 30.0), ("initial_temperature.pipe_offset_K",))
    return round(ground_C + left / 2.0, 1)


def _stages(p: _Planning, minutes: float, T: Mapping[str, float]) -> list[dict[str, Any]]:
    mixed = min(FIRST_MIXED, minutes / 3.0)
    wet_out: dict[str, Any] = {"kind": "wet_out", "duration_min": minutes - mixed}
    if p.value("packer") == "sun":
        wet_out["absorbed_sun_W_m2"] = SUN
        p.taken.append(f"sun on the wet-out, {SUN:g} W/m² taken up")
    held: dict[str, Any] = {"kind": "held", "duration_min": LONGEST_HOLD, "ends": "at_release"}
    fill = p.value("fill")
    if fill is None:
        p.taken.append("bladder filled with air as it is outside")
    held["fill_temperature_C"], held["h_W_m2K"] = fill or (T["air"], FILLS["air"])
    p.uncertain("fill", "Temperature of the fill", "uniform", AIR_SPREAD)
    return [{"kind": "mixed_mass", "duration_min": mixed}, wet_out, held]
