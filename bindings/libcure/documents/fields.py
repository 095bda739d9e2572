"""Strict reading of objects in a document: wrong or unknown keys are errors by their path."""

from __future__ import annotations

import difflib
import json
import math
from collections.abc import Mapping, Sequence
from typing import Any

from libcure.errors import CureError, input_error, one_line

__all__ = ["Fields"]


class Fields:
    """One JSON object, read key by key; :meth:`finish` refuses what nobody asked for."""

    def __init__(self, value: object, path: str, file: str) -> None:
        self.path, self.file = path, file
        self._asked: set[str] = set()
        if not isinstance(value, Mapping):
            raise input_error(path or "document", _shown(value), "an object {...}", file)
        self._value = value

    def at(self, key: str) -> str:
        """Path of a key, for messages."""
        return f"{self.path}.{key}" if self.path else key

    def refuse(self, key: str, value: object, allowed: str) -> CureError:
        """The error for a value of this object, shown as it stands in JSON."""
        return self.refuse_words(key, _shown(value), allowed)

    def refuse_words(self, key: str, words: str, allowed: str) -> CureError:
        """The error for what ``words`` say of this object, such as ``missing``."""
        return input_error(self.at(key), words, allowed, self.file)

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
        allowed = "one of " + ", ".join(names)
        value = self.text(key, default=default, allowed=allowed)
        if value not in names:
            near = difflib.get_close_matches(value, names, 1)
            raise self.refuse(key, value, allowed + (f'; did you mean "{near[0]}"?' if near else ""))
        return value

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
        for key in self._value:
            if key not in self._asked:
                near = difflib.get_close_matches(key, self._asked, 1)
                known = ", ".join(sorted(self._asked))
                raise self.refuse_words(key, "unknown key", f'did you mean "{near[0]}"?' if near else f"one of {known}")


def _shown(value: object) -> str:
    return one_line(json.dumps(value, ensure_ascii=False, default=repr), 80)
