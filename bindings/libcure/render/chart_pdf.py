"""PDF files of charts: title, maker and language for readers and screen readers, pages put together with bookmarks.

The pages are drawn; what draws them cannot tag their parts for screen readers. The page for a screen (chart.html) serves these.
"""

from __future__ import annotations

import io
from collections.abc import Sequence

from pypdf import PdfWriter
from pypdf.generic import BooleanObject, DictionaryObject, NameObject, TextStringObject

__all__ = ["book"]


def book(pages: Sequence[tuple[str, bytes]], title: str, author: str, language: str) -> bytes:
    """One PDF of pages, each a PDF with its name; the same pages give the same bytes. Several have bookmarks."""
    first, *others = pages
    writer = PdfWriter(clone_from=io.BytesIO(first[1]))
    for _, data in others:
        writer.append(io.BytesIO(data), import_outline=False)
    if others:
        for number, (name, _) in enumerate(pages):
            writer.add_outline_item(title=name, page_number=number)
    writer.add_metadata({"/Title": title, **({"/Author": author} if author else {})})
    writer.root_object[NameObject("/Lang")] = TextStringObject(language)
    shown = DictionaryObject({NameObject("/DisplayDocTitle"): BooleanObject(True)})
    writer.root_object[NameObject("/ViewerPreferences")] = shown
    buffer = io.BytesIO()
    writer.write(buffer)
    return buffer.getvalue()
