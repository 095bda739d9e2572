"""A maker's mark as a picture: PNG as it is, SVG drawn by resvg.

An SVG may be a program that asks other addresses for things. Ours is a drawing only: what runs, what lies outside the file, and letters,
which need a font that another machine may not have, are refused by their names before anything is drawn. Sheet and page then get a PNG.
"""

from __future__ import annotations

import re
from functools import lru_cache
from pathlib import Path
from xml.parsers import expat

import resvg_py

from libcure import documents
from libcure.errors import CureError, input_error, one_line

__all__ = ["mark_png"]

FIELD = "publication.mark"
PIXELS = 1000
"""Width of a drawn mark: 600 dots an inch where it is largest on a sheet."""
MOST_BYTES = 2_000_000
"""Of a mark's file."""
MOST_LONG = 10
"""Length of a mark in widths, or the other way round."""
MOST_COPIES, MOST_DEEP = 16, 100
"""Copies of copies grow as three to the power of a third of their number."""
_RUNS = {"script", "handler", "listener", "foreignobject", "iframe", "embed", "object", "audio", "video", "animate", "set", "animatetransform", "animatemotion"}
_LETTERS = {"text", "textpath", "tspan", "tref"}
_INSIDE = re.compile(r"\s*(#|data:image/(png|jpeg|gif);base64,)", re.IGNORECASE)
_ADDRESS = re.compile(r"url\s*\(\s*[\"']?\s*([^)\"']*)|(@import)|(\\)", re.IGNORECASE)


def mark_png(mark: Path) -> bytes:
    """The bytes of a PNG picture.

    Raises:
        CureError: a file that cannot be read or is too large, or an SVG that holds more than a drawing, with what it holds.
    """
    try:
        return _png(mark, mark.stat().st_mtime_ns) if mark.suffix.lower() == ".svg" else mark.read_bytes()
    except OSError as error:
        raise input_error(FIELD, str(mark), "a file that can be read") from error


@lru_cache(maxsize=8)
def _png(mark: Path, changed: int) -> bytes:
    if mark.stat().st_size > MOST_BYTES:
        raise input_error(FIELD, str(mark), f"at most {MOST_BYTES} bytes")
    text = documents.read_text(mark)
    _only_a_drawing(text, mark)
    try:
        return bytes(resvg_py.svg_to_bytes(svg_string=text, width=PIXELS, skip_system_fonts=True))
    # Its errors are no Exception where it panics.
    except BaseException as error:
        if isinstance(error, KeyboardInterrupt | SystemExit):
            raise
        raise input_error(FIELD, str(mark), f"an SVG picture; {one_line(str(error))}") from error


def _drawable(root: dict[str, str]) -> bool:
    """Whether the picture is of a size, and neither so wide nor so tall that its pixels would fill the memory."""
    box = root.get("viewBox", "").replace(",", " ").split()
    pairs = [box[2:]] if len(box) == 4 else []
    if "width" in root or "height" in root:
        pairs.append([re.sub(r"(px|mm|cm|in|pt)?\s*$", "", root.get(key, "")) for key in ("width", "height")])
    try:
        sizes = [(float(wide), float(tall)) for wide, tall in pairs]
    except ValueError:
        return False
    return bool(sizes) and all(wide > 0.0 and tall > 0.0 and 1.0 / MOST_LONG <= tall / wide <= MOST_LONG for wide, tall in sizes)


def _only_a_drawing(text: str, mark: Path) -> None:
    def refuse(what: str) -> CureError:
        return input_error(FIELD, f"{mark} with {what}", "an SVG drawing without scripts, letters, and references out of the file; letters as outlines")

    copies = depth = 0

    def element(name: str, attributes: dict[str, str]) -> None:
        nonlocal copies, depth
        plain = name.rpartition(":")[2].lower()
        if depth == 0 and (plain != "svg" or not _drawable(attributes)):
            raise refuse(f"a first element {name} whose size is no picture's, at most {MOST_LONG} times as long as wide")
        depth, copies = depth + 1, copies + (plain == "use")
        if copies > MOST_COPIES or depth > MOST_DEEP:
            raise refuse(f"more than {MOST_COPIES} elements use, or elements {MOST_DEEP} deep")
        if plain in _RUNS or plain in _LETTERS:
            raise refuse(f"an element {name}")
        for key, value in attributes.items():
            local = key.rpartition(":")[2].lower()
            if local.startswith("on") or (local == "base" and ":" in key):
                raise refuse(f"an attribute {key}")
            if local in ("href", "src") and not _INSIDE.match(value):
                raise refuse(f"{key}={one_line(value, 60)}")
            styled(value, key)

    def end(_: str) -> None:
        nonlocal depth
        depth -= 1

    def styled(value: str, where: str) -> None:
        for found in _ADDRESS.finditer(value):
            if found[2] or found[3] or not _INSIDE.match(found[1]):
                raise refuse(f"{one_line(found[0], 60)} in {where}")

    def doctype(*_: object) -> None:
        raise refuse("a document type, which may name entities and files")

    def instruction(target: str, data: str) -> None:
        raise refuse(f"a processing instruction {target}")

    texts: list[str] = []
    parser = expat.ParserCreate()
    parser.StartElementHandler = element
    parser.EndElementHandler = end
    parser.StartDoctypeDeclHandler = doctype
    parser.ProcessingInstructionHandler = instruction
    parser.CharacterDataHandler = texts.append
    try:
        parser.Parse(text.encode(), True)
    except expat.ExpatError as error:
        raise input_error(FIELD, str(mark), f"an SVG picture; {error}") from error
    styled("".join(texts), "style")
