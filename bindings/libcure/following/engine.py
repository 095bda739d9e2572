"""Follows a job: readings, checks, and the release that they come to, by the core."""

from __future__ import annotations

import os
from collections.abc import Sequence
from threading import Event

from libcure import _core
from libcure.documents import Folders, with_models
from libcure.documents.quantities import in_unit
from libcure.errors import input_error
from libcure.following.readings import Readings, read_readings
from libcure.following.result import FollowResult
from libcure.result import CaseLike
from libcure.result import _as_case as as_case
from libcure.sampling import UncertainInput
from libcure.sampling.uncertainty import Uncertainty

__all__ = ["PLACES", "follow"]

PLACES = tuple(_core.liner_places())


def follow(
    case: CaseLike,
    readings: Readings | str | os.PathLike[str],
    *,
    at: str = "liner outer face",
    now_min: float | None = None,
    channel: str = "",
    mixed_at: str = "",
    uncertain: str | os.PathLike[str] | Sequence[UncertainInput] | None = None,
    samples: int | None = None,
    seed: int = 20260101,
    threads: int | None = None,
    stop: Event | None = None,
    models: Folders = None,
) -> FollowResult:
    """Updates the release of a job that runs with the readings of a thermocouple in its wall.

    What is not known (ground, contact, constants of the resin ...) has the range that :func:`libcure.predict` gives it;
    the readings narrow it, and the release with its band follows. Readings that cannot be the wall's are left out and
    told. The readings may move the release earlier only when every check passes; else the later of the releases with and
    without them is the answer.
    The same readings, in whatever order, and the same seed give the same numbers to the bit.

    Args:
        case: a case in one dimension with a held stage.
        readings: a CSV file (see :func:`libcure.following.read_readings`), or readings.
        at: where the probe lies, one of :data:`libcure.following.PLACES`.
        channel, mixed_at: which column of temperatures, and the time of day of mixing, as :func:`libcure.following.read_readings`
            takes them; only for a file.
        now_min: the time since mixing by a clock that is right [min]; that of the last row when left out.
        uncertain: a chart document whose ranges are taken, or ranges; the usual ones when left out.
            The constants of the resin vary by its covariance.
        samples: rows to start from, and at least as many with the readings; a power of two. 1024 when left out, 256 for a
            resin or wall that takes the slow solver.
        seed: of the sampling.
        threads: to use; all processors when left out.
        stop: ends the call with CureError once another thread sets it; Ctrl-C does so with KeyboardInterrupt.
        models: as for :func:`libcure.predict`.

    Raises:
        CureError: the case, the file, or an argument.
    """
    with with_models(models):
        found = as_case(case)
    if threads is not None and threads < 1:
        raise input_error("threads", str(threads), "1 or more")
    uncertainty = Uncertainty(uncertain, None)
    stated = uncertainty.stated()
    if stated is None:
        raise input_error("uncertain", f'"{uncertain}"', "ranges: readings have nothing to say where all is known", found.name)
    log = readings if isinstance(readings, Readings) else read_readings(readings, channel=channel, mixed_at=mixed_at)
    now = None if now_min is None else 60.0 * in_unit(now_min, "minute", "now_min")
    return FollowResult.from_core(
        found,
        _core.follow(
            found.core, log.time, log.temperature, log.file, list(log.left_out), str(at), now, stated, uncertain is not None,
            samples, seed, threads or 0, found.name, stop,
        ),
    )  # fmt: skip
