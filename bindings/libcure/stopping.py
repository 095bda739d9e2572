"""How a run of Python's own loops ends where the caller's event asks for it, or Ctrl-C.

As in the core (``cure/numerics/run_control.hpp``) the question is not handed down as an argument, because every search in a run has to ask
it: :func:`stopping` sets it for what is called within, :func:`in_threads` hands it on, :func:`heed` asks. The core's own loops ask by themselves.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from contextvars import ContextVar, copy_context
from threading import Event
from typing import TypeVar

from libcure.errors import STOPPED, CureError

__all__ = ["heed", "in_threads", "stopping"]

Item = TypeVar("Item")
Result = TypeVar("Result")
_asked: ContextVar[tuple[Event, ...]] = ContextVar("_asked", default=())


class _Ended(BaseException):
    """On its way to who set the event. No CureError: whoever takes one for a point that cannot be solved lets this pass."""


def heed() -> None:
    """Ends what is called within :func:`stopping` where an event was set. Called every few milliseconds of a long run."""
    if any(event.is_set() for event in _asked.get()):
        raise _Ended


@contextmanager
def stopping(stop: Event | None) -> Iterator[None]:
    """Lets an event end what is called within.

    Raises:
        CureError: ``stop`` was set.
    """
    if stop is None:
        yield
        return
    before = _asked.set((*_asked.get(), stop))
    try:
        heed()
        yield
    except _Ended:
        if not stop.is_set():
            raise
        raise CureError(STOPPED) from None
    finally:
        _asked.reset(before)


def in_threads(work: Callable[[Item], Result], items: Iterable[Item], threads: int | None = None) -> Iterator[Result]:
    """Results in the order of the items. Where one raises, or Ctrl-C comes, the others end with it, before it is raised.

    Args:
        threads: as many as processors when left out.
    """
    ended = Event()
    context = copy_context()
    context.run(_asked.set, (*_asked.get(), ended))
    with ThreadPoolExecutor(threads or os.cpu_count() or 1) as pool:
        try:
            for future in [pool.submit(context.copy().run, work, item) for item in items]:
                yield future.result()
        except BaseException:  # Ctrl-C comes to this thread only
            ended.set()
            pool.shutdown(wait=False, cancel_futures=True)
            raise
