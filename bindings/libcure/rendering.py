"""How results are shown, seen from below: a result asks for a form of itself, and no result knows its renderers.

Renderers register for the type they show by its full name (``libcure.render``), so that neither the type nor what draws it
is loaded before something is shown.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Generic, TypeVar

from libcure.documents import output_path, replacing

if TYPE_CHECKING:
    from pathlib import Path

    from matplotlib.figure import Figure
    from rich.console import RenderableType

__all__ = ["PICTURES", "Form", "document", "draw_to", "figure", "html", "page", "publication", "report", "write_picture"]

R = TypeVar("R")
Renderer = TypeVar("Renderer", bound=Callable[..., Any])

PICTURES = (".png", ".svg", ".pdf")
"""Endings of a picture's file."""


class Form(Generic[R]):
    """One way to show things: renderers by the type they show."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.renderers: dict[str, Callable[..., R]] = {}

    def register(self, shown: str) -> Callable[[Renderer], Renderer]:
        """Makes a function the renderer of a type, given as ``module.Class``; serves its subclasses too."""

        def keep(renderer: Renderer) -> Renderer:
            self.renderers[shown] = renderer
            return renderer

        return keep

    def __call__(self, shown: object, *more: Any) -> R:
        """Renders; ``more`` is handed on.

        Raises:
            TypeError: nothing renders this type so.
        """
        for kind in type(shown).__mro__:
            renderer = self.renderers.get(f"{kind.__module__}.{kind.__qualname__}")
            if renderer is not None:
                return renderer(shown, *more)
        raise TypeError(f"no {self.name} shows a {type(shown).__name__}")


page: Form[RenderableType] = Form("page")
"""For the terminal, by rich."""
html: Form[str] = Form("HTML")
"""A piece of HTML for a notebook."""
document: Form[str] = Form("HTML document")
"""A whole HTML file that needs no network."""
figure: Form[Figure] = Form("figure")
"""A picture, by matplotlib."""
write_picture: Form[None] = Form("file")
"""Writes a figure: called with it, a file or buffer, and one of :data:`PICTURES`."""
report: Form[tuple[Path, Path]] = Form("report")
"""Writes HTML and PDF: called with what is reported and their folder."""

publication: Form[dict[str, Callable[[], bytes]]] = Form("publication")
"""All printed files of a chart, what to write by name: called with it, and whether it is a kit."""


def draw_to(result: object, path: str | os.PathLike[str] | None) -> Figure:
    """The picture of a result; with a path also written, whole or not at all.

    Raises:
        CureError: another ending, or a path that cannot be written, before anything is drawn.
    """
    target = output_path(path, "path", PICTURES) if path is not None else None
    drawn = figure(result)
    if target is not None:
        with replacing(target) as temporary:
            write_picture(drawn, temporary, target.suffix)
    return drawn
