"""Blends and sections as rows of a chart: what is not packed is computed sample by sample, and the cost is said."""

import copy
import json
import subprocess
import sys

import numpy as np
import pytest
from small_chart import sheet_texts, small

import libcure
from libcure.charting import cells

BLEND = {"components": [{"resin": "epoxy-amine-fast", "share": 0.4}, {"resin": "epoxy-amine-slow", "share": 0.6}]}
WATER = {"kind": "around", "water": {"depth_mm": 30, "temperature_C": 6}}


def blended(**axis):
    document = small(axes__0={"name": "fast", "title": "Share of fast", "values": [0.2, 0.6], **axis}, layout__columns="fast")
    document["case"]["resin"] = copy.deepcopy(BLEND)
    return document


def test_the_share_of_a_blend_is_an_axis():
    document = blended(sets=["resin.components[0].share"])
    libcure.validate(document)
    result = libcure.chart(document)
    for i, share in enumerate((0.2, 0.6)):
        parts = result.chart.case_documents[i, 0]["resin"]["components"]
        assert [part["share"] for part in parts] == [share, pytest.approx(1.0 - share)]
    assert result.chart.axes[0].numeric and result.to_dataframe()["fast"].tolist()[:1] == [0.2]
    # The same by values that set both shares.
    both = [{f"resin.components[{k}].share": v for k, v in enumerate((s, 1.0 - s))} for s in (0.2, 0.6)]
    other = libcure.chart(blended(values=both, labels=["0.2", "0.6"]))
    np.testing.assert_allclose(result.numbers["criterion_met_min"], other.numbers["criterion_met_min"], rtol=1e-9)
    # More of the fast one sets sooner.
    assert (result.numbers["gel_first_min"][1] < result.numbers["gel_first_min"][0]).all()


@pytest.mark.parametrize("share", [0.0, 1.0, 1.2])
def test_a_share_that_leaves_no_blend_is_refused(share):
    with pytest.raises(libcure.CureError, match="above 0 and below 1"):
        libcure.read_chart(blended(sets=["resin.components[0].share"], values=[0.5, share]))


def test_blends_and_products_stand_side_by_side():
    document = small()
    document["axes"][0].update(values=[BLEND, "epoxy-amine-fast"], labels=["mixed", "fast"])
    result = libcure.chart(document)
    assert result.numbers["gel_first_min"][1, 0, 1] < result.numbers["gel_first_min"][0, 0, 1]
    assert "mixed" in sheet_texts(result)


def sectioned():
    """A row with water at the invert and one with less: ensembles of slices around the pipe."""
    little = {**WATER, "water": {"depth_mm": 5, "temperature_C": 6}}
    water = {"name": "water", "title": "Water", "sets": ["section"], "values": [little, WATER], "labels": ["5 mm", "30 mm"]}
    document = small(axes=[water], layout=None, climate=None)
    document["uncertain"]["constants"] = False
    return document


def test_a_section_is_a_row():
    document = sectioned()
    libcure.validate(document)
    result = libcure.chart(document)
    tasks = cells.tasks_of(result.chart)
    assert cells.single_rows(tasks) == (32, 0)
    # Each is kept as soon as it is finished.
    assert len(cells.groups_of(tasks)) == len(tasks) == 2
    for i in range(2):
        # The middle of the samples is the prediction without spread, within the spread of the samples.
        times = libcure.predict(result.chart.cases[i,], uncertain="none", numerical_error=False).times
        low, _, high = result.numbers["criterion_met_min"][i]
        assert low < times.criterion_met_min < high
        assert result.answers[i,].in_place_min is not None
    # More water at the invert is colder for longer.
    assert result.numbers["criterion_met_min"][1, 1] > result.numbers["criterion_met_min"][0, 1]
    assert "Section: " in sheet_texts(result)


def test_what_it_costs_is_said(tmp_path):
    document = blended(sets=["resin.components[0].share"])
    path = tmp_path / "chart.json"
    path.write_text(json.dumps(document), encoding="utf-8")
    chart = libcure.read_chart(path, samples=64)
    assert cells.single_rows(cells.tasks_of(chart)) == (0, 4 * 64)
    assert cells.single_rows(cells.tasks_of(libcure.read_chart(small()))) == (0, 0)
    program = (
        "import sys; from rich.console import Console; import libcure; from libcure.charting import cells; from libcure.cli import chart;"
        "tasks = cells.tasks_of(libcure.read_chart(sys.argv[1], samples=4096)); chart._say_cost(tasks, Console(width=200))"
    )
    said = subprocess.run([sys.executable, "-c", program, str(path)], capture_output=True, text=True, check=True).stdout
    assert "16384 samples of blends, each a whole prediction: some " in said and "--samples takes fewer." in said
