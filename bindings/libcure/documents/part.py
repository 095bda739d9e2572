"""Objects of documents that the core has checked by its tables, and refusals by path."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from libcure.errors import CureError, input_error, one_line

__all__ = ["Part"]


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
                near = _near(key, names)
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
            near = _near(value, names)
            raise self.refuse(key, value, "one of " + ", ".join(names) + (f'; did you mean "{near[0]}"?' if near else ""))
        return value


def _shown(value: object) -> str:
    return one_line(json.dumps(value, ensure_ascii=False, default=repr), 80)


def _near(word: str, names: Sequence[str]) -> list[str]:
    from difflib import get_close_matches  # here: what is right needs no suggestion

    return get_close_matches(word, names, 1)
