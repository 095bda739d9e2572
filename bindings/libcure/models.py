"""The model files that come with libcure, and those in folders of one's own: resins, pipe and bladder materials, grounds."""

from __future__ import annotations

import json
import math
import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from libcure import _core
from libcure.documents import Folders, confine, model_file, model_folders, model_library, read_object, read_text, with_models
from libcure.errors import input_error

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

__all__ = [
    "Material",
    "basis",
    "ids",
    "is_path",
    "limit_C",
    "load_resin",
    "materials",
    "model_names",
    "model_path",
    "rate_sources",
    "read_resin",
    "resin_parts",
    "resin_path",
    "resin_samples",
]


@dataclass(frozen=True)
class Material:
    """What a person needs in order to choose a material file."""

    id: str
    title: str
    kinds: tuple[str, ...]
    """Any of ``pipe``, ``bladder``, ``fibre``, ``laminate``, ``fluid``, ``ground``."""


def ids(folder: str) -> list[str]:
    """Names of the files in ``resins``, ``materials``, ``grounds`` or ``cases``, sorted."""
    return sorted({path.stem for root in model_folders() for path in (root / folder).glob("*.json")})


def resin_path(name: str | os.PathLike[str]) -> Path:
    """File of a resin model.

    Args:
        name: id of a model that comes with libcure, or a path to a resin file.

    Raises:
        CureError: no model of that id.
    """
    text = os.fspath(name)
    if "/" in text or text.endswith(".json"):
        confine(Path(text), text, "resin", "")
        return Path(text)
    known = ids("resins")
    if text not in known:
        near = _core.did_you_mean(text, known)
        raise input_error("resin", f'"{text}"', f"one of {', '.join(known)}, or a path to a .json file{near}")
    return model_file("resins", text)


def load_resin(name: str | os.PathLike[str], *, models: Folders = None) -> _core.Resin:
    """A resin model.

    Args:
        name: id of a model that comes with libcure, or a path to a resin file.
        models: folders of models of one's own, in which ids are looked up too.

    Raises:
        CureError: no such model, or a file that is not one.
    """
    with with_models(models):
        return read_resin(resin_path(name))


def read_resin(path: str | os.PathLike[str]) -> _core.Resin:
    """A resin model from a file.

    Raises:
        CureError: with the field, its value, what is allowed and the file.
    """
    resin = _core.load_resin(Path(path), model_library().only)
    resin._made = _recipe(Path(path), resin)
    return resin


def _recipe(path: Path, resin: _core.Resin) -> tuple[Any, ...]:
    """What makes a resin again where its files are not: for pickles."""
    parts = _components(path, path.stat().st_mtime_ns)
    if not parts:
        return _resin_of_text, (read_text(path), str(path))
    # As for the core, ids of a blend's file are those of the folder of models that it lies in.
    folder = path.parent.parent / "resins"
    read = [(share, read_resin(path.parent / name if is_path(name) else folder / f"{name}.json")) for name, share in parts]
    return _blended, (resin.id, resin.title, read)


def _resin_of_text(text: str, name: str) -> _core.Resin:
    resin = _core.read_resin(text, name)
    resin._made = (_resin_of_text, (text, name))
    return resin


def _blended(id: str, title: str, parts: list[tuple[float, _core.Resin]]) -> _core.Resin:
    resin = _core.blended(id, title, parts)
    resin._made = (_blended, (id, title, parts))
    return resin


def _resin_sample(text: str, name: str, paths: list[str], row: list[float]) -> _core.Resin:
    import numpy as np

    resin = _core.resin_samples(text, name, paths, np.array([row]))[0]
    resin._made = (_resin_sample, (text, name, paths, row))
    return resin


def resin_samples(name: str | os.PathLike[str], values: Mapping[str, ArrayLike]) -> list[_core.Resin]:
    """Resins that differ from a model in some of its numbers.

    Args:
        name: id of a model that comes with libcure, or a path to a resin file (not a blend).
        values: by path of the quantity, such as ``rate.k1.E``: one number a sample, in the quantity's own unit.

    Raises:
        CureError: no such model or quantity, or a value that the model file might not have.
    """
    import numpy as np

    path = resin_path(name)
    columns = [np.asarray(column, dtype=float).ravel() for column in values.values()]
    if not columns or len({len(column) for column in columns}) > 1:
        raise input_error("values", "columns of unlike length", "one number a sample in each", str(path))
    text, paths, rows = read_text(path), list(values), np.column_stack(columns)
    resins = _core.resin_samples(text, str(path), paths, rows)
    for resin, row in zip(resins, rows.tolist(), strict=True):
        resin._made = (_resin_sample, (text, str(path), paths, row))
    return resins


def basis(resin: _core.Resin) -> str:
    """What the rate constants of a resin are, in words."""
    if resin.estimated:
        return "ESTIMATED constants"
    return "constants transcribed at second hand" if resin.transcribed else "published constants"


def rate_sources(name: str) -> str:
    """Where the rate constants of a resin that comes with libcure are from: keys of references.bib."""
    document = json.loads(read_text(resin_path(name)))
    if "components" in document:
        parts = ", ".join(f"{100 * part['share']:g} % {part['resin']}" for part in document["components"])
        return f"those of {parts}"
    found: dict[str, None] = {}

    def collect(node: object) -> None:
        if isinstance(node, dict):
            if isinstance(source := node.get("source"), str):
                # "none" stands for this project's own estimate.
                found.setdefault("own estimate" if source == "none" else source)
            for child in node.values():
                collect(child)
        elif isinstance(node, list):
            for child in node:
                collect(child)

    collect([document.get("rate"), document.get("inhibitor")])
    return ", ".join(found)


def materials(folder: str) -> list[Material]:
    """The materials in ``materials`` or ``grounds``, sorted by id."""
    found = []
    for name in ids(folder):
        document = json.loads(read_text(model_file(folder, name)))
        found.append(Material(document["id"], document["title"], tuple(document.get("kinds", ()))))
    return found


def model_names(document: Mapping[str, Any], beside: Path) -> Iterator[tuple[str, str]]:
    """Folder and id or path of the models that a case names, or takes by default."""
    resin = document["resin"]
    names = [name for name, _ in resin_parts(resin, beside)]
    if isinstance(resin, str) and resin not in names:
        yield "resins", resin  # the file of a blend
    for name in names:
        yield "resins", name
    yield "materials", document["pipe"]["material"]
    yield "materials", document["liner"].get("fibre", "e-glass")
    yield "materials", document.get("bladder", {}).get("material", "natural-rubber")
    yield "grounds", document["ground"]["material"]


def resin_parts(resin: str | Mapping[str, Any], beside: Path) -> list[tuple[str, float]]:
    """The resins of a blend, each by its id or its path from ``beside`` on, with their shares; else the one resin, all of it.

    Args:
        resin: as a case names it: an id, a path, or a blend written in the case.
        beside: folder that relative paths in the case start from; those in a blend's file start from its own.
    """
    if not isinstance(resin, str):
        return [(part["resin"], part["share"]) for part in resin["components"]]
    path = model_path("resins", resin, beside)
    folder = os.path.dirname(resin) if is_path(resin) else path.parent
    parts = _components(path, path.stat().st_mtime_ns)
    named = [(os.path.join(folder, name) if is_path(name) else name, share) for name, share in parts]
    return named or [(resin, 1.0)]


@cache
def _components(path: Path, changed: int) -> tuple[tuple[str, float], ...]:
    """What a blend's file names, with shares; none of a plain resin."""
    return tuple((part["resin"], part["share"]) for part in read_object(path).get("components", ()))


def is_path(name: str) -> bool:
    """Whether a model's name is a path, as in the core."""
    return "/" in name or name.endswith(".json")


def model_path(folder: str, name: str, beside: Path) -> Path:
    """File of a model by its folder, and its id or its path from ``beside`` on."""
    return beside / name if is_path(name) else model_file(folder, name)


def limit_C(document: Mapping[str, Any], beside: Path) -> float:
    """Lowest temperature limit of resin, bladder and pipe [°C]; infinite when none is known."""
    named = [(folder, name) for folder, name in model_names(document, beside) if folder != "grounds"]
    paths = [model_path(folder, name, beside) for folder, name in named]
    return min(_model_limit_C(path, path.stat().st_mtime_ns) for path in paths)


@cache
def _model_limit_C(path: Path, changed: int) -> float:
    limit = read_object(path).get("temperature_limit")
    if limit is None:
        return math.inf
    return float(limit["value"]) - (273.15 if limit["unit"] == "K" else 0.0)
