"""Changes to a case, for pages, and the changed case as a file."""

from __future__ import annotations

import json
import os
import re
from pathlib import Path
from typing import Any

from libcure import documents, models
from libcure.case import Case
from libcure.errors import input_error, one_line

__all__ = ["save", "words"]

_NUMBER = re.compile(r"^stages\[(\d+)\]")


def words(case: Case) -> str:
    """What was changed in a case, for a page; empty when nothing was."""
    kinds = [stage["kind"] for stage in case.document["stages"]]

    def named(match: re.Match[str]) -> str:
        i = int(match[1])
        return f"stages.{kinds[i]}" if i < len(kinds) and kinds.count(kinds[i]) == 1 else match[0]

    return "; ".join(f"{_NUMBER.sub(named, path)} = {_shown(value)}" for path, value in case.changes.items())


def _shown(value: Any) -> str:
    if value is None:
        return "none"
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
