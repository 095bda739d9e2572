"""Any field of a case can be an axis of a chart, and months can be one by the climate of chart or case."""

import numpy as np
import pytest
from small_chart import CHART, sheet_texts, small

import libcure
from libcure.charting import sanity
from libcure.render import chart_page as page

CLIMATE = {"annual_mean_C": 11, "amplitude_K": 9, "day_of_minimum": 35, "depth_m": 1.2, "day": 60}


def read(document, path):
    """The value at a path of a case."""
    for step in path.replace("[", ".").replace("]", "").split("."):
        document = document[int(step) if isinstance(document, list) else step]
    return document


@pytest.mark.parametrize(
    ("paths", "unit", "values", "column"),
    [
        (["ground.temperature_C", "initial_temperature_C.pipe"], "°C", [6, 12], "x_C"),
        (["initial_temperature_C.air", "stages[1].ambient_temperature_C"], "°C", [5, 25], "x_C"),
        (["initial_temperature_C.resin"], "°C", [10, 22], "x_C"),
        (["liner.thickness_mm"], "mm", [3, 6], "x_mm"),
        (["pipe.inner_diameter_mm"], "mm", [100, 225], "x_mm"),
        (["pipe.material"], "", ["vitrified-clay", "pvc"], "x"),
        (["resin"], "", ["epoxy-amine-fast", "vinyl-ester-cold"], "x"),
        (["ground.material"], "", ["moist-sand", "dry-sand"], "x"),
        (["stages[2].fill_temperature_C"], "°C", [14, 40], "x_C"),
        (["stages[0].duration_min"], "min", [2, 8], "x_min"),
        (["liner.fibre_volume_fraction"], "", [0.2, 0.4], "x"),
        (["release.alpha_min"], "", [0.7, 0.8], "x"),
    ],
)
def test_any_field_of_a_case_can_be_an_axis(paths, unit, values, column, tmp_path):
    axis = {"name": "x", "title": "X", "sets": paths, "values": values, **({"unit": unit} if unit else {})}
    document = small(axes=[axis], layout=None, criteria={"working_time_needed_min": 10}, climate=None)
    result = libcure.chart(document)
    for i, value in enumerate(values):
        for path in paths:
            assert read(result.chart.case_documents[i,], path) == value
    assert result.to_dataframe()[column].tolist() == values
    assert result.to_xarray()["x"].values.tolist() == values
    # The axis changes the answer, and its cells do not contradict each other.
    one, two = (result.records[i,] for i in (0, 1))
    assert one["criterion_met_min"] != two["criterion_met_min"] or one["working_min"] != two["working_min"]
    assert result.violations == [] and any(check.axis == "x" for check in sanity.checks_of(result.chart))
    result.save(tmp_path)
    assert all(str(value) in sheet_texts(result) for value in values)


def by_month(ground, climate):
    month = {"name": "month", "title": "Month", "sets": CHART["axes"][1]["sets"], "months": [2, 8]}
    document = small(axes__1=month, layout__rows="month", climate=climate)
    document["case"]["ground"] = {"material": "moist-sand", **ground}
    return document


def test_months_take_the_climate_of_the_case_when_the_chart_has_none():
    """With moist sand's diffusivity, 2.1 W/(m K) / (1800 kg/m3 1176 J/(kg K)), it is the chart that states it."""
    by_case = libcure.chart(by_month({"climate": CLIMATE}, None))
    stated = {key: value for key, value in CLIMATE.items() if key != "day"}
    stated["diffusivity_mm2_s"] = 1e6 * 2.1 / (1800 * 1176)
    by_chart = libcure.chart(by_month({"temperature_C": 10}, stated))
    for name in ("working_min", "criterion_met_min"):
        np.testing.assert_allclose(by_case.numbers[name], by_chart.numbers[name], rtol=1e-6)
    assert by_case.chart.climate.diffusivity_mm2_s == pytest.approx(stated["diffusivity_mm2_s"], rel=1e-9)
    assert "Feb" in sheet_texts(by_case)


def test_another_climate_of_the_case_is_another_chart():
    one, two = (
        libcure.read_chart(by_month({"climate": {**CLIMATE, "annual_mean_C": mean}}, None)) for mean in (11, 12)
    )
    assert one.inputs_hash != two.inputs_hash
    assert one.cases[0, 0].document["ground"]["temperature_C"] < two.cases[0, 0].document["ground"]["temperature_C"]


def test_the_climate_of_the_case_reads_a_ground_axis_by_month():
    document = small(climate=None)
    document["case"]["ground"] = {"material": "moist-sand", "climate": CLIMATE}
    result = libcure.chart(document)
    assert "By month" in page.html(result) and "yearly mean 11 °C" in page.html(result)
    assert result.chart.cases[0, 0].document["ground"] == {"material": "moist-sand", "temperature_C": 5}


def test_a_climate_in_the_case_stays_where_no_axis_sets_the_ground():
    document = small(climate=None, axes__1={"name": "day", "sets": ["ground.climate.day"], "values": [40, 220]})
    document["layout"]["rows"] = "day"
    document["case"]["ground"] = {"material": "moist-sand", "climate": CLIMATE}
    chart = libcure.read_chart(document)
    winter, summer = (chart.cases[0, d].conditions["ground"]["temperature_C"] for d in (0, 1))
    assert winter < 8 < 13 < summer


def test_months_without_any_climate_are_refused():
    with pytest.raises(libcure.CureError, match="a ground climate here or in the case"):
        libcure.read_chart(by_month({"temperature_C": 10}, None))
