"""HTML from the templates beside this module: every text is escaped, and stands on one line."""

from __future__ import annotations

import base64
import html
import re
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from libcure.errors import one_line

if TYPE_CHECKING:
    from jinja2 import Environment, Template
    from markupsafe import Markup

__all__ = ["cited", "filled", "markup", "picture", "source", "template"]

LONGEST = 2**31  # letters: nothing is cut
DOI = re.compile(r"10\.\d{4,9}/[\w.()/:-]*\w")


@cache
def _environment() -> Environment:
    # Loaded here: what prints no HTML needs none of it.
    from jinja2 import Environment, FileSystemLoader, StrictUndefined
    from markupsafe import Markup

    def escaped(value: Any) -> Any:
        """Text as markup, as every text is that a document brings."""
        return Markup(html.escape(one_line(value, LONGEST))) if isinstance(value, str) and not isinstance(value, Markup) else value

    return Environment(
        loader=FileSystemLoader(Path(__file__).with_name("templates")), autoescape=True, undefined=StrictUndefined,
        finalize=escaped, trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip


def template(name: str) -> Template:
    """A template by its file's name."""
    return _environment().get_template(name)


def source(name: str) -> str:
    """The text of a file beside the templates as it stands."""
    return Path(__file__).with_name("templates").joinpath(name).read_text(encoding="utf-8")


def filled(name: str, **values: Any) -> str:
    """A template with its values."""
    return template(name).render(values)


def markup(text: str) -> Markup:
    """What is HTML already, for a template to take as it is."""
    from markupsafe import Markup

    return Markup(text)


def cited(text: str) -> Markup:
    """A text as markup in which each DOI leads to what it names."""
    return markup(DOI.sub(lambda found: filled("doi.html", doi=found[0]), html.escape(one_line(text, LONGEST))))


def picture(png: bytes) -> Markup:
    """The address of a picture that stands in the page itself."""
    return markup(f"data:image/png;base64,{base64.b64encode(png).decode('ascii')}")
