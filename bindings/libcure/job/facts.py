"""The facts of a job that a crew knows, as questions; what may be answered, and what looks like another unit."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from libcure import _core, models
from libcure.documents.fields import Fields
from libcure.errors import input_error
from libcure.job import said
from libcure.job.places import PLACES

__all__ = ["FACTS", "FORMAT", "PIPES", "UNITS", "Fact", "Said", "fact_named", "read_answer", "read_file", "understood"]

FORMAT = "libcure/job/1"
UNITS = ("metric", "us")
OTHER_UNIT = {"C": "F", "F": "C", "mm": "in", "in": "mm", "m": "ft", "ft": "m"}

PIPES = {
    "pvc": ("pvc", 0.05), "clay": ("vitrified-clay", 0.1), "concrete": ("concrete", 0.15), "cast iron": ("cast-iron", 0.06),
    "ductile iron": ("ductile-iron", 0.05), "steel": ("steel", 0.04), "pe": ("hdpe", 0.06), "pp": ("polypropylene", 0.05),
    "fibre cement": ("asbestos-cement", 0.09), "brick": ("brick", 0.4), "glass fibre": ("glass-polyester-laminate", 0.03),
}  # fmt: skip
"""Words for what a pipe is made of: the material's id, and a usual wall over the bore (common practice, no source)."""
WATERS = ("dry", "damp", "seeping", "running")
"""What is seen of groundwater at the wall."""
USUAL = _core.usual_temperatures()
WHERE_PACKER = ("shade", "sun", "van", "heated")
"""Where a packer lay whose temperature nobody measured."""


FILLS = {"air": 10.0, "water": 300.0}
"""What fills a bladder, and its heat-transfer coefficient [W/(m2 K)] (common practice, no source)."""


@dataclass(frozen=True)
class Fact:
    """One thing to ask."""

    key: str
    """In a job document; with dashes the option of the command."""
    question: str
    kind: str
    """``temperature``, ``length``, ``depth``, ``minutes``, ``clock``, ``choice``, ``resin``, ``packer``, ``fill`` or ``hot water``."""
    help: str
    usual: tuple[float, float] = (-math.inf, math.inf)
    """Outside it a number without a unit is asked about [°C, mm, min]."""
    limits: tuple[float, float] = (-math.inf, math.inf)
    """[°C, mm, min]"""
    choices: tuple[str, ...] = ()
    needed: bool = False


FACTS = (
    Fact("like", "What place is it like", "choice", "a place whose usual values stand in for what is not known", choices=tuple(PLACES)),
    Fact("pipe", "What is the pipe made of", "choice", "what the pipe is made of", choices=tuple(PIPES)),
    Fact("bore", "Bore of the pipe", "length", "inner diameter", (50.0, 600.0), (40.0, 2000.0)),
    Fact("depth", "Depth of the pipe", "depth", "from the surface to the pipe", (200.0, 6000.0), (0.0, 30000.0)),
    Fact("wall", "Temperature of the pipe's wall, measured", "temperature", "measured at the defect", USUAL["pipe"], (-10.0, 60.0)),
    Fact("water", "Groundwater at the wall", "choice", "what is seen of it", choices=WATERS),
    Fact("hot_water", "Hot water through it lately", "hot water", 'temperature and how long ago it ended, as "45 C 10 min", or none'),
    Fact("thickness", "Thickness of the liner", "length", "as it will lie in the pipe", (1.5, 12.0), (0.5, 40.0)),
    Fact("length", "Length of the liner", "length", "along the pipe", (200.0, 5000.0), (50.0, 20000.0)),
    Fact("resin", "Resin and hardener", "resin", "id of a resin model (libcure models), or a file", needed=True),
    Fact("resin_temperature", "Temperature of the resin when mixed", "temperature", "measured in the cans", USUAL["resin"], (-10.0, 60.0)),
    Fact("packer", "Temperature of the packer, or where it lay", "packer", "measured, or one of " + ", ".join(WHERE_PACKER), (-5.0, 50.0),
         (-20.0, 80.0), WHERE_PACKER),
    Fact("air", "Temperature of the air", "temperature", "where the liner is wetted out", USUAL["air"], (-30.0, 55.0)),
    Fact("fill", "What fills the bladder, and its temperature", "fill", 'air or water, as "air 10 C" or "water 35 C"', (-15.0, 70.0), (-30.0, 95.0),
         tuple(FILLS)),
    Fact("in_place", "From mixing until the packer is inflated in place", "minutes", "as planned", (5.0, 120.0), (1.0, 720.0)),
    Fact("mixed_at", "Mixed at, by the clock", "clock", "time of day; the answers then are times of day"),
)  # fmt: skip


def fact_named(key: str) -> Fact:
    """The fact of a key of a job document."""
    return next(f for f in FACTS if f.key == key)


@dataclass(frozen=True)
class Said:
    """One answer that has been understood."""

    value: float | str | tuple[float, float] | None
    """°C, mm, min, or a word; of hot water its temperature and how long ago it ended; of a fill its temperature and the
    heat-transfer coefficient; None: not known."""
    doubt: str = ""
    """What it may mean, when it is unusual and would be usual in another unit."""


def read_answer(fact: Fact, text: str, units: str, where: str) -> Said:
    """Understands an answer.

    Args:
        fact: what was asked.
        text: as it was said; empty, ``?`` or ``don't know`` is not known.
        units: ``metric`` or ``us``, of numbers without a unit.
        where: name of the field for messages.

    Raises:
        CureError: it cannot be understood, or cannot be.
    """
    if said.unknown(text):
        return Said(None)
    if fact.kind == "choice":
        return Said(_choice(fact, text, where))
    if fact.kind == "resin":
        return Said(_resin(text, where))
    if fact.kind == "packer" and text.strip().lower() in fact.choices:
        return Said(text.strip().lower())
    if fact.kind == "hot water":
        return _hot_water(text, units, where)
    if fact.kind == "fill":
        medium, _, rest = text.strip().partition(" ")
        known = medium.lower() in FILLS
        found = _measured(fact, rest if known else text, units, where)
        assert isinstance(found.value, float)
        return Said((found.value, FILLS[medium.lower() if known else "air"]), found.doubt)
    if fact.kind in ("clock", "minutes"):
        value = said.clock(text) if fact.kind == "clock" else said.minutes(text)
        if value is None:
            raise input_error(where, _quoted(text), "a time of day such as 9:12" if fact.kind == "clock" else "minutes such as 14, or 1:20")
        return Said(_within(fact, value, text, where))
    return _measured(fact, text, units, where)


def _measured(fact: Fact, text: str, units: str, where: str) -> Said:
    """A temperature or a length; in doubt when it is an odd one that would be usual in the other unit."""
    thermal = fact.kind in ("temperature", "packer", "fill")
    metric, us = ("C", "F") if thermal else ("m", "ft") if fact.kind == "depth" else ("mm", "in")
    unit = metric if units == "metric" else us
    read = said.temperature_C if thermal else said.length_mm
    found = read(text, unit)
    if found is None:
        or_where = f", or one of {', '.join(fact.choices)}" if fact.choices else ""
        raise input_error(where, _quoted(text), f"a number with its unit, such as {_example(fact, unit)}{or_where}")
    value, unit_was_said = found
    low, high = fact.usual
    if not unit_was_said and not low <= value <= high:
        other = read(text, OTHER_UNIT[unit])
        assert other is not None
        if low <= other[0] <= high:
            degree = " °" if thermal else " "
            return Said(value, f'"{text.strip()}{degree}{unit}" or "{text.strip()}{degree}{OTHER_UNIT[unit]}"')
    return Said(_within(fact, value, text, where))


def _within(fact: Fact, value: float, text: str, where: str) -> float:
    low, high = fact.limits
    if not low <= value <= high:
        unit = "min" if fact.kind == "minutes" else "mm" if fact.kind in ("length", "depth") else "°C"
        raise input_error(where, _quoted(text), f"{low:g} to {high:g} {unit}")
    return value


def _example(fact: Fact, unit: str) -> str:
    return {"C": '"16 C"', "F": '"61 F"', "m": '"1.2 m"', "ft": '"4 ft"', "mm": '"100 mm"' if fact.key == "bore" else '"4 mm"', "in": '"4 in"'}[unit]


def _choice(fact: Fact, text: str, where: str) -> str:
    word = " ".join(text.lower().split())
    if word in fact.choices:
        return word
    begin = [c for c in fact.choices if c.startswith(word)]
    if len(begin) != 1:
        raise input_error(where, _quoted(text), "one of " + ", ".join(fact.choices) + _core.did_you_mean(word, fact.choices))
    return begin[0]


def _resin(text: str, where: str) -> str:
    name = text.strip()
    if models.is_path(name):
        return name
    known = models.ids("resins")
    if name in known:
        return name
    part = [k for k in known if name.lower() in k]
    if len(part) != 1:
        raise input_error(where, _quoted(text), "one of " + ", ".join(part or known) + ", or a file" + _core.did_you_mean(name, part or known))
    return part[0]


def _hot_water(text: str, units: str, where: str) -> Said:
    if text.strip().lower() in ("no", "none"):
        return Said("none")
    parts = text.replace(",", " ").split()
    for cut in range(1, len(parts)):
        T = said.temperature_C(" ".join(parts[:cut]), "C" if units == "metric" else "F")
        ago = said.minutes(" ".join(parts[cut:]).removesuffix(" ago"))
        if T is not None and ago is not None and 0.0 <= T[0] <= 95.0 and 0.0 <= ago <= 1440.0:
            return Said((T[0], ago))
    raise input_error(where, _quoted(text), 'a temperature of 0 to 95 °C and minutes ago, such as "45 C 10 min", or none')


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def read_file(document: Mapping[str, Any], file: str) -> tuple[str, dict[str, str]]:
    """Units and answers, as texts, of a document ``libcure/job/1``.

    Raises:
        CureError: another format, an unknown key, or an answer that is neither text nor number.
    """
    fields = Fields(document, "", file)
    told = fields.text("format", allowed=f'"{FORMAT}"')
    if told != FORMAT:
        raise fields.refuse("format", told, f'"{FORMAT}"')
    units = fields.choice("units", list(UNITS)) if fields.has("units") else "metric"
    answers = {}
    for fact in FACTS:
        if not fields.has(fact.key):
            continue
        value = fields.any(fact.key, "a text or a number")
        if isinstance(value, bool) or not isinstance(value, str | int | float):
            raise fields.refuse(fact.key, value, "a text or a number")
        answers[fact.key] = value if isinstance(value, str) else f"{value:g}"
    fields.finish()
    return units, answers


def understood(fact: Fact, text: str, units: str, where: str) -> Said:
    """An answer without a doubt.

    Raises:
        CureError: as :func:`read_answer`, or it looks like a number in another unit.
    """
    found = read_answer(fact, text, units, where)
    if found.doubt:
        raise input_error(where, _quoted(text), f"{found.doubt}: without a unit it is an unusual number")
    return found

