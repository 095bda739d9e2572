"""Axes whose values set several paths to different values; seasons that move ground, air, resin, packer, fibre and fill together."""

import copy
import json

import numpy as np
import pytest
from small_chart import SHIPPED, sheet_texts, small

import libcure
from libcure.charting import climate as climates
from libcure.charting import words
from libcure.charting.climate import MONTHS
from libcure.render import chart_look as look
from libcure.render import chart_page as page

AIR = {"annual_mean_C": 10, "amplitude_K": 8, "day_of_minimum": 20, "day_swing_K": 4}
STORES = {"lag_days": 10, "above_air_K": 3, "at_least_C": 8}
COLD = {"ground.temperature_C": 5, "initial_temperature_C.pipe": 5, "initial_temperature_C.resin": "53.6 °F"}
WARM = {"initial_temperature_C.resin": 28, "ground.temperature_C": 15, "initial_temperature_C.pipe": 15.0}


def season(*seasons, fill="ground", air=AIR, stores=STORES, **axis):
    document = small(axes__1={"name": "season", "title": "Season", "seasons": list(seasons), **axis}, layout__rows="season")
    document["climate"] |= {"air": dict(air), "stores": dict(stores), "fill": fill}
    return document


def shipped(**changes):
    document = json.loads(SHIPPED.read_text(encoding="utf-8")) | {"sensitivity": {"cells": "none"}}
    document["uncertain"]["samples"] = 256
    return document | changes


def linked():
    axis = {"name": "season", "title": "Season", "values": [COLD, WARM], "labels": ["winter", "summer"]}
    return small(axes__1=axis, layout__rows="season")


def test_a_value_sets_several_paths_to_different_values():
    libcure.validate(linked())
    result = libcure.chart(linked())
    winter, summer = (result.chart.case_documents[0, i] for i in (0, 1))
    assert winter["initial_temperature_C"]["resin"] == pytest.approx(12.0, abs=1e-9)  # 53.6 °F
    assert winter["ground"]["temperature_C"] == winter["initial_temperature_C"]["pipe"] == 5
    assert summer["initial_temperature_C"]["resin"] == 28 and summer["ground"]["temperature_C"] == 15
    assert result.to_xarray()["season"].values.tolist() == ["winter", "summer"]
    # It is the chart of two cases made by hand.
    for i, (pipe, resin) in enumerate(((5, 12), (15, 28))):
        document = small(axes__1__values=[pipe])
        document["case"]["initial_temperature_C"]["resin"] = resin
        one = libcure.chart(document)
        for name in ("working_min", "criterion_met_min", "in_place_min"):
            np.testing.assert_allclose(one.numbers[name][:, 0], result.numbers[name][:, i], rtol=1e-6)
    # Both are warmer from end to end, so the pair is checked.
    from libcure.charting import sanity

    assert any(check.axis == "season" and check.quantity == "criterion_met_min" for check in sanity.checks_of(result.chart))


def test_a_season_moves_everything():
    document = season(1, 7, "winter", "summer", {"name": "thaw", "months": [3, 4]}, fill="air")
    libcure.validate(document)
    chart = libcure.read_chart(document)
    assert chart.axes[1].labels == ("Jan", "Jul", "winter", "summer", "thaw")
    assert chart.axes[1].seasons == ((1,), (7,), (12, 1, 2), (6, 7, 8), (3, 4))
    january, july = (chart.case_documents[0, i] for i in (0, 1))
    for value in (lambda d: d["ground"]["temperature_C"], lambda d: d["stages"][2]["fill_temperature_C"]):
        assert value(july) > value(january) + 5.0
    for name in ("pipe", "air", "resin", "packer", "fibre"):
        assert july["initial_temperature_C"][name] > january["initial_temperature_C"][name] + 5.0
    # Of a wave by hand: the middle of July, and ten days before it in the store.
    def wave(day):
        return 10.0 - 8.0 * np.cos(2.0 * np.pi * (day - 20.0) / 365.0)

    days = np.linspace(182.0, 213.0, 61)
    assert july["initial_temperature_C"]["air"] == pytest.approx(np.median(wave(days)), abs=1e-5)
    assert july["initial_temperature_C"]["resin"] == pytest.approx(np.median(wave(days - 10.0)) + 3.0, abs=1e-5)
    # In January the store, 2.6 + 3 °C by the air, is heated.
    assert january["initial_temperature_C"]["resin"] == 8.0
    assert january["stages"][2]["fill_temperature_C"] == january["initial_temperature_C"]["air"]
    assert july["initial_temperature_C"]["pipe"] == july["ground"]["temperature_C"]


def test_months_by_mean_are_reached_and_the_year_closes():
    monthly = [1.0, 2, 5, 9, 13, 16, 18, 18, 15, 10, 5, 2]
    air = climates.Air(0.0, 0.0, 1.0, tuple(monthly), 5.0)
    middles = [0.5 * sum(climates.month_days(m)) for m in range(1, 13)]
    np.testing.assert_allclose(air.temperature_C(middles), monthly)
    assert air.temperature_C(1.0) == pytest.approx(air.temperature_C(366.0))
    assert air.temperature_C(-5.0) == pytest.approx(air.temperature_C(360.0))
    document = season(1, 7, air={"monthly_mean_C": monthly}, stores={"lag_days": 0})
    libcure.validate(document)
    chart = libcure.read_chart(document)
    # Of straight lines from month to month the median of January is near its middle.
    assert chart.case_documents[0, 0]["initial_temperature_C"]["resin"] == pytest.approx(1.0, abs=1.0)


@pytest.mark.parametrize(("day", "winter"), [(30, (12, 1, 2)), (350, (12, 1, 2)), (200, (6, 7, 8))])
def test_winter_is_where_the_coldest_day_is(day, winter):
    assert climates.named_season("winter", day) == winter
    assert climates.named_season("summer", day) == tuple((m + 5) % 12 + 1 for m in winter)


def test_what_varies_within_a_season_is_sampled():
    """Day and weather are inputs of their own, and days warm or cold widen the band."""
    document = season(7) | {"sensitivity": {"cells": "centre", "samples": 16}}
    document["uncertain"]["samples"] = 256
    document["uncertain"]["constants"] = False
    calm = copy.deepcopy(document)
    calm["climate"]["air"]["day_swing_K"] = 0
    windy, still = libcure.chart(document), libcure.chart(calm)
    assert {"day within the month", "weather of the day"} <= set(windy.sensitivities[0].inputs)
    band, narrow = (np.ptp(np.log(r.numbers["in_place_min"][0, 0])) for r in (windy, still))
    assert band > 1.5 * narrow
    assert windy.numbers["in_place_min"][0, 0, 0] < still.numbers["in_place_min"][0, 0, 0]


def test_a_hot_fill_is_not_replaced_in_silence():
    document = season(7)
    document["case"]["stages"][2]["fill_temperature_C"] = {"time_min": [0, 60], "value": [14, 60]}
    with pytest.raises(libcure.CureError, match=r"stages\[2\].fill_temperature_C of the case is no number"):
        libcure.read_chart(document)
    document["axes"][1]["sets"] = ["ground.temperature_C", "initial_temperature_C.pipe", "initial_temperature_C.resin"]
    assert libcure.read_chart(document).case_documents[0, 0]["stages"][2]["fill_temperature_C"]["value"] == [14, 60]


def test_the_sheet_says_what_a_season_brings_and_what_is_assumed_of_stores():
    result = libcure.chart(season("winter", "summer"))
    texts = " ".join(sheet_texts(result).split())
    assert "PIPE WALL → rows RESIN AND PACKER → rows" in texts
    low, high = result.chart.climate.span_C("stores", (6, 7, 8))
    assert f"resin {look.both_ranges(low, high)}" in texts
    said = "resin, packer and fibre as the air 10 days before, +3 K, with its swing, at least 8 °C (stores and vans: common practice, no source)"
    for text in (texts, " ".join(page.html(result).split())):
        assert said in text and "Bladder filling by season: as the ground." in text


def test_july_is_too_late_for_what_may_be_used_in_winter():
    """The strip moves resin, packer, fibre and air as well as the ground. A strip that moved the ground alone read 55 min for the
    medium hardener in July, which with all of them at 28 °C gels before it is in place."""
    result = libcure.chart(shipped())
    chart = result.chart
    july = look.month_lines(chart)[MONTHS.index("Jul")]
    wall, resin = look.ground_axis(chart), look.resin_axis(chart)
    warm = chart.axes[0].labels.index("medium"), wall.values.index(16), resin.values.index(28)
    assert "TOO LATE" in result.answers[warm].why_not
    assert 28 in [resin.values[i] for i in july.columns]
    told = dict(zip(chart.axes[0].labels, look.month_answers(result, july), strict=True))
    for name in ("medium", "fast"):
        assert "TOO LATE" in told[name].stop and told[name].short == "TOO LATE"
    texts = sheet_texts(result)
    assert "55 min /" not in texts and "TOO LATE" in texts
    # The month says the worst of all that it touches.
    touched = [result.answers[0, i, j] for i in july.rows for j in july.columns]
    assert told["slow"].release == max(touched, key=lambda a: a.release_min).release_text
    assert told["slow"].in_place == min(touched, key=lambda a: a.in_place_min).in_place_text


def test_the_july_of_the_issue_with_all_at_28_degrees():
    document = shipped()
    case = document["case"]
    case["resin"] = "epoxy-amine-medium"
    case["ground"]["temperature_C"] = 16
    case["initial_temperature_C"] = {"resin": 28, "packer": 28, "fibre": 28, "air": 28, "pipe": 16}
    case["stages"][2]["fill_temperature_C"] = 28
    document["axes"] = [{"name": "thickness", "sets": ["liner.thickness_mm"], "values": [4, 5]}]
    del document["layout"]
    result = libcure.chart(document)
    assert all("TOO LATE" in answer.why_not for answer in result.answers.values())
    texts = " ".join(sheet_texts(result).split())
    assert "55 min" not in texts and "RESIN AND PACKER 28 °C (82 °F)" in texts


def test_a_month_axis_may_set_the_resin_too():
    document = season()
    document["axes"][1] = {
        "name": "season", "months": [1, 7], "sets": ["ground.temperature_C", "initial_temperature_C.pipe", "initial_temperature_C.resin"],
    }  # fmt: skip
    libcure.validate(document)
    chart = libcure.read_chart(document)
    assert chart.case_documents[0, 1]["initial_temperature_C"]["resin"] > 15.0
    assert "packer" in words.made_for(chart) and "resin" not in words.made_for(chart).split(",")[0]
