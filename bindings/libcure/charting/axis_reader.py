"""Reads the axes of a chart document: values in the units of their paths, seasons as months, and labels that say neither
another unit nor another number."""

from __future__ import annotations

import re
from typing import Any

from libcure.case import Case
from libcure.charting.axes import SEASON_PATHS, Axis, follows
from libcure.charting.climate import MONTHS, NAMED_SEASONS, Climate, named_season
from libcure.charting.units import contradictions, converted, kind_words, other_units, same_unit, stated, unit_of
from libcure.documents.part import Part

__all__ = ["check_words", "in_unit_of", "read_axis"]

KINDS = ("values", "months", "seasons")


def read_axis(a: Part, climate: Climate | None, base: Case, taken: list[str]) -> Axis:
    """One axis.

    Args:
        a: its object.
        climate: of the chart.
        base: the case that the axis changes.
        taken: names of the axes before it.

    Raises:
        CureError: with the field, its value, what is allowed and the file.
    """
    name: str = a["name"]
    if not name.isidentifier() or name in ("percentile", "note"):
        raise a.refuse("name", name, "letters, digits and underscores, not a digit first")
    if name in taken:
        raise a.refuse("name", name, "a name of its own")
    title = a.get("title", name)
    faster = a["order"] == "faster"
    given = [kind for kind in KINDS if kind in a]
    if not given:
        raise a.refuse_words("values", "missing", "a list of 1 to 40 values, months or seasons")
    if len(given) > 1:
        raise a.refuse_words("values" if "values" in given else given[0], "given", "one of values, months and seasons, not both")
    kind = given[0]
    values = tuple(a[kind])
    if kind == "values":
        axis = _of_values(a, base, name, title, values, faster)
    else:
        axis = _of_seasons(a, name, title, values, climate, base, kind)
    if len(set(axis.labels)) < len(axis.labels):
        raise a.refuse_words(kind, "one of them twice", "each value once")
    return axis


def in_unit_of(path: str, value: Any, a: Part, key: str) -> Any:
    """A value as the case takes it: a text with a unit, such as ``82 °F``, as a number in the unit of the path."""
    unit = unit_of(path)
    said = stated(value, unit)
    if said is None:
        return value
    number = converted(said[0], said[1], unit)
    if number is None:
        raise a.refuse(key, value, f"a number in {kind_words(unit)}, because {path} is in {unit}")
    return number


def _paths(a: Part) -> tuple[str, ...]:
    if "sets" not in a:
        raise a.refuse_words("sets", "missing", "a list of 1 to 8 paths in the case, such as ground.temperature_C")
    return tuple(a["sets"])


def _of_values(a: Part, base: Case, name: str, title: str, values: tuple[Any, ...], faster: bool) -> Axis:
    linked = "sets" not in a and all(isinstance(v, dict) for v in values)
    labels = _labels(a, values)
    if linked:
        sets = tuple(values[0])
        for value in values:
            if not value or set(value) != set(sets):
                raise a.refuse("values", value, f"objects of the same paths: {', '.join(sets) or 'at least one'}")
        settings = tuple(tuple(in_unit_of(path, value[path], a, "values") for path in sets) for value in values)
        return Axis(name, title, "", sets, values, labels, settings, faster=faster)
    sets = _paths(a)
    if not all(_is_number(v) for v in values):
        settings = tuple(tuple(in_unit_of(path, v, a, "values") for path in sets) for v in values)
        unit = a.get("unit", "")
        return Axis(name, title, unit, sets, values, labels, settings, faster=faster)
    of_path = unit_of(sets[0])
    for path in sets[1:]:
        if unit_of(path) != of_path:
            raise a.refuse("sets", path, f"paths of one unit: {sets[0]} is {f'in {of_path}' if of_path else 'without unit'}")
    unit = a.get("unit", of_path)
    numbers = [converted(float(v), unit, of_path) for v in values]
    if None in numbers:
        allowed = f"{kind_words(of_path)}, because {sets[0]} is in {of_path}" if of_path else f"no unit, because {sets[0]} has none"
        raise a.refuse("unit", unit, allowed)
    unit = of_path if same_unit(unit, of_path) else unit
    # Whole numbers stay whole, as the case and its hash have them.
    settings = tuple((v if same_unit(unit, of_path) else number,) * len(sets) for v, number in zip(values, numbers, strict=True))
    sets, settings = _with_rest_of_blend(a, base, sets, settings)
    return Axis(name, title, unit, sets, values, labels, settings, faster=faster)


def _with_rest_of_blend(
    a: Part, base: Case, sets: tuple[str, ...], settings: tuple[tuple[Any, ...], ...]
) -> tuple[tuple[str, ...], tuple[tuple[Any, ...], ...]]:
    """The share of one of two parts of a blend sets the other's too, so that both add up to 1."""
    share = re.fullmatch(r"resin\.components\[([01])\]\.share", sets[0]) if len(sets) == 1 else None
    resin = base.document["resin"]
    if share is None or not isinstance(resin, dict) or len(resin.get("components", ())) != 2:
        return sets, settings
    for (value,) in settings:
        if not 0.0 < value < 1.0:
            raise a.refuse("values", value, "shares above 0 and below 1: of one part alone there is no blend")
    other = f"resin.components[{1 - int(share[1])}].share"
    return (*sets, other), tuple((value, round(1.0 - value, 12)) for (value,) in settings)


def check_words(axis: Axis, a: Part) -> None:
    """Refuses a title or labels that say another unit than the values have."""
    if not axis.numeric or not axis.unit:
        return
    allowed = f"{axis.unit}, in which the values are"
    if any(other_units(axis.title, axis.unit)):
        raise a.refuse("title", axis.title, f"words without a unit, or with {allowed}")
    for label, value in zip(a.get("labels", ()), axis.values, strict=False):
        if any(contradictions(label, axis.unit, float(value))):
            raise a.refuse("labels", label, f"words, or {value:g} in {allowed}")


def _labels(a: Part, values: tuple[Any, ...]) -> tuple[str, ...]:
    if "labels" in a:
        labels = tuple(a["labels"])
        if len(labels) != len(values):
            raise a.refuse_words("labels", f"{len(labels)} of them", f"{len(values)} texts, one a value")
        return labels
    found = []
    for value in values:
        if not _is_number(value) and not isinstance(value, str):
            raise a.refuse_words("labels", "missing", "a text for each value that is neither a number nor a text")
        found.append(value if isinstance(value, str) else f"{value:g}")
    return tuple(found)


def _of_seasons(
    a: Part, name: str, title: str, values: tuple[Any, ...], climate: Climate | None, base: Case, kind: str
) -> Axis:
    assert climate is not None
    sets = _paths(a) if kind == "months" or "sets" in a else _season_paths(a, base)
    for path in sets:
        if (found := follows(path)) is None:
            raise a.refuse("sets", path, f"of a season: {SEASON_PATHS}")
        if climate.air is None and found.what in ("air", "stores"):
            raise a.refuse("sets", path, "ground and pipe alone, because climate.air is missing")
    seasons, names = zip(*(_season(value, climate) for value in values), strict=True)
    if "unit" in a:
        raise a.refuse("unit", a["unit"], "no unit, because the values are months")
    labels = _labels(a, values) if "labels" in a else tuple(names)
    nothing: tuple[tuple[Any, ...], ...] = ((None,) * len(sets),) * len(values)
    return Axis(name, title, "", sets, values, labels, nothing, tuple(seasons))


def _season(value: Any, climate: Climate) -> tuple[tuple[int, ...], str]:
    """Its months and its name."""
    if isinstance(value, int):
        return (value,), MONTHS[value - 1]
    if value in NAMED_SEASONS:
        return named_season(value, climate.day_of_minimum), value
    return tuple(value["months"]), value["name"]


def _season_paths(a: Part, base: Case) -> tuple[str, ...]:
    """All that a season moves in a case: ground and pipe, air, resin, packer, fibre, and the fill of the hold."""
    found = ["ground.temperature_C", *(f"initial_temperature_C.{name}" for name in ("pipe", "air", "resin", "packer", "fibre"))]
    for i, stage in enumerate(base.document["stages"]):
        for key in ("ambient_temperature_C", "fill_temperature_C"):
            path, value = f"stages[{i}].{key}", stage.get(key)
            if value is not None and not _is_number(value):
                raise a.refuse_words("sets", "missing", f"the paths that the season sets, because {path} of the case is no number")
            # What follows the air by itself needs no line; the fill of a hold has no default that a season knows.
            if value is not None or (key == "fill_temperature_C" and stage["kind"] == "held" and "fill_cycle" not in stage):
                found.append(path)
    return tuple(found)


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)
