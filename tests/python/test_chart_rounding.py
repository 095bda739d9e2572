"""Whatever is rounded is rounded to the safe side."""

import math

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from libcure.sampling import PERCENTILES, percentiles
from libcure.words.rounding import RELEASE_STEPS, WORKING_STEPS, Steps, short_duration

minutes = st.floats(0.0, 1e6, allow_subnormal=False)
bands = st.lists(st.tuples(st.integers(1, 10000), st.integers(1, 1440)), max_size=5, unique_by=lambda b: b[0]).map(
    sorted
)


@given(minutes, st.integers(1, 1440), bands)
def test_down_is_never_more_and_up_is_never_less(x, step, more):
    steps = Steps(((0.0, float(step)), *((float(a), float(b)) for a, b in more)))
    low, high = steps.down(x), steps.up(x)
    assert low <= x <= high
    widest = max(b for _, b in steps.bands)
    assert x - low < widest + 1e-6 and high - x < widest + 1e-6
    assert low >= 0.0


@given(minutes, minutes)
def test_rounding_keeps_the_order(x, y):
    x, y = min(x, y), max(x, y)
    for steps in (WORKING_STEPS, RELEASE_STEPS):
        assert steps.down(x) <= steps.down(y)
        assert steps.up(x) <= steps.up(y)


@given(st.integers(0, 5000), st.integers(1, 1440))
def test_multiples_stay(k, step):
    steps = Steps(((0.0, float(step)),))
    assert steps.down(float(k * step)) == steps.up(float(k * step)) == k * step


def test_the_ends():
    assert WORKING_STEPS.down(-3.0) == 0.0
    assert RELEASE_STEPS.up(math.inf) == WORKING_STEPS.down(math.inf) == math.inf
    assert RELEASE_STEPS.up(np.nextafter(60.0, 61.0)) == 65.0
    assert WORKING_STEPS.down(np.nextafter(60.0, 59.0)) == 55.0


def test_words():
    assert [short_duration(m) for m in (0.0, 45.0, 60.0, 65.0, 150.0, 1440.0, 3000.0)] == [
        "0 min",
        "45 min",
        "1 h",
        "1 h 05",
        "2 h 30",
        "24 h",
        "50 h",
    ]


@given(st.lists(st.one_of(st.floats(0.0, 1e6), st.just(math.inf)), min_size=1, max_size=300))
def test_percentiles_are_samples_on_the_safe_side(values):
    t = np.array(values)
    low, high = percentiles(t, up=False), percentiles(t, up=True)
    n = len(t)
    for p, a, b in zip(PERCENTILES, low, high, strict=True):
        assert a in t and b in t and a <= b
        # At most p % of the samples lie below the low one; at least p % at or below the high one.
        assert np.count_nonzero(t < a) <= p / 100.0 * n
        assert np.count_nonzero(t <= b) >= p / 100.0 * n - 1e-6


def test_five_percent_that_never_release_are_the_limit():
    """12 of 256 are below 5 %, 13 above."""
    t = np.full(256, 100.0)
    t[:12] = math.inf
    assert percentiles(t, up=True)[-1] == 100.0
    t[12] = math.inf
    assert percentiles(t, up=True)[-1] == math.inf
