"""Cells of a chart: percentiles, what a crew is told, cells that contradict each other, Sobol' indices."""

import json
import math
from dataclasses import fields

import numpy as np
import pytest
from scipy.stats import binom
from small_chart import SHIPPED, changed, sheet_texts, small

import libcure
from libcure import _core, ensemble, sampling
from libcure.charting import cells, sanity
from libcure.render import chart_look as look
from libcure.sampling.resin_constants import resin_constants
from libcure.sampling.uncertainty import read_ranges

LOOKS = (512, 1024, 2048, 4096)


def test_a_cell_is_the_ensemble_of_its_case(small_result):
    """Every percentile is that of predictions made one by one, with the inputs drawn again here."""
    chart = small_result.chart
    index = (1, 0)
    case = chart.cases[index]
    points = sampling.unit_points(chart.dimensions, chart.samples, chart.seed)
    ground, contact, thickness = (u.values(points[:, j]) for j, u in enumerate(chart.inputs))
    text = (libcure.models_folder() / "resins" / "epoxy-amine-fast.json").read_text(encoding="utf-8")
    z = sampling.normal(points[:, 3 : 3 + len(json.loads(text)["covariance"]["parameters"])])
    values = _core.drawn_constants(text, "epoxy-amine-fast", z)
    out = ensemble.simulate_many(
        case,
        {
            "ground.temperature_offset_K": ground,
            "initial_temperature.pipe_offset_K": ground,
            "contact_factor": contact,
            "liner.thickness_factor": thickness,
        },
        resins=libcure.models.resin_samples("epoxy-amine-fast", values),
        **ensemble.SAMPLE_TOLERANCES,
    )
    record = small_result.records[index]
    working = np.sort(out.working_time_s) / 60.0
    release = np.sort(np.where(np.isnan(out.release_time_s), np.inf, out.release_time_s)) / 60.0
    # Of 16 samples: 5 % on the low side is the first, 95 % on the high side the last, and there is none beyond.
    assert record["working_min"][0] == record["working_bound_min"] == working[0]
    assert record["criterion_met_min"][2] == (release[-1] if np.isfinite(release[-1]) else None)
    assert sum(record["states"].values()) == 16


def test_samples_without_spread_are_the_prediction():
    """With next to no uncertainty the chart says what predict says."""
    document = small(
        uncertain__constants=False,
        uncertain__inputs=[{"name": "x", "moves": ["contact_factor"], "distribution": "uniform", "half_width": 1e-9}],
    )
    result = libcure.chart(document)
    for index, case in result.chart.cases.items():
        times = libcure.predict(case).times
        record = result.records[index]
        # The batched engine takes its own steps; both are within the solver's tolerance of the truth.
        assert record["working_min"] == pytest.approx([times.working_min] * 3, rel=5e-3)
        assert record["criterion_met_min"] == pytest.approx([times.criterion_met_min] * 3, abs=5.0)


def test_a_contact_beside_the_bladder_is_felt_before_the_hold():
    document = small(
        case__contact_resistance_m2K_W={"bladder_liner": 0.01},
        case__initial_temperature_C={"resin": 16, "fibre": 14, "packer": 40, "air": 14},
        uncertain__constants=False,
        uncertain__inputs=[{"name": "x", "moves": ["contact_factor"], "distribution": "uniform", "half_width": 0.9}],
    )
    for record in libcure.chart(document).records.values():
        early, _, late = record["in_place_min"]
        assert late > early + 0.1


def test_what_is_printed_is_on_the_safe_side(small_result):
    for index, answer in small_result.answers.items():
        assert answer.working_min <= small_result.numbers["working_min"][index][0]
        assert answer.release_min >= small_result.numbers["criterion_met_min"][index][2]
        assert answer.in_place_min <= small_result.numbers["in_place_min"][index][0]
        assert answer.working_word == ("SHORT" if min(answer.working_min, answer.in_place_min) < 30 else "")


def order_statistic(samples, share):
    """Number, from 1, of the ordered sample that lies above the quantile with 95 % (W.J. Conover, Practical Nonparametric
    Statistics, tolerance limits; from memory)."""
    return int(np.argmax(binom.cdf(np.arange(samples + 1) - 1, samples, share) >= 0.95))


def test_what_is_printed_is_the_bound_of_the_side_rounded_outward(monkeypatch):
    """The ordered sample that SciPy's binomial names, of the outcomes as the engine gave them; no factor on top."""
    kept, engine = {}, ensemble.simulate_each

    def keeping(cases, inputs, **options):
        found = engine(cases, inputs, **options)
        if options.get("held", True):
            kept.update({case.document["ground"]["temperature_C"]: out for case, out in zip(cases, found, strict=True)})
        return found

    monkeypatch.setattr(ensemble, "simulate_each", keeping)
    axes = {"axes__0__values": ["epoxy-amine-fast"], "axes__0__labels": ["fast"]}
    result = libcure.chart(small(**axes, uncertain__samples=128))
    k = order_statistic(128, 0.95)
    assert 128 * 0.95 < k < 128
    for (_, g), answer in result.answers.items():
        out = kept[result.chart.axes[1].values[g]]
        release, working = np.sort(out.release_time_s) / 60.0, np.sort(out.working_time_s) / 60.0
        assert answer.use and release[k - 1] > result.numbers["criterion_met_min"][0, g][2]
        assert answer.release_min == 5.0 * math.ceil(release[k - 1] / 5.0)
        bound = working[128 - k]
        assert answer.working_min == (math.floor(bound) if bound < 60.0 else 10.0 * math.floor(bound / 10.0))


@pytest.fixture(scope="module")
def some_shipped_cells():
    """Of the shipped chart: winter and summer of the slow and the fast hardener."""
    document = json.loads(SHIPPED.read_text(encoding="utf-8")) | {"sensitivity": {"cells": "none"}}
    document["axes"][0] |= {"values": ["epoxy-amine-slow", "epoxy-amine-fast"], "labels": ["slow", "fast"]}
    document["axes"][1]["values"], document["axes"][2]["values"] = [4, 18], [4]
    return libcure.chart(document)


def test_a_cell_and_a_prediction_of_its_case_are_one_number(some_shipped_cells):
    """With the ranges and as many points as the cell took; predict adds its numerical error and rounds to 5 min."""
    chart = some_shipped_cells.chart
    for index, answer in some_shipped_cells.answers.items():
        case, record = chart.cases[index], some_shipped_cells.records[index]
        inputs, constants = read_ranges(SHIPPED).inputs, resin_constants(case.document, case.beside)
        points = sampling.unit_points(len(inputs) + constants.dimensions, record["samples_most"], chart.seed)
        outcomes = ensemble.simulate_many(
            case, sampling.moved_inputs(inputs, points), resins=constants.resins(sampling.normal(points[:, len(inputs) :])),
            **ensemble.SAMPLE_TOLERANCES,
        )  # fmt: skip
        safe = outcomes.safe_sides()
        release, working = safe.release_time_s / 60.0, safe.working_time_s / 60.0
        # Each bound takes as many of them as it needs.
        release = next(release[:n] for n in LOOKS if chart.bounds.upper(release[:n]) == record["release_bound_min"])
        taken = next(working[:n] for n in LOOKS if chart.bounds.lower(working[:n]) == record["working_bound_min"])
        assert record["release_bound_min"] >= sampling.upper_bound(release)
        assert record["working_bound_min"] <= sampling.lower_bound(taken)
        working = working[: len(release)]
        p = libcure.predict(case, uncertain=SHIPPED, samples=len(release))
        # The chart's bound is surer, since it may stop at few samples.
        bound = sampling.upper_bound(release)
        assert p.ranges.release_bound_min == pytest.approx(bound, rel=1e-3)
        assert p.answer.working_until_min == pytest.approx(sampling.lower_bound(working), rel=5e-3)
        error = p.verdict["numerical_error"]["criterion_met_min"]
        assert bound - 1.0 <= p.answer.release_min <= bound + error + 6.0
        assert answer.release_min == chart.release_steps.up(record["release_bound_min"])


def test_the_constants_are_drawn_independently_of_the_inputs():
    """Two sets of points that share a sequence are not: their columns correlate by three quarters and more."""
    points = sampling.unit_points(16, 4096, 20260101)
    assert np.abs(np.corrcoef(points.T) - np.eye(16)).max() < 0.01
    other = sampling.unit_points(16, 4096, 20260102)
    assert all(abs(np.corrcoef(a, b)[0, 1]) > 0.4 for a, b in zip(points.T, other.T, strict=True))


def test_another_seed_prints_the_same_within_a_step(some_shipped_cells):
    """And no printed release lies below the other's own estimate of the 95 % side."""
    first = some_shipped_cells
    document = first.chart.document
    second = libcure.chart({**document, "uncertain": {**document["uncertain"], "seed": 5}})
    up, down = first.chart.release_steps.up, first.chart.working_steps.down
    for index, one in first.answers.items():
        two = second.answers[index]
        low, high = sorted((one.release_min, two.release_min))
        assert high <= up(low + 1e-6)
        low, high = sorted((one.working_min, two.working_min))
        assert low >= down(high - 1e-6)
        for answer, other in ((one, second), (two, first)):
            assert answer.release_min >= other.numbers["criterion_met_min"][index][2]
            assert answer.working_min <= other.numbers["working_min"][index][0]


def test_cells_compare_sample_by_sample(small_result):
    """The same points serve all cells, so that a warmer ground is warmer in every sample."""
    assert small_result.violations == []
    for hardener in (0, 1):
        cold, warm = (small_result.numbers["working_min"][hardener, g] for g in (0, 1))
        assert (warm < cold).all()


def test_never_is_said_in_words(small_result):
    states = dict.fromkeys(ensemble.RELEASE_STATES, 0)
    never = {"criterion_met_min": [50.0, 60.0, None]}
    for reason, word in (
        ("vitrified", "NEVER"),
        ("not_in_hold", "NOT IN 24 h"),
        ("gelled_before_held", "SETS TOO SOON"),
        ("outside_model", "NOT KNOWN"),
        ("failed", "NO ANSWER"),
    ):
        other = changed(small_result, cell_0={**never, "states": {**states, "reached": 14, reason: 2}})
        answer = other.answers[0, 0]
        assert answer.release_word == word and answer.why_not == (word,) and not answer.use
        assert answer.release_text == answer.working_text == f"DO NOT USE: {word}"
        assert math.isinf(answer.release_min) and look.band_of(answer) is None
        assert answer.short_why == ("TOO SLOW" if word == "NOT IN 24 h" else word,)
        assert answer.short_why[0] in sheet_texts(other) and word in other._repr_html_()


def test_failed_samples_count_to_the_safe_side():
    """So do samples that did not release, whatever the engine left in their release time."""
    names = ("reached", "not_in_hold", "vitrified", "failed")
    times = {name: np.array([60.0, np.nan, 60.0, np.nan]) for name in ("working_time_s", "gel_time_first_s", "gel_time_last_s")}
    releases = {"release_time_s": np.array([60.0, 60.0, np.nan, 60.0])}
    other = {f.name: np.zeros(4) for f in fields(ensemble.Outcomes) if f.name not in {*times, *releases}}
    other |= {"release_state": np.array([ensemble.RELEASE_STATES.index(name) for name in names], np.int8),
              "peak_temperature_K": np.array([300.0, 300.0, np.nan, 0.0])}
    safe = ensemble.Outcomes(**times, **releases, **other).safe_sides()
    assert safe.working_time_s.tolist() == safe.gel_time_first_s.tolist() == [60.0, math.inf, 60.0, 0.0]
    assert safe.gel_time_last_s.tolist() == [60.0, math.inf, 60.0, math.inf]
    assert safe.release_time_s.tolist() == [60.0, math.inf, math.inf, math.inf]
    assert safe.peak_temperature_K.tolist() == [300.0, 300.0, math.inf, math.inf]


def test_too_late_is_said(small_result):
    assert changed(small_result, cell_0={"late": True}).answers[0, 0].working_word == "TOO LATE"


def test_too_hot_is_said(small_result):
    other = changed(small_result, cell_0={"peak_temperature_C": [20.0, 30.0, 99.2]})
    assert other.answers[0, 0].why_not == ("TOO HOT 100 °C (95 %)",)
    # On paper no cell that must not be used has a number.
    assert other.answers[0, 0].short_why == ("TOO HOT",) and "100 °C" not in sheet_texts(other)
    assert small_result.answers[0, 0].why_not == ()


def test_violations_are_reported_everywhere_and_smoothed_nowhere(small_result):
    longer = [v + 500.0 for v in small_result.records[0, 0]["gel_first_min"]]
    other = changed(small_result, cell_1={"gel_first_min": longer})  # slow, warmer ground
    assert {v.quantity for v in other.violations} == {"gel_first_min"}
    assert other.violations[0].before == (0, 0) and other.violations[0].after == (0, 1)
    text = other.violations[0].text()
    assert other.numbers["gel_first_min"][0, 1].tolist() == longer
    assert "first gel goes from" in text and text in other.to_json()["sanity"]["violations"]
    assert text in other.to_dataframe().loc[1, "note"]
    from libcure.render import chart_page as page

    assert "CHECK BEFORE USE" in page.html(other) and "CHECK BEFORE USE" in sheet_texts(other)
    assert "no neighbouring cells contradict each other" in sheet_texts(small_result)


def test_a_working_time_that_the_cold_shortens_is_no_contradiction(tmp_path):
    """By a viscosity of 3 Pa s, which the fresh mix has at about 8 °C: in the cold wall the working time ends at once."""
    resin = json.loads((libcure.models_folder() / "resins" / "epoxy-amine-fast.json").read_text(encoding="utf-8"))
    resin["working_limit"]["viscosity"]["value"] = 3.0
    (tmp_path / "thick.json").write_text(json.dumps(resin), encoding="utf-8")
    document = small(axes__0__values=["./thick.json"], axes__0__labels=["thick"], axes__1__values=[2, 14], uncertain__constants=False)
    result = libcure.chart(document, beside=tmp_path)
    cold, warm = (result.numbers["working_min"][0, g] for g in (0, 1))
    assert (cold < warm).all() and result.violations == []
    assert "ground: not checked: the working time may end at a viscosity" in " ".join(result.to_json()["sanity"]["checks"])


def test_a_release_that_turns_into_never_with_warmth_is_a_violation(small_result):
    other = changed(
        small_result,
        cell_3={"criterion_met_min": [None, None, None]},
        cell_2={"criterion_met_min": [60.0, 60.0, 60.0]},
    )
    assert [v.percentile for v in other.violations if v.after == (1, 1)] == [5, 50, 95]


def test_a_warm_resin_that_sets_before_it_is_held_is_no_violation(small_result):
    """It has no release to compare, and the cell itself says SETS TOO SOON."""
    states = dict.fromkeys(ensemble.RELEASE_STATES, 0)
    never = {"criterion_met_min": [None] * 3, "states": states | {"reached": 4, "gelled_before_held": 12}}
    cold = {"criterion_met_min": [60.0] * 3, "states": states | {"reached": 16}}
    assert changed(small_result, cell_2=cold, cell_3=never).violations == []
    vitrified = {**never, "states": states | {"reached": 4, "vitrified": 12}}
    assert len(changed(small_result, cell_2=cold, cell_3=vitrified).violations) == 3


def test_every_axis_says_what_is_checked_or_why_not():
    chart = libcure.read_chart(SHIPPED)
    texts = [check.text() for check in sanity.checks_of(chart)]
    assert any("hardener: working time" in t for t in texts) and any("hardener: not checked" in t for t in texts)
    assert any("wall: release" in t for t in texts) and any("resin: first gel" in t for t in texts)
    thickness = {"name": "thickness", "sets": ["liner.thickness_mm"], "values": [3, 4]}
    chart = libcure.read_chart(small(axes__1=thickness, layout__rows="thickness"))
    assert any("thickness: not checked" in check.text() for check in sanity.checks_of(chart))


def test_sensitivity_names_the_strongest_input(small_result):
    (s,) = small_result.sensitivities
    assert s.index == (1, 1) and s.runs == (len(s.inputs) + 2) * 16
    assert set(s.inputs) == {"Ground temperature", "Contact", "Thickness", "resin constants"}
    assert small_result.dominant in s.inputs
    assert small_result.dominant == s.dominant()[0]
    assert s.dominant("working")[1] > 0.0


def test_months_vary_by_the_days_within_them():
    document = small(
        axes__1__values=None,
        axes__1__months=[4, 1],
        axes__1__unit=None,
        axes__0__values=["epoxy-amine-fast"],
        axes__0__labels=["fast"],
    )
    result = libcure.chart(document | {"sensitivity": {"cells": "centre", "samples": 16}})
    assert cells.DAY_TITLE in result.sensitivities[0].inputs
    assert result.to_xarray()["month" if "month" in result.to_xarray().dims else "ground"].values.tolist() == [
        "Apr",
        "Jan",
    ]
    assert "°C, " in sheet_texts(result) and "°F" in sheet_texts(result)


def test_too_hot_carries_its_sampling_error(small_result):
    """The bound decides and is what is printed; percentiles stay as they are."""
    limit = small_result.chart.limits_C[0, 0]
    record = {"peak_temperature_C": [20.0, 30.0, limit - 1.0]}
    below = changed(small_result, cell_0=record)
    assert below.answers[0, 0].hot_word == ""
    hot = changed(small_result, cell_0=record | {"peak_bound_C": limit + 0.4})
    assert hot.answers[0, 0].hot_word == f"TOO HOT {int(limit + 1)} °C (95 %)" and not hot.answers[0, 0].use
    for index, record in small_result.records.items():
        assert record["peak_bound_C"] >= small_result.numbers["peak_temperature_C"][index][-1]
