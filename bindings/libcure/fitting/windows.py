"""Where the signal of a record is straight: windows before and after the exotherm, by time [s]."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from libcure.errors import CureError, input_error
from libcure.fitting.record import ZERO_CELSIUS, Record
from libcure.fitting.run import smooth

__all__ = ["SETTLING", "Windows", "held_windows", "lost_side", "no_heat", "ramp_windows", "wrong_sign"]

Array = NDArray[np.float64]
Windows = tuple[float, float, float, float]
LOST = 0.1  # of a record's reach, between its ends, from which a side is taken to be cut off within the exotherm
RISES_OVER, RISES = 0.3, 0.5  # of a record's end, and of its signal's range that a rise over the whole record would make: a drift; own choice
SETTLING = 30.0  # s that an instrument's signal takes after the temperature has settled; common practice, no source


def _end_to_end(time: Array, signal: Array) -> Array:
    """A straight line through the middles of the first and of the last fiftieth of a record."""
    few = len(time) // 50 + 2
    begin, end = (np.median(time[part]) for part in (slice(few), slice(-few, None)))
    first, last = (np.median(signal[part]) for part in (slice(few), slice(-few, None)))
    return np.asarray(first + (last - first) / (end - begin) * (time - begin))


def _points_down(time: Array, signal: Array) -> bool:
    """Whether a record dips below both its ends further than it rises above both."""
    even = smooth(signal, max(len(time) // 200, 3))
    ends = _end_to_end(time, signal)[[0, -1]]
    dip, rise = float(ends.min() - even.min()), float(even.max() - ends.max())
    return dip > 1.5 * rise and dip > 0.2 * float(np.ptp(even))


def _find_windows(id: str, time: Array, signal: Array, noise: float,
                  sides: Sequence[str] = ("left", "right")) -> dict[str, tuple[float, float]]:
    """Straight pieces before (left) and after (right) the exotherm, of the sides asked for.

    Raises:
        CureError: the signal is not straight anywhere there.
    """
    n = len(time)
    even = smooth(signal, max(n // 200, 3))
    above = even - _end_to_end(time, signal)
    top = int(np.argmax(above))
    height = float(above[top])
    threshold = max(0.01 * height, 4.0 * noise / np.sqrt(max(n // 200, 3)))
    before = np.flatnonzero(above[:top] < threshold)
    after = np.flatnonzero(above[top:] < threshold)
    on = time[before[-1]] if len(before) else time[0]
    off = time[top + after[0]] if len(after) else time[-1]
    span = time[-1] - time[0]
    where = f"run {id}: baseline"
    if "left" in sides and (on - time[0] < 0.03 * span or top < n // 50):
        raise input_error(where, "no straight signal before the exotherm",
                          "a record that begins well below the reaction; start the ramp colder, or give baseline.left_C")
    if "right" in sides and (time[-1] - off < 0.03 * span or top > n - n // 50):
        raise input_error(where, "no straight signal after the exotherm",
                          "a record that ends well past the reaction; ramp to a higher temperature, or give baseline.right_C")
    lead, tail = on - time[0], time[-1] - off
    return {"left": (time[0] + 0.05 * lead, time[0] + 0.8 * lead), "right": (off + 0.2 * tail, off + 0.98 * tail)}


def lost_side(id: str, record: Record, signal: Array, noise: float) -> tuple[Windows, str]:
    """Windows of a ramp whose record begins or ends within the exotherm, and which of ``start`` and ``tail`` it lacks; the
    window there is empty.

    Raises:
        CureError: both, or nothing straight on the other side either.
    """
    time = record.time
    few = len(time) // 50 + 2
    first, last = float(np.median(signal[:few])), float(np.median(signal[-few:]))
    reach = float(np.ptp(smooth(signal, max(len(time) // 200, 3))))
    tail = last > first
    where = f"run {id}: baseline"
    if abs(last - first) < LOST * reach:
        raise input_error(where, "no straight signal before or after the exotherm", "a record that holds one of them")
    at, level = (time, first) if tail else (time[-1] - time[::-1], last)
    even = smooth(signal if tail else signal[::-1], max(len(time) // 200, 3))
    threshold = max(0.01 * reach, 4.0 * noise / np.sqrt(max(len(time) // 200, 3)))
    outside = np.flatnonzero(np.abs(even - level) > threshold)
    length = float(at[outside[0]] - at[0]) if len(outside) else 0.0
    if length < 0.03 * float(time[-1] - time[0]):
        raise input_error(where, f"no straight signal {'before' if tail else 'after'} the exotherm either",
                          "a record that is straight before or after it")
    near, far = 0.05 * length, 0.8 * length
    begin, end = float(time[0]), float(time[-1])
    if tail:
        return (begin + near, begin + far, end, end), "tail"
    return (begin, begin, end - far, end - near), "start"


def ramp_windows(id: str, record: Record, signal: Array, noise: float, left: tuple[float, float] | None,
                  right: tuple[float, float] | None, exotherm_up: bool) -> Windows:
    """Times [s] of the straight parts of a ramp: as given by temperatures [K], else found.

    Raises:
        CureError: a window outside the record or on the wrong side of the other, or none found.
    """
    time, T = record.time, record.temperature
    low, high = float(T.min()), float(T.max())
    sides: dict[str, tuple[float, float]] = {}
    for side, window in (("left", left), ("right", right)):
        if window is None:
            continue
        begin, end = window
        if begin < low - 0.5 or end > high + 0.5:  # K, as a window that ends where the programme does
            raise _wrong_window(id, side, window, f"within the record, {low - ZERO_CELSIUS:.1f} to {high - ZERO_CELSIUS:.1f}", record.file)
        sides[side] = float(np.interp(begin, T, time)), float(np.interp(end, T, time))
    wanted = [side for side in ("left", "right") if side not in sides]
    if wanted:
        if _points_down(time, signal):
            raise wrong_sign(f"run {id}", exotherm_up, record.file)
        found = _find_windows(id, time, signal, noise, wanted)
        sides |= {side: found[side] for side in wanted}
    if not sides["left"][1] < sides["right"][0]:
        ends = float(np.interp(sides["left"][1], time, T)) - ZERO_CELSIUS
        starts = float(np.interp(sides["right"][0], time, T)) - ZERO_CELSIUS
        if right is not None:
            raise _wrong_window(id, "right", right, f"above the left window, which ends at {ends:.1f}", record.file)
        raise _wrong_window(id, "left", left or (0.0, 0.0), f"below the right window, which begins at {starts:.1f}", record.file)
    return (*sides["left"], *sides["right"])


def _wrong_window(id: str, side: str, window: tuple[float, float], allowed: str, file: str) -> CureError:
    low, high = (f"{value - ZERO_CELSIUS:g}" for value in window)
    return input_error(f"run {id}: baseline.{side}_C", f"[{low}, {high}]", allowed, file)


def held_windows(where: str, record: Record, isothermal: float, begin: float | None, end: float | None) -> Windows:
    """Times [s] of the straight parts of an isothermal run: its beginning once the temperature has settled, and its end."""
    time = record.time
    settled = np.flatnonzero(np.abs(record.temperature - isothermal) > 1.0)
    if begin is None:
        begin = float(time[min(int(settled[-1]) + 1, len(time) - 1)]) + SETTLING if len(settled) else float(time[0])
    end = float(time[-1]) if end is None else end
    if end - begin < 0.2 * (time[-1] - time[0]):
        raise input_error(f"{where}: isothermal_C", f"{isothermal - ZERO_CELSIUS:g}",
                          "the temperature that the record holds for most of its time", record.file)
    return begin, begin + 0.02 * (end - begin), end - 0.1 * (end - begin), end


def no_heat(where: str, time: Array, signal: Array, exotherm_up: bool, file: str) -> CureError:
    """Why an isothermal run has no heat above the level of its end: a signal that rises until there, or a peak that points down."""
    even = smooth(signal, max(len(time) // 100, 3))
    last = time > time[-1] - RISES_OVER * (time[-1] - time[0])
    rise = float(np.polyfit(time[last], even[last], 1)[0]) * (time[-1] - time[0])
    level = float(np.mean(even[last]))
    below = level - float(np.min(even))
    if rise >= RISES * float(np.ptp(even)):
        hourly = rise / (time[-1] - time[0]) * 3600.0 / 1e3
        seen = f"still rises at the end of the record, by {hourly:.2g} W/g an hour: above the level there no heat is left"
    elif below < float(np.max(even)) - level:
        seen = f"falls to {below / 1e3:.2g} W/g below the level of its end, so its exotherm is less than its drift: above that level no heat is left"
    else:
        return wrong_sign(where, exotherm_up, file)
    return input_error(
        f"{where}: heat flow", seen,
        "a signal that is level at its end: give end_min before it rises, take off a record of the cured sample, or hold hotter, where the "
        f'exotherm is stronger than the drift; exotherm "{"down" if exotherm_up else "up"}" if the record shows the exotherm so', file)


def wrong_sign(where: str, exotherm_up: bool, file: str) -> CureError:
    said = "up" if exotherm_up else "down"
    return input_error(f"{where}: exotherm", f'"{said}", but the peak points the other way',
                       f'"{"down" if exotherm_up else "up"}", or the other baseline windows', file)
