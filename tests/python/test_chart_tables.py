"""A chart for other programs: xarray, pandas, CSV and JSON."""

import csv
import json

import pandas as pd

import libcure


def test_xarray_has_named_axes_and_units(small_result):
    data = small_result.to_xarray()
    assert data["criterion_met_min"].dims == ("hardener", "ground", "percentile")
    assert data["hardener"].values.tolist() == ["slow", "fast"]
    assert data["ground"].attrs == {"long_name": "Ground", "units": "°C"}
    assert data["working_min"].attrs["units"] == "min"
    one = data["working_min"].sel(hardener="fast", ground=15, percentile=5).item()
    assert one == small_result.records[1, 1]["working_min"][0]
    assert data.attrs["inputs_hash"] == small_result.inputs_hash


def test_the_csv_file_is_the_table(small_result, tmp_path):
    small_result.save(tmp_path)
    table = pd.read_csv(tmp_path / "chart.csv", keep_default_na=False)
    expected = small_result.to_dataframe()
    assert list(table.columns[:2]) == ["hardener", "ground_C"]
    pd.testing.assert_frame_equal(table, expected, check_dtype=False)
    with (tmp_path / "chart.csv").open(encoding="utf-8", newline="") as file:
        assert len(list(csv.reader(file))) == 5
    assert (tmp_path / "chart.csv").read_bytes() == expected.to_csv(index=False, lineterminator="\n").encode()


def test_the_json_file_fits_its_schema(small_result, tmp_path):
    small_result.save(tmp_path)
    document = json.loads((tmp_path / "chart.json").read_text(encoding="utf-8"))
    libcure.validate(document)
    assert document["dominant_for_release"] == small_result.dominant
    assert len(document["inputs_hash"]) == 64 and document["inputs_hash"].startswith(small_result.inputs_hash)
