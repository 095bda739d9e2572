"""The colours of a decision, and words for a terminal: what pages of all kinds share."""

from __future__ import annotations

from libcure import _core
from libcure.errors import one_line

__all__ = ["COLOURS", "HTML_COLOURS", "words_for"]

COLOURS = {"ok": "green", "wait": "yellow", "stop": "red"}
HTML_COLOURS = {"ok": "#1b6e3c", "wait": "#8a5a00", "stop": "#b3261e"}


def words_for(words: str, ascii_only: bool) -> str:
    """Words on one line, for a terminal that may show no more than ASCII."""
    words = one_line(words)
    return _core.in_ascii(words) if ascii_only else words
