"""Files of libcure: where the models are, writing without half files, and the JSON schemas."""

from __future__ import annotations

import json
import os
import stat
from collections.abc import Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, contextmanager, nullcontext
from contextvars import ContextVar
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

from libcure import _core
from libcure.errors import input_error

if TYPE_CHECKING:
    from jsonschema.protocols import Validator

__all__ = [
    "Folders",
    "confine",
    "decode",
    "filled",
    "format_of",
    "formats",
    "model_file",
    "model_folders",
    "model_library",
    "models_folder",
    "models_only",
    "output_folder",
    "output_path",
    "own_folders",
    "own_models",
    "read_bytes",
    "read_object",
    "read_text",
    "replacing",
    "shown",
    "to_json",
    "validate",
    "with_models",
    "write_json",
]

Folders: TypeAlias = "str | os.PathLike[str] | Sequence[str | os.PathLike[str]] | None"
"""One folder of models, several, or none."""

LARGEST_FILE = 16 * 2**20  # bytes, as in the core


@cache
def models_folder() -> Path:
    """Folder with ``resins/``, ``materials/``, ``grounds/``, ``cases/`` and ``schema/``.

    Raises:
        CureError: it is neither in the installed package nor in the source tree.
    """
    package = Path(__file__).parents[1]
    for folder in (package / "models", package.parents[1] / "models"):
        if (folder / "resins").is_dir():
            return folder
    raise input_error("models", "missing", "a complete installation; install libcure again", str(package))


def model_folders() -> list[Path]:
    """Where ids are looked up: the folder of libcure, those of :func:`own_models`, and those that the environment's LIBCURE_MODELS names.

    Raises:
        CureError: one of them is not there.
    """
    return [models_folder(), *_own.get(), *_core.own_model_folders()]


_own: ContextVar[tuple[Path, ...]] = ContextVar("own_models", default=())


@contextmanager
def own_models(*folders: str | os.PathLike[str]) -> Iterator[None]:
    """While it lasts, ids are looked up in these folders too; the environment's LIBCURE_MODELS does so for good.

    Args:
        folders: each with ``resins/``, ``materials/``, ``grounds/`` or ``cases/`` in it. Holds for what this thread (or task) reads;
            a case keeps them, for what is made of it.

    Raises:
        CureError: no such folder. An id that two folders have is refused where it is used.
    """
    for folder in folders:
        if not os.path.isdir(folder):
            raise input_error("own_models", f'"{shown(folder)}"', "folders that exist")
    token = _own.set(tuple(dict.fromkeys((*_own.get(), *(Path(os.path.abspath(folder)) for folder in folders)))))
    try:
        yield
    finally:
        _own.reset(token)


def with_models(models: Folders) -> AbstractContextManager[None]:
    """What an argument ``models`` does: :func:`own_models` of its folders."""
    if models is None:
        return nullcontext()
    return own_models(*([models] if isinstance(models, str | os.PathLike) else models))


def own_folders() -> tuple[Path, ...]:
    """The folders of :func:`own_models` that count just now."""
    return _own.get()


def model_file(folder: str, name: str) -> Path:
    """File of an id in ``resins``, ``materials``, ``grounds`` or ``cases``; that of libcure where there is none.

    Raises:
        CureError: two folders have it.
    """
    found = {(root / folder / f"{name}.json").resolve() for root in model_folders() if (root / folder / f"{name}.json").is_file()}
    if len(found) > 1:
        raise input_error(folder, f'"{name}"', "an id that one folder has, not " + " and ".join(sorted(map(str, found))))
    return found.pop() if found else models_folder() / folder / f"{name}.json"


_only: ContextVar[Path] = ContextVar("models_only", default=Path())


@contextmanager
def models_only(folder: str | os.PathLike[str] | None) -> Iterator[None]:
    """While it lasts, documents may name models by id, or files in this folder, and no others; for those who take documents from others.

    Args:
        folder: links are followed; None changes nothing. Holds for what this thread (or task) reads.

    Raises:
        CureError: no such folder.
    """
    if folder is None:
        yield
        return
    if not os.path.isdir(folder):
        raise input_error("models_only", f'"{shown(folder)}"', "a folder that exists")
    token = _only.set(Path(os.path.realpath(folder)))
    try:
        yield
    finally:
        _only.reset(token)


def model_library(only: str | os.PathLike[str] | None = None) -> _core.ModelLibrary:
    """Where models are found: those that come with libcure, and files in ``only``, else in that of :func:`models_only`, else anywhere.

    Raises:
        CureError: no such folder.
    """
    with models_only(only):
        return _core.ModelLibrary(model_folders(), _confined())


def confine(path: Path, name: str, field: str, file: str) -> None:
    """Refuses a file that a document names outside the folder of :func:`models_only`, before it is looked at.

    Raises:
        CureError: it lies elsewhere.
    """
    _core.confine(path, _confined(), name, field, file)


def _confined() -> str | Path:
    folder = _only.get()
    return folder if folder.is_absolute() else ""


def shown(path: str | os.PathLike[str]) -> str:
    """A path as messages show it: a file name that is not UTF-8 cannot go into one as it is."""
    return os.fspath(path).encode("utf-8", "replace").decode()


def read_bytes(path: str | os.PathLike[str]) -> bytes:
    """What is in a file.

    Raises:
        CureError: it cannot be read, or is above 16 MiB.
    """
    name = os.fspath(path)
    try:
        with open(name, "rb") as file:
            data = file.read(LARGEST_FILE + 1)
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise input_error("file", f"cannot be read ({reason})", "a readable file", shown(path)) from None
    if len(data) > LARGEST_FILE:
        raise input_error("file", "too large", "at most 16 MiB", shown(path))
    return data


def read_text(path: str | os.PathLike[str]) -> str:
    """Text of a UTF-8 file, with or without a byte-order mark.

    Raises:
        CureError: it cannot be read, is not UTF-8, or is above 16 MiB.
    """
    return decode(read_bytes(path), os.fspath(path))


def decode(data: bytes, name: str) -> str:
    """Text of UTF-8 bytes, with or without a byte-order mark; ``name`` is for messages.

    Raises:
        CureError: not UTF-8, or above 16 MiB.
    """
    if len(data) > LARGEST_FILE:
        raise input_error("file", "too large", "at most 16 MiB", name)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise input_error("file", f"not UTF-8 text (byte {error.start})", "a JSON document in UTF-8", name) from None


def read_object(path: str | os.PathLike[str]) -> dict[str, Any]:
    """A JSON object from a file, refused as by the core: no NaN, no repeated keys, no depth or number that no document of ours has.

    Raises:
        CureError: it cannot be read or is not such an object.
    """
    name, text = os.fspath(path), read_text(path)
    _core.check_json(text, name)
    document = json.loads(text)
    if not isinstance(document, dict):
        raise input_error("document", f"a JSON {type(document).__name__}", "an object {...}", name)
    return document


def filled(kind: str, document: Mapping[str, Any], file: str) -> dict[str, Any]:
    """A document, checked by the core's table of its kind, with what was left out filled in where the table says what serves.

    Args:
        kind: such as ``chart``; ``ranges`` reads what is uncertain in a chart alone.
        file: for messages.

    Raises:
        CureError: with the field, its value, what is allowed and the file.
    """
    found: dict[str, Any] = json.loads(_core.filled_document(kind, json.dumps(document), file))
    return found


def format_of(path: str | os.PathLike[str]) -> str | None:
    """The ``format`` of a JSON file; None when it has none or is no JSON object."""
    try:
        document = json.loads(read_text(path))
    except (ValueError, RecursionError):  # also of a whole number that Python finds too long
        return None
    given = document.get("format") if isinstance(document, dict) else None
    return given if isinstance(given, str) else None


def output_path(path: str | os.PathLike[str], option: str, suffixes: tuple[str, ...]) -> Path:
    """The file to write to, checked before anything is computed.

    Args:
        path: as the user gave it.
        option: name for messages, such as ``--json``.
        suffixes: endings allowed, such as ``(".png", ".svg")``.

    Raises:
        CureError: wrong ending, no such folder, no permission, or not an ordinary file.
    """
    target = Path(path)
    if target.suffix.lower() not in suffixes:
        raise input_error(option, f'"{target}"', f"a file that ends in {' or '.join(suffixes)}")
    # A link is followed, so that the file behind it is replaced and not the link.
    target = Path(os.path.realpath(target))
    if not os.path.isdir(target.parent):
        raise input_error(option, f'"{path}"', "a file in a folder that exists")
    try:
        exists = stat.S_ISREG(target.stat().st_mode)
    except FileNotFoundError:
        exists = False
    except OSError as error:
        raise input_error(option, f'"{path}"', f"a file that may be written ({error.strerror})") from None
    else:
        if not exists:
            raise input_error(option, f'"{path}"', "an ordinary file")
    if not os.access(target.parent, os.W_OK | os.X_OK) or (exists and not os.access(target, os.W_OK)):
        raise input_error(option, f'"{path}"', "a file that may be written")
    return target


def output_folder(path: str | os.PathLike[str], option: str = "--out") -> Path:
    """The folder to write to, made with those above it where it is not there.

    Raises:
        CureError: it cannot be.
    """
    target = Path(path)
    try:
        target.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise input_error(option, f'"{path}"', f"a folder that can be made ({error.strerror})") from None
    if not os.access(target, os.W_OK | os.X_OK):
        raise input_error(option, f'"{path}"', "a folder that may be written")
    return target


@contextmanager
def replacing(target: Path) -> Iterator[Path]:
    """Gives a temporary path beside ``target``; it takes the target's place only if all went well.

    Raises:
        CureError: the file system refused.
    """
    import secrets  # here: slow to load, and most commands write nothing

    temporary = target.with_name(f".{secrets.token_hex(8)}.part")
    try:
        yield temporary
        os.replace(temporary, target)
    except OSError as error:
        raise input_error("file", f"cannot be written ({error.strerror or error})", "a file that may be written",
                          str(target)) from error
    finally:
        temporary.unlink(missing_ok=True)


def to_json(document: Mapping[str, Any]) -> str:
    """A document as text: two spaces, real letters, no NaN, a newline at the end."""
    return json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def write_json(document: Mapping[str, Any], path: str | os.PathLike[str]) -> None:
    """Writes a document whole or not at all.

    Raises:
        CureError: the path does not end in ``.json`` or cannot be written.
    """
    with replacing(output_path(path, "file", (".json",))) as temporary:
        temporary.write_text(to_json(document), encoding="utf-8")


@cache
def _validator(kind: str) -> Validator:
    """Validator of one kind of document; schemas refer to each other by file name."""
    from jsonschema import Draft202012Validator
    from referencing import Registry
    from referencing.jsonschema import DRAFT202012

    folder = models_folder() / "schema"
    schemas = {path.name: json.loads(path.read_text(encoding="utf-8")) for path in folder.glob("*.schema.json")}
    registry: Registry[Any] = Registry().with_resources(
        (name, DRAFT202012.create_resource(schema)) for name, schema in schemas.items()
    )
    return Draft202012Validator(schemas[f"{kind}.schema.json"], registry=registry)


def formats() -> list[str]:
    """Formats that have a schema, such as ``libcure/case/1``."""
    folder = models_folder() / "schema"
    schemas = [json.loads(path.read_text(encoding="utf-8")) for path in sorted(folder.glob("*.schema.json"))]
    consts = [schema["properties"].get("format", {}).get("const") for schema in schemas]
    return [const for const in consts if const is not None]


def validate(document: Mapping[str, Any], file: str = "") -> None:
    """Checks a document against the JSON Schema that its ``format`` names.

    The schema serves editors and tests. The core's reader is the authority: it also checks what a
    schema cannot say, such as the order of stages.

    Args:
        document: a parsed case, resin, material, ground or verdict.
        file: for messages.

    Raises:
        CureError: no schema of that format, or the document does not fit it.
    """
    from jsonschema.exceptions import best_match

    given = document.get("format")
    if given not in formats():
        known = ", ".join(f'"{name}"' for name in formats())
        raise input_error("format", json.dumps(given), f"one of {known}", file)
    error = best_match(_validator(given.split("/")[1]).iter_errors(document))
    if error is not None:
        field = error.json_path.removeprefix("$").lstrip(".") or "document"
        raise input_error(field, error.message, "a document that fits its schema", file)
