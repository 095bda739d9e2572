"""What advice is searched with: round values, times rounded up, hours and minutes, and the window of one lever."""

import math
from types import SimpleNamespace

import numpy as np
from hypothesis import assume, given
from hypothesis import strategies as st

from libcure.advising import levers, search
from libcure.advising.needs import minutes_of, step_up


@given(st.floats(-20, 80), st.floats(-20, 80), st.sampled_from([2.0, 5.0]))
def test_values_are_round_from_the_start_to_the_end_of_the_range(start, end, step):
    lever = levers.Lever("", "", "", start, end, "", "", start, None, step)
    values = lever.values
    assert all(v % step == 0 for v in values)
    assert all(abs(b - a) == step for a, b in zip(values, values[1:], strict=False))
    low, high = min(start, end), max(start, end)
    assert all(low <= v <= high and v != start for v in values)
    if values:
        assert abs(values[0] - start) <= step and abs(values[-1] - end) <= step
        assert [lever.weaker(v) for v in values] == [start, *values[:-1]]
    else:
        assert high - low <= step


@given(st.floats(0, 1e5), st.sampled_from([1.0, 5.0, 7.3]))
def test_times_to_wait_for_are_rounded_up(minutes, step):
    up = step_up(minutes, step)
    assert minutes <= up <= minutes + step * (1 + 1e-12)
    assert math.isclose(up / step, round(up / step), abs_tol=1e-9)


@given(st.integers(0, 999), st.integers(0, 59))
def test_hours_and_minutes(hours, minutes):
    assume(hours + minutes > 0)
    assert minutes_of(f"{hours}:{minutes:02}", "t") == minutes_of(60 * hours + minutes, "t")


class Window(SimpleNamespace):
    """Stands for trials in which only resin between two temperatures has the working time."""

    section, held, open_min = False, 1, 1440.0
    needs = SimpleNamespace(working_min=24.0)

    def at(self, T):
        return 24.0 + 3.0 * np.minimum(T - self.low, self.high - T)

    def latest(self, changes):
        return self.at(changes["resin"])

    def scan(self, changes, name, offsets, need):
        return self.at(self.start + offsets)

    def trial(self, changes):
        return self.latest(changes)

    def working_room(self, latest):
        return latest - 24.0

    def in_time(self, changes, need):
        return self.latest(changes) >= 24.0 + self.extra

    def cool(self, changes):
        return True


@given(st.floats(0, 28), st.floats(0.1, 20), st.floats(0, 6))
def test_search_finds_the_nearest_window_and_says_when_there_is_none(low, width, extra):
    """More cold is not always better: below the window it fails again."""
    high = min(low + width, 29.5)
    trials = Window(low=low, high=high, start=30.0, extra=0.0)
    lever = levers.Lever("resin_temperature", "", "", 30.0, 2.0, "", "resin", 30.0, "offset", 2.0)
    found = search.look(trials, {}, lever, "working")
    inside = [T for T in range(28, 1, -2) if low <= T <= high]
    if len(inside) < 2:  # one alone has no reserve
        assert found.value is None and found.harmful == (inside[0] if inside else None)
        return
    assert (found.value, found.works_to) == (inside[1], inside[-1])
    assert inside[0] <= found.edge <= high + 1e-9 and found.edge >= min(high, 30.0) - 0.05
    # On the conservative side the window is narrower; nothing that is not in it, or next to its edge, may be called sure.
    trials.extra = extra
    surely = search.look(trials, {}, lever, "working")
    if surely.value is not None:
        assert surely.value <= found.value
        assert all(trials.in_time({"resin": T}, "working") for T in (surely.value, surely.value + 2))
        assert surely.value == found.value or not trials.in_time({"resin": surely.value + 4}, "working")
    else:
        assert surely.harmful is not None
