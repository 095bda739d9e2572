"""Bounds from samples most of which are foretold: those that may lie on either side are simulated, whatever the quantity does."""

from types import SimpleNamespace

import numpy as np
import pytest

from libcure import _core
from libcure.charting.enough import Bounds
from libcure.charting.sides import Side, settled
from libcure.sampling import normal, unit_points

MOST, FIRST, DIMENSIONS = 4096, 512, 12
BOUNDS = Bounds(FIRST, MOST)
POINTS = unit_points(DIMENSIONS, MOST, 1)


def smooth(z):
    return 300.0 * np.exp(0.25 * z[:, 0] + 0.1 * z[:, 1] + 0.05 * z[:, 0] * z[:, 2] + 0.02 * z[:, 3] ** 2)


def kinked(z):
    """The later of two criteria, as a release is."""
    return np.maximum(smooth(z), 340.0 * np.exp(0.2 * z[:, 4] - 0.15 * z[:, 5]))


def cliff(z):
    """Some never do."""
    return np.where(z[:, 6] > 2.2, np.inf, smooth(z))


def jump(z):
    """Beyond a threshold of two inputs half as long again: no quadratic tells that."""
    return smooth(z) * np.where(z[:, 0] + z[:, 1] > 1.5, 1.5, 1.0)


def rough(z):
    return 300.0 * np.exp(0.3 * np.sin(7.0 * z[:, 0]) + 0.3 * np.cos(9.0 * z[:, 1] * z[:, 2]))


def asked(function, up, seed, first=FIRST):
    """Values with what is foretold, and simulated throughout, of all samples; and how many were simulated."""
    points = unit_points(DIMENSIONS, MOST, seed)
    values, simulated = function(normal(points)), []

    def simulate(rows):
        assert len(set(rows)) == len(rows)
        simulated.extend(rows)
        return SimpleNamespace(time=values[rows])

    side = Side(lambda safe: safe.time, lambda v: len(v) == MOST, up, relative=True)
    bounds = Bounds(first, MOST)
    (found,) = settled([side], SimpleNamespace(time=values[:first]), bounds, lambda: _core.Foreteller(points, first), simulate)
    assert len(set(simulated)) == len(simulated) and min(simulated) >= first
    return found, values, len(simulated)


@pytest.mark.parametrize("up", [True, False])
@pytest.mark.parametrize(("function", "most"), [(smooth, 0.1), (kinked, 0.45), (jump, 0.7), (rough, 1.0), (cliff, 1.0)])
def test_bounds_are_those_of_all_samples(function, most, up):
    off, needed, rank_error = [], [], np.sqrt(0.05 * 0.95 * MOST)
    for seed in range(8):
        found, values, count = asked(function, up, seed)
        needed.append(count / (MOST - FIRST))
        np.testing.assert_array_equal(np.isfinite(found), np.isfinite(values))
        for one, other in zip(BOUNDS.both(found, up), BOUNDS.both(values, up), strict=True):
            # In samples between the two, against the standard error of a rank.
            off.append(abs(int(np.sum(values < one)) - int(np.sum(values < other))))
    assert max(off) <= 0.5 * rank_error and np.mean(off) <= 0.1 * rank_error
    assert np.mean(needed) <= most


def test_what_is_foretold_badly_or_never_happens_is_all_simulated():
    for function in (rough, cliff):
        found, values, count = asked(function, True, 1)
        if function is cliff:
            assert count == MOST - FIRST
            np.testing.assert_array_equal(found, values)
    # Too few to tell a line in twelve dimensions.
    found, values, count = asked(smooth, True, 1, first=16)
    assert count == MOST - 16
    np.testing.assert_array_equal(found, values)


def test_one_that_never_happens_ends_foretelling():
    values, by = smooth(normal(POINTS)), _core.Foreteller(POINTS, FIRST)
    of = _core.PartlySimulated(values[:FIRST], MOST, True)
    assert of.foretell(by, *BOUNDS.both(values[:FIRST], True)) and of.foretold
    rows = of.missing(MOST, *BOUNDS.both(of.now(MOST), True), 1.0)
    of.put(rows[:1], np.array([np.inf]))
    assert not of.foretold and len(of.missing(MOST, 0.0, 0.0, 1.0)) == MOST - FIRST - 1


def test_a_side_that_stands_asks_for_nothing():
    values = np.linspace(1.0, 2.0, FIRST)
    side = Side(lambda safe: safe.time, lambda v: True, up=True)
    (found,) = settled([side], SimpleNamespace(time=values), BOUNDS, None, None)
    np.testing.assert_array_equal(found, values)
