"""Cases: what is known about one repair, read strictly by the core."""

from __future__ import annotations

import copy
import json
import math
import os
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from libcure import _core
from libcure.documents import Folders, model_library, own_folders, read_text, shown, with_models
from libcure.documents.quantities import in_unit, is_quantity, unit_of_key
from libcure.errors import input_error

__all__ = ["Case", "load_case"]

SET_EXAMPLE = "PATH=VALUE, such as ground.temperature_C=6 or stages.held.duration_min=300"
_KIND = re.compile(r"^stages\.([A-Za-z_]+)(?=\.|$)")
# Numbers that people write and JSON does not take: .8, +5, 5.
_PLAIN_NUMBER = re.compile(r"[+-]?(?:(?:0|[1-9]\d*)(?:\.\d*)?|\.\d+)")
_STEP = re.compile(r"([^.\[\]]+)|\[(\d+)\]")


class Case:
    """One repair: the document it came from, and what the core made of it.

    Make one with :func:`load_case` or :meth:`Case.from_dict`. A case never changes;
    :meth:`replace` makes a new one. Cases can be pickled.
    """

    __slots__ = ("_beside", "_changes", "_core", "_document", "_library", "_models", "_name")

    def __init__(
        self, text: str, *, beside: Path, name: str, models_only: str | os.PathLike[str] | None = None, models: Folders = None
    ) -> None:
        """Reads JSON text.

        Args:
            text: a document ``libcure/case/1``.
            beside: folder that relative paths in the document start from.
            name: stands for the file in messages.
            models_only: the one folder that the document, and what is made of it, may name files of; left out, any.
            models: folders of models of one's own, in which ids of the document, and of what is made of it, are looked up too.

        Raises:
            CureError: with the field, its value, what is allowed and the file.
        """
        with with_models(models):
            self._models = own_folders()
            self._library = model_library(models_only)
        self._core = _core.parse_case(text, self._library, beside, name)
        self._document: dict[str, Any] = json.loads(text)
        self._beside = beside
        self._name = name
        self._changes: dict[str, Any] = {}

    @classmethod
    def from_dict(
        cls,
        document: Mapping[str, Any],
        beside: str | os.PathLike[str] | None = None,
        name: str = "case",
        models_only: str | os.PathLike[str] | None = None,
        models: Folders = None,
    ) -> Case:
        """A case from a document in memory.

        NumPy numbers and arrays are taken as numbers and lists, and quantities of pint in the unit of their key: ``depth_m`` takes
        4 ft, and refuses 4 kg.

        Args:
            document: as in a case file.
            beside: folder that relative paths start from; the working folder when left out.
            name: stands for the file in messages.
            models_only: the one folder that the document may name files of; left out, any.
            models: folders of models of one's own, in which ids are looked up too.

        Raises:
            CureError: as for a file; a NaN or an infinity is named by its field.
        """
        text = json.dumps(_plain(document, "", name))
        return cls(text, beside=Path(beside) if beside is not None else Path.cwd(), name=name, models_only=models_only, models=models)

    def replace(self, changes: Mapping[str, Any] | Sequence[str]) -> Case:
        """A new case with some values changed, read as strictly as a file.

        Args:
            changes: value by path, for example ``{"initial_temperature_C.packer": 45, "stages.held.duration_min": 300}``, or
                texts as ``--set`` takes them, such as ``["stages[2].duration_min=300", "resin=epoxy-amine-medium"]``. A stage
                goes by its number or, where there is one of it, its kind. Objects that the document left out are made; None, or ``none`` in a text,
                takes a value out.

        Raises:
            CureError: no such form, a path given twice or leading nowhere, a kind that no stage has, or a value that is not
                allowed.
        """
        given = changes.items() if isinstance(changes, Mapping) else [_said(change) for change in changes]
        found: dict[str, Any] = {}
        document = self.document
        for path, value in given:
            numbered = _numbered(document, path, self._name)
            if numbered in found:
                raise input_error(path, "given twice", "each path once", self._name)
            found[numbered] = value
            _set(document, numbered, value, self._name)
        new = Case.from_dict(document, self._beside, self._name, self._only, self._models)
        new._changes = {**self._changes, **_plain(found, "", self._name)}
        return new

    @property
    def changes(self) -> dict[str, Any]:
        """What :meth:`replace` has changed since the case was read, value by path, as JSON has it."""
        return copy.deepcopy(self._changes)

    def said_changes(self) -> dict[str, Any]:
        """``changes`` as documents have it; nothing when there are none."""
        return {"changes": self.changes} if self._changes else {}

    @property
    def title(self) -> str:
        """Title of the case; empty when the document has none."""
        return self._core.title

    @property
    def resin(self) -> _core.Resin:
        """The resin model."""
        resin = self._core.resin
        resin._made = (_resin_of, (self,))
        return resin

    @property
    def defaults(self) -> list[str]:
        """What the document left out and what serves instead, one line each."""
        return list(self._core.defaults)

    @property
    def conditions(self) -> dict[str, Any]:
        """The resolved conditions of ground and surfaces, as ``ground`` and ``films`` of a verdict, before any run."""
        found: dict[str, Any] = json.loads(self._core.conditions_json)
        return found

    @property
    def document(self) -> dict[str, Any]:
        """A copy of the document as it was given, without the defaults."""
        return copy.deepcopy(self._document)

    @property
    def name(self) -> str:
        """The file it came from, or what stands for one in messages."""
        return self._name

    @property
    def beside(self) -> Path:
        """Folder that relative paths in the document start from."""
        return self._beside

    @property
    def library(self) -> _core.ModelLibrary:
        """Where its models are found."""
        return self._library

    @property
    def _only(self) -> Path | None:
        return self._library.only if self._library.only.is_absolute() else None

    @property
    def core(self) -> _core.Case:
        """The core's own case, in SI units."""
        return self._core

    def __repr__(self) -> str:
        kinds = ", ".join(stage["kind"] for stage in self._document["stages"])
        return f"<Case {self.title!r}: {self.resin.id}; {kinds}>"

    def __reduce__(self) -> tuple[Any, ...]:
        return Case.from_dict, (self._document, self._beside, self._name, self._only, self._models), (None, {"_changes": self._changes})


def load_case(path: str | os.PathLike[str], *, models_only: str | os.PathLike[str] | None = None, models: Folders = None) -> Case:
    """Reads a case file.

    Args:
        path: a document ``libcure/case/1``.
        models_only: the one folder that the document may name files of; left out, any.
        models: folders of models of one's own, in which ids are looked up too.

    Raises:
        CureError: with the field, its value, what is allowed and the file.
    """
    return Case(read_text(path), beside=Path(path).parent, name=shown(path), models_only=models_only, models=models)


def _resin_of(case: Case) -> _core.Resin:
    return case.resin


def _plain(value: Any, path: str, name: str) -> Any:
    """Value as JSON has it; what JSON cannot hold is refused by its path."""
    if is_quantity(value):
        value = in_unit(value, unit_of_key(path), path, name)
    if hasattr(value, "tolist"):  # NumPy arrays and numbers
        value = value.tolist()
    if isinstance(value, Mapping):
        for key in value:
            if not isinstance(key, str):
                raise input_error(path or "document", f"the key {key!r}", "keys that are texts", name)
        return {key: _plain(v, f"{path}.{key}" if path else key, name) for key, v in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(v, f"{path}[{i}]", name) for i, v in enumerate(value)]
    if isinstance(value, float) and not math.isfinite(value):
        raise input_error(path, str(value), "a finite number", name)
    if value is None or isinstance(value, bool | int | float | str):
        return value
    raise input_error(path, f"a Python {type(value).__name__}", "numbers, texts, lists and objects", name)


def _said(change: str) -> tuple[str, Any]:
    """Path and value of ``PATH=VALUE``; a value is JSON, a number as people write it, ``none``, or else a text."""
    path, equals, text = (part.strip() for part in change.partition("="))
    if not equals or not path or not text:
        raise input_error("--set", json.dumps(change, ensure_ascii=False), SET_EXAMPLE)
    if text == "none":
        return path, None
    try:
        return path, json.loads(text)
    except (json.JSONDecodeError, RecursionError):
        return path, float(text) if _PLAIN_NUMBER.fullmatch(text) else text


def _numbered(document: Mapping[str, Any], path: str, name: str) -> str:
    """The path with its stage by number."""
    found = _KIND.match(path)
    if found is None:
        return path
    kinds = [stage["kind"] for stage in document["stages"]]
    if found[1] not in kinds:
        raise input_error(path, f'no "{found[1]}"', f"one of the stages {', '.join(kinds)}, or a number such as stages[0]", name)
    numbers = [f"stages[{i}]" for i, kind in enumerate(kinds) if kind == found[1]]
    if len(numbers) > 1:
        raise input_error(path, f'{len(numbers)} stages "{found[1]}"', f"one of them by its number, {' or '.join(numbers)}", name)
    return f"{numbers[0]}{path[found.end():]}"


def _set(document: dict[str, Any], path: str, value: Any, name: str) -> None:
    steps: list[str | int] = []
    end = 0
    for match in _STEP.finditer(path):
        # Between two steps only the dot before a key is allowed.
        gap = path[end : match.start()]
        if gap != ("." if match[1] and steps else ""):
            break
        steps.append(match[1] if match[1] else int(match[2]))
        end = match.end()
    if end != len(path) or not steps:
        raise input_error(path, "not a path", 'keys and numbers, such as "stages[2].duration_min"', name)
    if value is None:
        _take_out(document, steps, path, name)
        return
    place: Any = document
    for i, step in enumerate(steps):
        last = i == len(steps) - 1
        if isinstance(step, int):
            if not isinstance(place, list) or step >= len(place):
                count = len(place) if isinstance(place, list) else 0
                raise input_error(path, f"no element [{step}]", f"one of the {count} elements there are", name)
        elif not isinstance(place, dict):
            raise input_error(path, f'nothing to hold "{step}"', "a path through objects", name)
        elif not last:
            place.setdefault(step, {})
        if last:
            place[step] = value
        else:
            place = place[step]


def _take_out(document: dict[str, Any], steps: Sequence[str | int], path: str, name: str) -> None:
    """Takes a value out that is there."""
    place: Any = document
    for i, step in enumerate(steps):
        there = step in place if isinstance(place, dict) else isinstance(place, list) and isinstance(step, int) and step < len(place)
        last = i == len(steps) - 1
        if not there or (last and isinstance(place, list)):
            raise input_error(path, "none", "a value; there is nothing to take out", name)
        if last:
            del place[step]
        else:
            place = place[step]
