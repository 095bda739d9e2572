"""The facts of a job that a crew knows, as questions, and what it answers to them, as the core understands it."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from libcure import _core
from libcure.documents import Folders, with_models
from libcure.models import ids

__all__ = ["FACTS", "PIPES", "UNITS", "Fact", "Said", "fact_named", "read_answer", "read_file", "understood"]

UNITS = ("metric", "us")
PIPES: Mapping[str, tuple[str, float]] = _core.job_pipes()
"""Words for what a pipe is made of: the material's id, and a usual wall over the bore (common practice, no source)."""


@dataclass(frozen=True)
class Fact:
    """One thing to ask."""

    key: str
    """In a job document; with dashes the option of the command."""
    question: str
    kind: str
    """``temperature``, ``length``, ``depth``, ``minutes``, ``clock``, ``choice``, ``resin``, ``packer``, ``fill`` or ``hot water``."""
    help: str
    usual: tuple[float, float]
    """Outside it a number without a unit is asked about [°C, mm, min]."""
    limits: tuple[float, float]
    """[°C, mm, min]"""
    choices: tuple[str, ...]
    needed: bool

    @classmethod
    def from_core(cls, fact: Mapping[str, Any]) -> Fact:
        """The fact of the core's table."""
        usual, limits = (tuple(fact[key] or (-math.inf, math.inf)) for key in ("usual", "limits"))
        return cls(**{**fact, "usual": usual, "limits": limits, "choices": tuple(fact["choices"])})


FACTS = tuple(Fact.from_core(fact) for fact in json.loads(_core.job_facts()))


def fact_named(key: str) -> Fact:
    """The fact of a key of a job document."""
    return next(f for f in FACTS if f.key == key)


@dataclass(frozen=True)
class Said:
    """One answer that has been understood."""

    value: float | str | tuple[float, float] | None
    """°C, mm, min, or a word; of hot water its temperature and how long ago it ended; of a fill its temperature and the
    heat-transfer coefficient; None: not known."""
    doubt: str = ""
    """What it may mean, when it is unusual and would be usual in another unit."""

    @classmethod
    def from_core(cls, found: tuple[str, str]) -> Said:
        """The answer as the core gives it: its value as JSON, and the doubt."""
        value = json.loads(found[0])
        return cls(tuple(value) if isinstance(value, list) else value, found[1])


def read_answer(fact: Fact, text: str, units: str, where: str, *, models: Folders = None) -> Said:
    """Understands an answer.

    Args:
        fact: what was asked.
        text: as it was said; empty, ``?`` or ``don't know`` is not known.
        units: ``metric`` or ``us``, of numbers without a unit.
        where: name of the field for messages.
        models: folders of models of one's own, whose resins may be named too.

    Raises:
        CureError: it cannot be understood, or cannot be.
    """
    with with_models(models):
        return Said.from_core(_core.job_read_answer(fact.key, text, units, where, ids("resins")))


def understood(fact: Fact, text: str, units: str, where: str, *, models: Folders = None) -> Said:
    """An answer without a doubt.

    Raises:
        CureError: as :func:`read_answer`, or it looks like a number in another unit.
    """
    with with_models(models):
        return Said.from_core(_core.job_understood(fact.key, text, units, where, ids("resins")))


def read_file(document: Mapping[str, Any], file: str) -> tuple[str, dict[str, str]]:
    """Units and answers, as texts, of a document ``libcure/job/1``.

    Raises:
        CureError: another format, an unknown key, or an answer that is neither text nor number.
    """
    return _core.read_job(json.dumps(document), file)
