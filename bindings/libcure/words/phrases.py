"""Phrases in several languages, from one catalogue a language (``languages/*.po``, the format of GNU gettext, read by Babel).

What a page says is named by a key: ``phrase("do_not_use", "de")``. Any page may use them.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType

__all__ = ["LANGUAGES", "as_written", "catalogue", "month_name", "phrase"]

LANGUAGES = ("en", "de", "es", "fr", "pl")
DECIMAL = re.compile(r"(?<![\w./])(\d+)\.(\d+)(?![\w./]|\.\d)")


@cache
def catalogue(language: str) -> Mapping[str, str]:
    """All phrases of a language by their keys.

    Raises:
        KeyError: a language without a catalogue.
    """
    if language not in LANGUAGES:
        raise KeyError(language)
    from babel.messages.pofile import read_po

    with (Path(__file__).with_name("languages") / f"{language}.po").open("rb") as file:
        found = read_po(file, locale=language, abort_invalid=True)
    return MappingProxyType({str(message.id): str(message.string) for message in found if message.id})


def phrase(key: str, language: str = "en", /, **values: object) -> str:
    """A phrase with its values filled in.

    Raises:
        KeyError: no such phrase or language, or a value missing.
    """
    text = catalogue(language)[key]
    if not values:
        return text
    return text.format(**{name: as_written(value, language) if isinstance(value, str) else value for name, value in values.items()})


def as_written(text: str, language: str) -> str:
    """Numbers in a text with the decimal sign of the language, by the Common Locale Data Repository; versions, hashes and addresses stay."""
    if language == "en":
        return text
    from babel.numbers import get_decimal_symbol

    return DECIMAL.sub(rf"\1{get_decimal_symbol(language)}\2", text)


@cache
def month_name(month: int, language: str) -> str:
    """A month, 1 to 12, in short, as the Common Locale Data Repository has it."""
    from babel.dates import get_month_names

    return str(get_month_names("abbreviated", "format", language)[month]).rstrip(".")
