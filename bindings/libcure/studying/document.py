"""Study documents, ``libcure/study/1``: what was measured of one resin, and at which temperatures the jobs are."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from libcure.documents import Folders, filled, read_object, shown, with_models
from libcure.documents.part import Part
from libcure.studying.family import Family, find_family
from libcure.studying.measurements import NEEDS_VISCOSITY, read_measurement
from libcure.studying.reading import Measurement

__all__ = ["load", "read"]

Read = tuple[dict[str, str], Family, tuple[Measurement, ...], tuple[float, ...]]


def load(path: str | os.PathLike[str], *, models: Folders = None) -> Read:
    """Reads a study document: about, family, measurements, temperatures of one's jobs [°C].

    Args:
        path: the document.
        models: folders of models of one's own, in which ids are looked up too.

    Raises:
        CureError: with field, value, what is allowed and the file.
    """
    with with_models(models):
        return read(read_object(path), shown(path), Path(path).parent)


def read(document: Mapping[str, Any], name: str, beside: Path) -> Read:
    """The same of a document in memory."""
    f = Part(filled("study", document, name), "", name)
    about = {key: f.get(key, "") for key in ("id", "title", "note")}
    family = find_family(f["family"], name)
    entries = f.parts("measurements")
    measurements = tuple(read_measurement(entry, i, beside) for i, entry in enumerate(entries, 1))
    for m, entry in zip(measurements, entries, strict=True):
        if family.inhibited and m.kind in NEEDS_VISCOSITY:
            raise entry.refuse("kind", m.kind, "another kind: the models of this family have no viscosity")
    if all(m.hold_back for m in measurements):
        raise f.refuse_words("measurements", "all held back", "at least one that counts")
    return about, family, measurements, tuple(f.get("jobs_C", (5.0, 10.0, 20.0)))
