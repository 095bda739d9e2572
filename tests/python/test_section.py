"""Cases in two dimensions: arrays, tables, words and pictures; and what every crew knows of them."""

from __future__ import annotations

import json
import pickle
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from conditions_case import numbers
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.console import Console
from typer.testing import CliRunner

import libcure
from libcure.cli import app
from libcure.render import verdict_view

CASES = Path(__file__).parents[2] / "models" / "cases"
WATER, COLD = CASES / "standing_water_invert.json", CASES / "cold_ground_winter.json"
ALONG = {
    "kind": "along",
    "length_mm": 300,
    "columns": 20,
    "bare_pipe_mm": 50,
    "liner_thickness_mm": {"position_mm": [150, 180, 220, 250], "value": [4, 7, 7, 4]},
    "bare_gap_mm": {"from": 60, "to": 70},
    "open_to_soil_mm": {"from": 90, "to": 120},
}


@pytest.fixture(scope="module")
def water() -> libcure.Prediction:
    return libcure.predict(libcure.load_case(WATER).replace({"accuracy": "quick"}))


@pytest.fixture(scope="module")
def along() -> libcure.Prediction:
    case = libcure.load_case(WATER).replace({"accuracy": "quick", "section": ALONG})
    return libcure.predict(case)


def shown(prediction: libcure.Prediction, width: int = 110) -> str:
    with open("/dev/null", "w") as nowhere:
        console = Console(width=width, file=nowhere, record=True)
        console.print(verdict_view.VerdictView(prediction))
    return console.export_text()


# Arrays and tables


def test_history_has_every_column(water: libcure.Prediction) -> None:
    h = water.history
    held = next(s for s in h.stages if s.kind == "held")
    rows = held.temperature.shape[1] // held.columns
    assert held.section == "around" and held.columns == 12  # half of 24: left and right are alike
    assert held.face.shape == (rows + 1, held.columns)
    assert held.edge[0] == 0.0 and held.edge[-1] == pytest.approx(np.pi)
    assert h.temperature.shape == (h.time.size, rows * held.columns) == (h.time.size, h.radius.size)
    assert h.alpha.shape == (h.time.size, held.resin.size)
    assert np.isfinite(h.alpha).all()
    # The liner is 6 mm at the invert and 4 mm at the crown, its outer face one circle.
    liner = held.face[[4, 16]]
    assert np.ptp(liner[1]) < 1e-12
    assert liner[1, 0] - liner[0, 0] == pytest.approx(0.006, abs=3e-4)
    assert liner[1, -1] - liner[0, -1] == pytest.approx(0.004)
    # Before it is held everything stands in every column alike.
    wet = h.stage == "wet_out"
    assert np.array_equal(h.alpha[wet][:, 0], h.alpha[wet][:, held.columns - 1])
    assert np.isnan(h.temperature[wet][:, h.layer == "pipe"]).all()


def test_gaps_have_no_resin(along: libcure.Prediction) -> None:
    h = along.history
    held = next(s for s in h.stages if s.kind == "held")
    assert {"bladder in gap", "soil in gap"} <= set(held.layer)
    bare = (held.position < 0) | ((held.position > 0.06) & (held.position < 0.07))
    here = h.position[h.layer == "liner"]
    during = h.stage == "held"
    assert np.isnan(h.alpha[during][:, np.isin(here, held.position[bare])]).all()
    assert np.isfinite(h.alpha[during][:, ~np.isin(here, held.position[bare])]).all()
    assert np.isfinite(h.temperature[during]).all()


@pytest.mark.parametrize(("name", "column"), [("water", "angle_deg"), ("along", "position_mm")])
def test_table_names_the_place(name: str, column: str, request: pytest.FixtureRequest) -> None:
    prediction = request.getfixturevalue(name)
    table = prediction.to_dataframe()
    assert list(table.columns) == ["time_min", "stage", "layer", "radius_mm", "temperature_C", "alpha", column]
    held = table[table["stage"] == "held"]
    assert held[column].notna().all() and table[table["stage"] == "wet_out"][column].isna().all()
    assert set(held[held["alpha"].notna()]["layer"]) == {"liner"}
    peak = prediction.verdict["peak"]
    hottest = held.loc[held[held["layer"] == "liner"]["temperature_C"].idxmax()]
    assert hottest[column] == pytest.approx(peak[column], abs=1e-9)
    # The table has the cells; the hottest point may be a face, half a cell from the node.
    assert abs(hottest["radius_mm"] - peak["radius_mm"]) < 0.5


def test_prediction_pickles(along: libcure.Prediction) -> None:
    again = pickle.loads(pickle.dumps(along))
    assert np.array_equal(again.history.temperature, along.history.temperature, equal_nan=True)
    assert again.history.stages[2].section == "along"


def test_many_cases_skip_the_numerical_error() -> None:
    rows = libcure.predict_many([WATER])
    verdict = rows[0].verdict
    assert verdict is not None and verdict["numerical_error"] is None
    assert verdict["limiting"]["release"]["clock"]
    libcure.validate(verdict)


# Words


def test_verdict_names_the_place(water: libcure.Prediction, along: libcure.Prediction) -> None:
    release = water.verdict["limiting"]["release"]
    assert release["clock"] in ("6 o'clock", "5 and 7 o'clock")
    assert 0.0 < release["angle_deg"] < 60.0
    assert release["position"] == "outer face"
    text = shown(water)
    assert f"liner outer face, {release['clock']}" in text
    assert "liner inner face, 12 o'clock" in text
    assert "water 30 mm deep at the invert, 6 °C" in text
    assert "slice around the pipe" in text and "keeps its temperature" in text
    peak = along.verdict["peak"]
    assert 150.0 < peak["position_mm"] < 250.0
    assert f"{peak['position_mm']:.0f} mm along" in " ".join(shown(along).split())
    for prediction in (water, along):
        libcure.validate(prediction.verdict)


def test_numerical_error_is_shown_rounded_up() -> None:
    prediction = libcure.predict(COLD)
    errors = prediction.verdict["numerical_error"]
    assert 0.0 < errors["working_time_min"] < errors["criterion_met_min"] < 3.0
    assert errors["marginal"] == []
    text = " ".join(shown(prediction).split())
    assert "Numerical error: working time ± " in text
    shown_error = text.split("criterion met ± ")[1].split(",")[0]
    number, unit = shown_error.split()
    assert float(number) * {"min": 1.0, "s": 1 / 60}[unit] >= errors["criterion_met_min"]
    assert "Numerical error" in prediction._repr_html_()
    quiet = libcure.predict(COLD, numerical_error=False)
    assert quiet.verdict["numerical_error"] is None
    assert quiet.times == prediction.times
    assert "Numerical error" not in shown(quiet)


def test_a_marginal_time_is_said_so() -> None:
    case = libcure.load_case(COLD).replace(
        {"resin": "epoxy-amine-slow", "stages[2].duration_min": 30000, "stages[2].ends": "at_duration",
         "release.alpha_min": 0.99}
    )
    rest = libcure.predict(case).verdict["limiting"]["release"]["alpha"]
    prediction = libcure.predict(case.replace({"release.alpha_min": rest + 1e-6}))
    assert "criterion_met_min" in prediction.verdict["numerical_error"]["marginal"]
    assert prediction.verdict["numerical_error"]["criterion_met_min"] is None
    text = " ".join(shown(prediction).split())
    assert "criterion met CANNOT BE TOLD" in text and "Marginal:" in text


def test_check_shows_the_section(tmp_path: Path) -> None:
    done = CliRunner().invoke(app, ["check", str(WATER)])
    assert done.exit_code == 0
    assert "around the pipe: liner 4 to 6 mm, water 30 mm deep at the invert, 6 °C" in done.stdout
    document = json.loads(WATER.read_text(encoding="utf-8"))
    document["section"] = ALONG
    path = tmp_path / "case.json"
    path.write_text(json.dumps(document), encoding="utf-8")
    done = CliRunner().invoke(app, ["check", str(path)])
    assert "along the pipe: liner 4 to 7 mm, 300 mm of liner, 50 mm of bare pipe before it, " in done.stdout
    assert "no liner from 60 to 70 mm, no pipe wall from 90 to 120 mm" in done.stdout


# Pictures


@pytest.mark.parametrize(("name", "suffix"), [("water", ".png"), ("water", ".svg"), ("along", ".pdf")])
def test_picture_is_written(name: str, suffix: str, tmp_path: Path, request: pytest.FixtureRequest) -> None:
    prediction = request.getfixturevalue(name)
    first, second = tmp_path / f"a{suffix}", tmp_path / f"b{suffix}"
    figure = prediction.plot(first)
    prediction.plot(second)
    assert first.read_bytes() == second.read_bytes()
    words = [t.get_text() for axes in figure.axes for t in (axes.xaxis.label, axes.yaxis.label)]
    assert ("Clock position" if name == "water" else "Along the liner (mm)") in words
    # Nothing sticks out at the right.
    figure.canvas.draw()
    for axes in figure.axes:
        legend = axes.get_legend()
        if legend is not None:
            assert legend.get_window_extent().x1 <= figure.bbox.x1


def test_a_whole_pipe_and_a_lost_job_can_be_drawn(tmp_path: Path) -> None:
    case = libcure.load_case(WATER).replace(
        {
            "accuracy": "quick",
            "section.ground_offset_K": {"clock": [3, 9], "value": [0, 5]},
            "release.alpha_min": 0.99,
            "stages[2].duration_min": 200,
        }
    )
    prediction = libcure.predict(case)
    assert prediction.verdict["criterion_met_min"] is None
    assert prediction.history.stages[2].edge[-1] == pytest.approx(2 * np.pi)
    prediction.plot(tmp_path / "whole.png")


# What every crew knows (common practice, no source)

few = settings(max_examples=3, deadline=None, derandomize=True)


def quick(**changes: Any) -> libcure.Prediction:
    base = libcure.load_case(WATER).replace({"accuracy": "quick", "section.columns": 16})
    document = base.replace(changes).document
    document["stages"] = document["stages"][:3]
    document["stages"][2].update({"duration_min": 3000, "ends": "at_duration"})
    return libcure.predict(libcure.Case.from_dict(document), numerical_error=False, uncertain="none")


@few
@given(
    depth=st.floats(5.0, 60.0),
    water=st.floats(1.0, 8.0),
    ground=st.floats(10.0, 18.0),
    thickness=st.floats(2.5, 6.0),
)
def test_cold_water_at_the_invert_delays_release_there(depth: float, water: float, ground: float, thickness: float) -> None:
    even = {"ground.temperature_C": ground, "liner.thickness_mm": thickness, "release.alpha_min": 0.7}
    dry = quick(**even, section={"kind": "around", "columns": 16})
    wet = quick(**even, section={"kind": "around", "columns": 16, "water": {"depth_mm": depth, "temperature_C": water}})
    assert dry.times.criterion_met_min is not None
    assert wet.times.criterion_met_min is None or wet.times.criterion_met_min > dry.times.criterion_met_min
    release = wet.verdict["limiting"]["release"]
    half = np.rad2deg(np.arccos(1 - depth / 75))
    assert release["angle_deg"] < half
    assert wet.verdict["limiting"]["gel_first"]["clock"] == "12 o'clock"
    assert wet.verdict["solver"]["energy_residual"] < 1e-9


@few
@given(spot=st.floats(1.5, 3.0), thickness=st.floats(2.5, 4.0), resin=st.sampled_from(["epoxy-amine-fast", "vinyl-ester-cold"]))
def test_a_thick_spot_peaks_hotter_there(spot: float, thickness: float, resin: str) -> None:
    thick = spot * thickness
    section = {
        "kind": "along", "length_mm": 200, "columns": 16,
        "liner_thickness_mm": {"position_mm": [50, 80, 120, 150], "value": [thickness, thick, thick, thickness]},
    }  # fmt: skip
    same = {"resin": resin, "liner.thickness_mm": thickness}
    even = quick(**same, section={"kind": "along", "length_mm": 200, "columns": 16})
    pooled = quick(**same, section=section)
    assert pooled.verdict["peak_temperature_C"] > even.verdict["peak_temperature_C"]
    assert 50.0 < pooled.verdict["peak"]["position_mm"] < 150.0


@few
@given(
    clock=st.lists(st.integers(1, 12), min_size=2, max_size=4, unique=True).map(sorted),
    values=st.lists(numbers(-3.0, 6.0), min_size=4, max_size=4),
)
def test_left_and_right_may_be_swapped(clock: list[int], values: list[float]) -> None:
    def mirrored(table: dict[str, list[float]]) -> dict[str, list[float]]:
        pairs = sorted((12 if c == 12 else 12 - c, v) for c, v in zip(table["clock"], table["value"], strict=True))
        return {"clock": [c for c, _ in pairs], "value": [v for _, v in pairs]}

    table = {"clock": list(map(float, clock)), "value": values[: len(clock)]}
    one = quick(**{"section.ground_offset_K": table})
    other = quick(**{"section.ground_offset_K": mirrored(table)})
    assert one.times.criterion_met_min == pytest.approx(other.times.criterion_met_min, abs=1e-3)
    assert one.times.working_min == pytest.approx(other.times.working_min, abs=1e-3)
    assert one.verdict["peak_temperature_C"] == pytest.approx(other.verdict["peak_temperature_C"], abs=1e-5)
