"""Objects of a document: refusals by path, and strict reading where the core has no table of it."""

from __future__ import annotations

import difflib
import json
import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from libcure.errors import CureError, input_error, one_line

__all__ = ["Fields", "Part"]


class Part:
    """One JSON object that the core has checked by its table, for what a table cannot say."""

    def __init__(self, value: object, path: str, file: str) -> None:
        self.path, self.file = path, file
        if not isinstance(value, Mapping):
            raise input_error(path or "document", _shown(value), "an object {...}", file)
        self._value = value

    def __contains__(self, key: str) -> bool:
        return key in self._value

    def __getitem__(self, key: str) -> Any:
        return self._value[key]

    def get(self, key: str, default: Any = None) -> Any:
        """The value of a key, or what serves where it is left out."""
        return self._value.get(key, default)

    def part(self, key: str) -> Part:
        """An object of its own; an empty one where it is left out."""
        return Part(self._value.get(key, {}), self.at(key), self.file)

    def parts(self, key: str) -> list[Part]:
        """The objects of a list."""
        return [Part(value, f"{self.at(key)}[{i}]", self.file) for i, value in enumerate(self._value.get(key, ()))]

    def only(self, known: Iterable[str]) -> None:
        """Refuses other keys, with a close match."""
        names = list(known)
        for key in self._value:
            if key not in names:
                near = difflib.get_close_matches(key, names, 1)
                raise self.refuse_words(key, "unknown key", f'did you mean "{near[0]}"?' if near else f"one of {', '.join(sorted(names))}")

    def at(self, key: str) -> str:
        """Path of a key, for messages."""
        return f"{self.path}.{key}" if self.path else key

    def refuse(self, key: str, value: object, allowed: str) -> CureError:
        """The error for a value of this object, shown as it stands in JSON."""
        return self.refuse_words(key, _shown(value), allowed)

    def refuse_words(self, key: str, words: str, allowed: str) -> CureError:
        """The error for what ``words`` say of this object, such as ``missing``."""
        return input_error(self.at(key), words, allowed, self.file)

    def one_of(self, key: str, names: Sequence[str]) -> str:
        """A text that must be one of some that only a reader knows."""
        value: str = self[key]
        if value not in names:
            near = difflib.get_close_matches(value, names, 1)
            raise self.refuse(key, value, "one of " + ", ".join(names) + (f'; did you mean "{near[0]}"?' if near else ""))
        return value


class Fields(Part):
    """One JSON object, read key by key; :meth:`finish` refuses what nobody asked for."""

    def __init__(self, value: object, path: str, file: str) -> None:
        super().__init__(value, path, file)
        self._asked: set[str] = set()

    def has(self, key: str) -> bool:
        """Whether the key is there; it counts as known from now on."""
        self._asked.add(key)
        return key in self._value

    def any(self, key: str, allowed: str) -> Any:
        """A value of any kind."""
        if not self.has(key):
            raise self.refuse_words(key, "missing", allowed)
        return self._value[key]

    def number(
        self, key: str, low: float, high: float, *, default: float | None = None, above: bool = False
    ) -> float:
        """A number from low (not included when ``above``) to high."""
        allowed = f"{'above ' if above else ''}{low:g} to {high:g}"
        if default is not None and not self.has(key):
            return default
        value = self.any(key, f"a number, {allowed}")
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            raise self.refuse(key, value, f"a number, {allowed}")
        if not (low < value if above else low <= value) or value > high:
            raise self.refuse(key, value, allowed)
        return float(value)

    def whole(self, key: str, low: int, high: int, *, default: int | None = None) -> int:
        """A whole number from low to high."""
        allowed = f"a whole number, {low} to {high}"
        if default is not None and not self.has(key):
            return default
        value = self.any(key, allowed)
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            raise self.refuse(key, value, allowed)
        return value

    def power_of_two(self, key: str, low: int, high: int, *, default: int | None = None) -> int:
        """A whole power of two from low to high."""
        value = self.whole(key, low, high, default=default)
        if value & (value - 1):
            raise self.refuse(key, value, f"a power of two, {low} to {high}")
        return value

    def text(self, key: str, *, default: str | None = None, allowed: str = "a text") -> str:
        """A text that is not empty."""
        if default is not None and not self.has(key):
            return default
        value = self.any(key, allowed)
        if not isinstance(value, str) or not value.strip():
            raise self.refuse(key, value, allowed)
        return value

    def choice(self, key: str, names: Sequence[str], *, default: str | None = None) -> str:
        """One of some texts."""
        value = self.text(key, default=default, allowed="one of " + ", ".join(names))
        return self.one_of(key, names) if key in self else value

    def flag(self, key: str, *, default: bool) -> bool:
        """true or false."""
        if not self.has(key):
            return default
        value = self._value[key]
        if not isinstance(value, bool):
            raise self.refuse(key, value, "true or false")
        return value

    def object(self, key: str) -> Fields:
        """An object of its own."""
        return Fields(self.any(key, "an object {...}"), self.at(key), self.file)

    def items(self, key: str, low: int, high: int, of: str) -> list[Any]:
        """A list of low to high values."""
        allowed = f"a list of {low} to {high} {of}"
        value = self.any(key, allowed)
        if not isinstance(value, list):
            raise self.refuse(key, value, allowed)
        if not low <= len(value) <= high:
            raise self.refuse_words(key, f"{len(value)} of them", allowed)
        return value

    def objects(self, key: str, low: int, high: int) -> list[Fields]:
        """A list of objects."""
        return [
            Fields(value, f"{self.at(key)}[{i}]", self.file)
            for i, value in enumerate(self.items(key, low, high, "objects"))
        ]

    def finish(self) -> None:
        """Refuses keys that nobody asked for, with a close match."""
        self.only(self._asked)


def _shown(value: object) -> str:
    return one_line(json.dumps(value, ensure_ascii=False, default=repr), 80)
