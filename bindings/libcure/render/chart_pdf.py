"""PDF files of charts: title, maker and language, bookmarks, and for screen readers each page as a figure with what it says in words.

What draws the pages (matplotlib 3.11) marks no part of them, so that a page is one figure: its lines and cells have no tags of their own.
"""

from __future__ import annotations

import io
from collections.abc import Sequence

from pypdf import PageObject, PdfWriter
from pypdf.generic import (
    ArrayObject,
    BooleanObject,
    DictionaryObject,
    IndirectObject,
    NameObject,
    NumberObject,
    PdfObject,
    StreamObject,
    TextStringObject,
)

__all__ = ["book"]


def book(pages: Sequence[tuple[str, str, bytes]], title: str, author: str, language: str) -> bytes:
    """One PDF of pages: each its name, what it says in words, and a PDF. The same pages give the same bytes; several have bookmarks."""
    first, *others = pages
    writer = PdfWriter(clone_from=io.BytesIO(first[2]))
    for _, _, data in others:
        writer.append(io.BytesIO(data), import_outline=False)
    if others:
        for number, (name, _, _) in enumerate(pages):
            writer.add_outline_item(title=name, page_number=number)
    _tag(writer, [spoken for _, spoken, _ in pages])
    writer.add_metadata({"/Title": title, **({"/Author": author} if author else {})})
    writer.root_object[NameObject("/Lang")] = TextStringObject(language)
    writer.root_object[NameObject("/ViewerPreferences")] = _dictionary(DisplayDocTitle=BooleanObject(True))
    buffer = io.BytesIO()
    writer.write(buffer)
    return buffer.getvalue()


def _dictionary(**entries: PdfObject | str) -> DictionaryObject:
    """A dictionary of PDF; a string of Python's own is a name."""
    return DictionaryObject({NameObject(f"/{key}"): v if isinstance(v, PdfObject) else NameObject(f"/{v}") for key, v in entries.items()})


def _tag(writer: PdfWriter, spoken: Sequence[str]) -> None:
    """Makes each page a figure with its alternate description (ISO 32000-1, 14.7 and 14.8; from memory)."""
    add = writer._add_object
    root, document = DictionaryObject(), DictionaryObject()
    whole, within = add(root), add(document)
    figures = [add(_figure(page, words, within)) for page, words in zip(writer.pages, spoken, strict=True)]
    document.update(_dictionary(Type="StructElem", S="Document", P=whole, K=ArrayObject(figures)))
    numbers = ArrayObject(part for i, figure in enumerate(figures) for part in (NumberObject(i), ArrayObject([figure])))
    root.update(_dictionary(Type="StructTreeRoot", K=within, ParentTree=_dictionary(Nums=numbers), ParentTreeNextKey=NumberObject(len(figures))))
    writer.root_object.update(_dictionary(StructTreeRoot=whole, MarkInfo=_dictionary(Marked=BooleanObject(True))))
    for i, page in enumerate(writer.pages):
        begin, end = (StreamObject() for _ in range(2))
        begin.set_data(b"/Figure <</MCID 0>> BDC\n")
        end.set_data(b"\nEMC\n")
        drawn = page.raw_get("/Contents")
        page.update(_dictionary(Contents=ArrayObject([add(begin), drawn, add(end)]), StructParents=NumberObject(i), Tabs="S"))


def _figure(page: PageObject, words: str, within: IndirectObject) -> DictionaryObject:
    at = page.indirect_reference
    assert at is not None
    placed = _dictionary(O="Layout", Placement="Block", BBox=ArrayObject(page.mediabox))
    return _dictionary(Type="StructElem", S="Figure", P=within, Pg=at, K=NumberObject(0), Alt=TextStringObject(words), A=placed)
