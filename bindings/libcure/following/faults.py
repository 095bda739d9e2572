"""Which readings can be a wall's temperature, and which cannot: each fault found, said, and left out.

The limits below are this project's own choice, common practice without a source, except where one is named.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from libcure.following.readings import Readings

__all__ = ["GAP", "SETTLING", "Screened", "Statement", "find_gap", "screen"]

Floats = NDArray[np.float64]
ZERO_CELSIUS = 273.15
LOWEST, HIGHEST = 233.15, 523.15  # K; a broken thermocouple reads far outside
SETTLING = 120.0  # s after the liner is pressed on, while probe and faces come together
DOUBLE = 1.0  # K between two readings of one moment that may both be right
JUMP = 2.0  # K that a reading may stand off its neighbours, beyond noise and what the wall does
STUCK_READINGS, STUCK_TIME, STUCK_MOVE = 5, 600.0, 1.5  # readings, s, K that the wall must move meanwhile
OFF_READINGS, OFF_NEAR, OFF_CLEAR = 4, 4.0, 3.0  # readings; K from the medium; K beyond any likely wall
GAP, GAP_SPACINGS = 900.0, 10.0  # s; times the usual spacing


@dataclass(frozen=True)
class Statement:
    """A plain sentence about readings or result."""

    code: str
    text: str
    count: int = 0
    """Readings it is about; 0 when it is about no single ones."""


@dataclass(frozen=True, eq=False)
class Screened:
    """Readings in order of time, each with what is wrong with it."""

    time: Floats
    """(n,) rising [s]."""
    temperature: Floats
    """(n,) [K]; NaN where missing."""
    status: NDArray[np.str_]
    """(n,) ``used``, or the code of a fault."""
    statements: tuple[Statement, ...]

    @property
    def used(self) -> NDArray[np.bool_]:
        return np.asarray(self.status == "used")


def _many(count: int, one: str = "reading") -> str:
    return f"{count} {one}{'s' * (count != 1)}"


def _at(times: Floats) -> str:
    """Where they are, in minutes: a few one by one, many as a span."""
    if times.size <= 3:
        return "at " + ", ".join(f"{t / 60:.0f}" for t in times) + " min"
    return f"from {times[0] / 60:.0f} to {times[-1] / 60:.0f} min"


def _runs(marked: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and one past the last index of each run of True."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], marked.astype(np.int8), [0]])))
    return [(int(a), int(b)) for a, b in edges.reshape(-1, 2)]


def _off_neighbours(T: Floats) -> Floats:
    """How far each of (rows, n) stands off the median of its six neighbours; a steady rise does not count."""
    padded = np.pad(T, ((0, 0), (3, 3)), mode="reflect", reflect_type="odd")
    windows = np.lib.stride_tricks.sliding_window_view(padded, 7, axis=1)
    return np.asarray(np.abs(T - np.median(windows[..., [0, 1, 2, 4, 5, 6]], axis=2)))


class _Screen:
    def __init__(
        self, readings: Readings, held: tuple[float, float], grid: Floats, likely: Floats, media: Sequence[Floats]
    ) -> None:
        self.statements = [Statement("left_out", text) for text in readings.left_out]
        out_of_order = int(np.count_nonzero(np.diff(readings.time[np.isfinite(readings.time)]) < 0.0))
        # The order in the file must not matter, also among equal times.
        order = np.lexsort((readings.temperature, readings.time))
        order = order[np.isfinite(readings.time[order])]
        self.t, self.T = readings.time[order], readings.temperature[order]
        self.status = np.full(self.t.size, "used", dtype="<U16")
        lost = len(readings) - self.t.size
        if lost:
            self.statements.append(Statement("no_time", f"{_many(lost, 'row')} without a time; not used.", lost))
        if out_of_order:
            where = f"{_many(out_of_order, 'time')} out of order in the file; the readings were sorted by time."
            self.statements.append(Statement("unsorted", where, out_of_order))
        self.held, self.grid, self.likely, self.media = held, grid, likely, media

    def good(self) -> NDArray[np.intp]:
        return np.flatnonzero(self.status == "used")

    def mark(self, index: NDArray[np.intp], code: str, text: str) -> None:
        """Leaves out the readings at ``index``; ``text`` has {many} and {at}."""
        if index.size:
            self.status[index] = code
            words = text.format(many=_many(index.size), at=_at(self.t[index]))
            self.statements.append(Statement(code, words, int(index.size)))

    def wall(self, t: Floats, rows: int | None = None) -> Floats:
        """Likely temperatures (rows, n) of the wall at times [K]."""
        return np.array([np.interp(t, self.grid, row) for row in self.likely[:rows]]).reshape(-1, t.size)

    def run(self) -> Screened:
        self.mark(np.flatnonzero(~np.isfinite(self.T)), "missing", "{many} without a number ({at}); not used.")
        self.outside_hold()
        self.doubles()
        self.units()
        bad = self.good()[(self.T[self.good()] < LOWEST) | (self.T[self.good()] > HIGHEST)]
        low, high = LOWEST - ZERO_CELSIUS, HIGHEST - ZERO_CELSIUS
        text = f"{{many}} outside {low:.0f} to {high:.0f} °C ({{at}}): is the wire broken? Not used."
        self.mark(bad, "out_of_range", text)
        self.stuck()
        self.fallen_off()
        self.spikes()
        return Screened(self.t, self.T, self.status, tuple(self.statements))

    def outside_hold(self) -> None:
        begin, end = self.held
        good = self.good()
        text = "{many} before mixing ({at}); not used. Times count from mixing."
        self.mark(good[self.t[good] < 0.0], "before_mixing", text)
        good = self.good()
        early = good[self.t[good] < begin + SETTLING]
        text = f"{{many}} before the liner has lain against the pipe for {SETTLING / 60:.0f} min"
        self.mark(early, "before_held", f"{text} (it is held from {begin / 60:.0f} min); not used.")
        good = self.good()
        late = good[self.t[good] > end]
        self.mark(late, "after_hold", f"{{many}} after the end of the hold in the case, {end / 60:.0f} min; not used.")

    def doubles(self) -> None:
        good = self.good()
        if good.size < 2:
            return
        _, group = np.unique(self.t[good], return_inverse=True)
        count = np.bincount(group)
        low, high = np.full(count.size, np.inf), np.full(count.size, -np.inf)
        np.minimum.at(low, group, self.T[good])
        np.maximum.at(high, group, self.T[good])
        unlike = (high - low > DOUBLE)[group]
        text = "{many} give different temperatures for one and the same moment ({at}); not used."
        self.mark(good[unlike], "doubled", text)
        first = np.concatenate([[True], np.diff(self.t[good]) > 0.0])
        self.mark(good[~first & ~unlike], "repeated", "{many} given twice ({at}); used once.")

    def units(self) -> None:
        good = self.good()
        if good.size < 3:
            return
        wall = self.wall(self.t[good])
        low, high = np.nanmin(wall, axis=0) - 5.0, np.nanmax(wall, axis=0) + 5.0

        def fits(T: Floats) -> float:
            return float(np.mean((T >= low) & (T <= high)))

        c = self.T[good] - ZERO_CELSIUS
        if fits(self.T[good]) > 0.3:
            return
        others = {
            "°F, read as °C": (c - 32.0) / 1.8,
            "°C, read as °F": 1.8 * c + 32.0,
            "K, read as °C": c - ZERO_CELSIUS,
        }
        words, share = max(((name, fits(T + ZERO_CELSIUS)) for name, T in others.items()), key=lambda x: x[1])
        if share > 0.8:
            text = f"All {{many}} look like {words}; not used. Correct the unit in the heading."
            self.mark(good, "unit", text)

    def stuck(self) -> None:
        good = self.good()
        if good.size < STUCK_READINGS:
            return
        t, T = self.t[good], self.T[good]
        steps = np.abs(np.diff(T))
        resolution = float(np.min(steps[steps > 1e-6], initial=np.inf))
        least = max(STUCK_MOVE, 2.0 * resolution if np.isfinite(resolution) else 0.0)
        for a, b in _runs(steps <= 1e-6):
            b += 1  # n steps have n + 1 readings
            if b - a < STUCK_READINGS or t[b - 1] - t[a] < STUCK_TIME:
                continue
            inside = np.union1d(t[a:b], self.grid[(self.grid > t[a]) & (self.grid < t[b - 1])])
            moved = np.ptp(self.wall(inside), axis=1)
            # Most of the walls that may be must have moved.
            if np.nanpercentile(moved, 25.0) > least:
                text = f"{{many}} stand still at {T[a] - ZERO_CELSIUS:.1f} °C ({{at}}) while the wall must move: "
                self.mark(good[a:b], "stuck", text + "probe or logger is stuck. Not used.")

    def fallen_off(self) -> None:
        good = self.good()
        if good.size < OFF_READINGS:
            return
        t, T = self.t[good], self.T[good]
        wall = self.wall(t)
        for medium, name in zip(self.media, ("the fill of the bladder", "the air outside"), strict=True):
            there = np.interp(t, self.grid, medium)
            low, high = np.nanpercentile(wall, [1.0, 99.0], axis=0) + np.array([[-OFF_CLEAR], [OFF_CLEAR]])
            off = (np.abs(T - there) < OFF_NEAR) & ((T < low) | (T > high))
            index = [good[a:b] for a, b in _runs(off) if b - a >= OFF_READINGS]
            if index:
                text = f"{{many}} show the temperature of {name} ({{at}}), not of the liner: the probe has come off. "
                self.mark(np.concatenate(index), "fallen_off", text + "Not used.")
                return

    def spikes(self) -> None:
        # Twice, so that a large one does not hide a small one beside it.
        found: list[NDArray[np.intp]] = []
        for _ in range(2):
            good = self.good()
            good = good[~np.isin(good, np.concatenate(found))] if found else good
            if good.size < 7:
                break
            t, T = self.t[good], self.T[good]
            off = _off_neighbours(T[None])[0]
            # How far a likely wall itself stands off between its neighbours, as at the top of an exotherm.
            rows = max(4, min(64, 500_000 // t.size))
            slack = np.nanpercentile(_off_neighbours(self.wall(t, rows)), 98.0, axis=0)
            noise = 1.4826 * float(np.median(off))
            bad = good[off > JUMP + 4.0 * min(noise, 1.0) + slack]
            if not bad.size:
                break
            found.append(bad)
        if found:
            text = "{many} jump faster than the wall can follow ({at}); not used."
            self.mark(np.sort(np.concatenate(found)), "spike", text)


def screen(
    readings: Readings, held: tuple[float, float], grid: Floats, likely: Floats, media: Sequence[Floats]
) -> Screened:
    """Sorts readings by time and finds those that cannot be the wall's.

    Args:
        held: from when to when the liner is held [s].
        grid: times (m,) [s].
        likely: temperatures (rows, m) at the probe's place, of walls as they may be before the readings [K].
        media: temperatures (m,) of the bladder's fill, and of the air [K].
    """
    return _Screen(readings, held, grid, likely, media).run()


def find_gap(t: Floats, now: float) -> float | None:
    """Time since the last good reading [s] when it is too long to speak for now; None when it is not.

    Args:
        t: times of the good readings, rising, at least one [s].
        now: moment that the answer is for [s].
    """
    usual = float(np.median(np.diff(t))) if t.size > 1 else 0.0
    since = now - float(t[-1])
    return since if since > max(GAP, GAP_SPACINGS * usual) else None
