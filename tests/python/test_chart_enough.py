"""Cells take as many samples as they need: a prefix of the same points, fewer where nothing printed would move."""

import json
import math

import numpy as np
import pytest
from scipy.stats import binom
from small_chart import SHIPPED, small

import libcure
from libcure.charting import cells, enough
from libcure.words.rounding import Steps

STEPS = Steps(((0.0, 5.0),))


def of_shipped(**uncertain):
    """Six cells of the shipped chart."""
    document = json.loads(SHIPPED.read_text(encoding="utf-8")) | {"sensitivity": {"cells": "none"}}
    values = {"hardener": (["epoxy-amine-slow"], ["slow"]), "wall": ([4, 10, 19], None), "resin": ([10, 28], None)}
    for axis in document["axes"]:
        axis["values"], labels = values[axis["name"]]
        if labels:
            axis["labels"] = labels
    document["uncertain"] |= uncertain
    return libcure.chart(document)


def rank(count, share, sure):
    """Number, from 1, of the ordered sample that lies above the quantile (SciPy's binomial; W.J. Conover, Practical Nonparametric
    Statistics, tolerance limits; from memory)."""
    return int(np.argmax(binom.cdf(np.arange(count + 1) - 1, count, share) >= sure))


def test_the_confidence_is_shared_among_the_looks():
    assert enough.Bounds(64, 64).confidence == pytest.approx(0.95)
    three = enough.Bounds(512, 2048)
    assert 3.0 * (1.0 - three.confidence) == pytest.approx(0.05)
    values = np.random.default_rng(1).normal(size=512)
    assert three.upper(values) == np.sort(values)[rank(512, 0.95, three.confidence) - 1]
    assert three.lower(values) == -np.sort(-values)[rank(512, 0.95, three.confidence) - 1]


def test_a_side_stands_once_both_its_bounds_print_within_a_step():
    count, bounds = 400, enough.Bounds(400, 400)
    above, below = rank(count, 0.95, 0.95), count + 1 - rank(count, 0.05, enough.LIKELY)
    assert below < 380 < above
    for low, high, stands in (
        (11.0, 19.9, True), (10.0, 15.1, False), (10.1, 20.0, True), (math.inf, math.inf, True), (10.0, math.inf, False)
    ):  # fmt: skip
        values = np.zeros(count)
        values[below - 1 : above - 1], values[above - 1 :] = low, high
        assert bounds.stands(values, STEPS, up=True) == stands
        assert bounds.decided(values, 14.0, up=True) == (low > 14.0 or high <= 14.0)
        assert bounds.stands(1000.0 - values, STEPS, up=False) == stands
    for late, sure in ((3, True), (20, False), (60, True)):
        assert bounds.decided(np.repeat([-1.0, 1.0], [late, count - late]), 0.0, up=False) == sure


def test_a_cell_prints_what_all_its_samples_print():
    """Though most of those after the first look are only foretold."""
    result = of_shipped()
    bounds, working, release = result.chart.bounds, result.chart.working_steps, result.chart.release_steps
    assert {record["samples"] for record in result.records.values()} == {512}
    assert len({record["samples_most"] for record in result.records.values()}) > 1
    for task in cells.tasks_of(result.chart):
        samples = cells._Samples([task], None)
        (whole,) = samples._run([task], 0, bounds.most)
        sides = cells._sides(task)
        every, first = whole.safe_sides(), whole.first(512).safe_sides()
        taken = samples.settled(task, sides, first)
        assert max(map(len, taken)) == result.records[task.index]["samples_most"]
        all_taken = [side.values(every)[: len(values)] for side, values in zip(sides, taken, strict=True)]
        shown, expected = ([working.down(bounds.lower(v[0])), release.up(bounds.upper(v[1])), bounds.lower(v[2]) < 0.0,
                            bounds.upper(v[3]) > task.limit_C] for v in (taken, all_taken))  # fmt: skip
        assert shown == expected


def test_all_cells_have_their_percentiles_from_the_same_samples():
    result, fixed = of_shipped(), of_shipped(samples=512, samples_at_least=512)
    for quantity in ("gel_first_min", "working_min", "criterion_met_min", "peak_temperature_C"):
        np.testing.assert_array_equal(result.numbers[quantity], fixed.numbers[quantity])
    assert not result.violations


def test_few_samples_are_all_taken():
    result = libcure.chart(small(uncertain__samples=64))
    assert {record["samples"] for record in result.records.values()} == {64} and result.samples == "64"


def test_more_at_least_than_at_most_is_refused():
    with pytest.raises(libcure.CureError) as caught:
        libcure.read_chart(small(uncertain__samples=64, uncertain__samples_at_least=128))
    assert caught.value.field == "uncertain.samples_at_least" and "at most samples, 64" in caught.value.allowed
    # Who asks for another number asks for both.
    assert libcure.read_chart(small(uncertain__samples_at_least=32), samples=16).bounds.first == 16
