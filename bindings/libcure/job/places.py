"""Places to compare a job with: what is likely there, and how far it may be off; the core's."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from libcure import _core
from libcure._core import Place

__all__ = ["PLACES", "Place"]

PLACES: Mapping[str, Place] = MappingProxyType({place.name: place for place in _core.job_places()})
