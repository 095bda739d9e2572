"""Another seed hardly changes what is printed, and never to where it is not safe: seeds 1 to 10 on cells of the shipped chart, against
the sides of 16384 samples."""

import json

import numpy as np
import pytest
from small_chart import SHIPPED

import libcure

pytestmark = pytest.mark.trials

SEEDS, SAMPLES, MANY = range(1, 11), 4096, 16384
# Cells at the corners of what may be used.
CELLS = {"wall": [4, 19], "resin": [10, 16]}


def chart(seed, samples):
    document = json.loads(SHIPPED.read_text(encoding="utf-8")) | {"sensitivity": {"cells": "none"}}
    for axis in document["axes"]:
        axis["values"] = CELLS.get(axis["name"], axis["values"])
    document["uncertain"] |= {"seed": seed, "samples": samples, "samples_at_least": MANY if samples == MANY else 512}
    return libcure.chart(document)


@pytest.fixture(scope="module")
def results():
    return chart(99, MANY), [chart(seed, SAMPLES) for seed in SEEDS]


@pytest.mark.parametrize(
    ("printed", "quantity", "side"),
    [("in_place_min", "in_place_min", 0), ("working_min", "working_min", 0), ("release_min", "criterion_met_min", 2)],
)
def test_another_seed_hardly_changes_a_printed_number(results, printed, quantity, side):
    many, few = results
    steps = many.chart.release_steps if side else many.chart.working_steps
    moved = unsafe = count = 0
    for index, answer in many.answers.items():
        assert answer.use
        true = float(many.numbers[quantity][index][side])
        if printed == "in_place_min":
            true = min(true, float(many.numbers["working_min"][index][0]))
        rounded = steps.up(true) if side else steps.down(true)
        for result in few:
            shown = getattr(result.answers[index], printed)
            # A step where it is coarsest between the two.
            step = abs(steps.up(max(shown, rounded) + 1e-6) - max(shown, rounded))
            moved += abs(shown - rounded) > step + 1e-9
            unsafe += shown < true if side else shown > true
            count += 1
    assert count == 10 * 12
    assert moved <= 0.02 * count and unsafe == 0


def test_no_seed_finds_contradictions(results):
    assert all(np.isfinite(result.numbers["criterion_met_min"]).all() and not result.violations for result in results[1])
