"""Changes to a case as a command takes them: PATH=VALUE."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from libcure import documents, models
from libcure.case import Case
from libcure.errors import input_error, one_line

__all__ = ["changed", "save", "words"]

EXAMPLE = "PATH=VALUE, such as ground.temperature_C=6 or stages.held.duration_min=300"
_NUMBER = re.compile(r"^stages\[(\d+)\]")
_KIND = re.compile(r"^stages\.([A-Za-z_]+)(?=\.|$)")


def changed(case: Case, changes: Sequence[str], option: str = "--set") -> Case:
    """A case with changes. Values are JSON, or texts when they are none; a stage may be named by its kind.

    Args:
        case: to change.
        changes: each ``PATH=VALUE``; paths as :meth:`libcure.Case.replace` takes them.
        option: name for messages.

    Raises:
        CureError: no such form, a path given twice or leading nowhere, a kind that no stage has, or a value that is not
            allowed.
    """
    found: dict[str, Any] = {}
    for change in changes:
        given, equals, text = change.partition("=")
        given, text = given.strip(), text.strip()
        if not equals or not given or not text:
            raise input_error(option, json.dumps(change, ensure_ascii=False), EXAMPLE)
        path = _numbered(case, given)
        if path in found:
            raise input_error(option, json.dumps(given, ensure_ascii=False), "each path once")
        try:
            found[path] = json.loads(text)
        except (json.JSONDecodeError, RecursionError):
            found[path] = text
    return case.replace(found) if found else case


def _numbered(case: Case, path: str) -> str:
    """The path with its stage by number."""
    return _KIND.sub(lambda match: f"stages[{_stage(case, match[1], path)}]", path)


def _stage(case: Case, kind: str, path: str) -> int:
    kinds = [stage["kind"] for stage in case.document["stages"]]
    if kind not in kinds:
        raise input_error(path, f'no "{kind}"', f"one of the stages {', '.join(kinds)}, or a number such as stages[0]", case.name)
    return kinds.index(kind)


def words(case: Case) -> str:
    """What was changed in a case, for a page; empty when nothing was."""
    kinds = [stage["kind"] for stage in case.document["stages"]]

    def named(match: re.Match[str]) -> str:
        i = int(match[1])
        return f"stages.{kinds[i]}" if i < len(kinds) else match[0]

    return "; ".join(f"{_NUMBER.sub(named, path)} = {_shown(value)}" for path, value in case.changes.items())


def _shown(value: Any) -> str:
    return one_line(value if isinstance(value, str) else json.dumps(value, ensure_ascii=False), 60)


def save(case: Case, target: Path, option: str = "--save") -> None:
    """Writes a case with its changes.

    Args:
        case: to write.
        target: as :func:`libcure.documents.output_path` gives it.
        option: name for messages.

    Raises:
        CureError: it cannot be written there, or the case names models by paths that lead elsewhere from there.
    """
    document = case.document
    if target.parent != Path(os.path.realpath(case.beside)):
        for _, name in models.model_names(document, case.beside):
            if models.is_path(name) and not os.path.isabs(name):
                raise input_error(option, f'"{target}"', f'a file beside the case, which names "{name}" from there')
    documents.write_json(document, target)
