"""Charts from end to end: cells, resuming, executors, tables, sheet, page and command."""

import csv
import io
import json
import math
import os
import re
import signal
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from html.parser import HTMLParser


import numpy as np
import pandas as pd
import pytest
from small_chart import CHART, small

import libcure
from libcure import ensemble
from libcure.charting import cells, look, sanity, sheet
from libcure.charting.result import ChartResult

SHIPPED = libcure.models_folder() / "charts" / "seasonal.json"


@pytest.fixture(scope="module")
def result():
    return libcure.chart(small(sensitivity__cells="centre"))


def changed(result, **records):
    """The same chart with some records replaced."""
    tasks = cells.tasks_of(result.chart)
    found = [dict(result.records[t.index]) for t in tasks if t.kind == "cell"]
    for index, record in enumerate(found):
        record.update(records.get(f"cell_{index}", {}))
    return ChartResult(result.chart, [t for t in tasks if t.kind == "cell"], found, 0)


# Numbers


def test_a_cell_is_the_ensemble_of_its_case(result):
    """Every percentile is that of predictions made one by one, with the inputs drawn again here."""
    from libcure import sampling

    chart = result.chart
    index = (1, 0)
    case = chart.cases[index]
    points = sampling.unit_points(chart.dimensions, chart.samples, chart.seed)
    ground, contact, thickness = (u.values(points[:, j]) for j, u in enumerate(chart.inputs))
    document = json.loads((libcure.models_folder() / "resins" / "epoxy-amine-fast.json").read_text(encoding="utf-8"))
    constants = sampling.Constants.read(document)
    z = sampling.normal(points[:, 3 : 3 + len(constants.parameters)])
    values = constants.values(z)
    out = ensemble.simulate_many(
        case,
        {
            "ground.temperature_offset_K": ground,
            "initial_temperature.pipe_offset_K": ground,
            "contact_factor": contact,
            "liner.thickness_factor": thickness,
        },
        resins=libcure.models.resin_samples("epoxy-amine-fast", values),
        **cells.TOLERANCES,
    )
    record = result.records[index]
    working = np.sort(out.working_time_s) / 60.0
    release = (
        np.sort(np.where(np.isnan(out.release_time_recommended_s), np.inf, out.release_time_recommended_s)) / 60.0
    )
    # Of 16 samples: 5 % on the low side is the first, 95 % on the high side the last.
    assert record["working_min"][0] == working[0]
    assert record["release_recommended_min"][2] == (release[-1] if np.isfinite(release[-1]) else None)
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
        assert record["release_recommended_min"] == pytest.approx([times.release_recommended_min] * 3, abs=5.0)


def test_what_is_printed_is_on_the_safe_side(result):
    for index, answer in result.answers.items():
        assert answer.working_min <= result.numbers["working_min"][index][0]
        assert answer.release_min >= result.numbers["release_recommended_min"][index][2]
        assert answer.working_word == ("SHORT" if answer.working_min < 30 else "")
        alone, recommended = (result.numbers[name][index] for name in ("release_min", "release_recommended_min"))
        assert (alone <= recommended).all() and (np.isinf(alone) == np.isinf(recommended)).all()


def test_cells_compare_sample_by_sample(result):
    """The same points serve all cells, so that a warmer ground is warmer in every sample."""
    assert result.violations == []
    for hardener in (0, 1):
        cold, warm = (result.numbers["working_min"][hardener, g] for g in (0, 1))
        assert (warm < cold).all()


def test_never_is_said_in_words(result):
    states = dict.fromkeys(ensemble.RELEASE_STATES, 0)
    never = {"release_min": [50.0, 60.0, None], "release_recommended_min": [65.0, 75.0, None]}
    for reason, word in (
        ("vitrified", "NEVER"),
        ("not_in_hold", "NOT IN 24 h"),
        ("gelled_before_held", "SETS TOO SOON"),
        ("failed", "NO ANSWER"),
    ):
        other = changed(result, cell_0={**never, "states": {**states, "reached": 14, reason: 2}})
        answer = other.answers[0, 0]
        assert answer.release_word == answer.release_text == word
        assert math.isinf(answer.release_min) and look.band_of(answer) is None
        assert word in sheet_texts(other) and word in other._repr_html_()


def test_failed_samples_count_to_the_safe_side():
    """So do samples that did not release, whatever the engine left in their release time."""
    names = ("reached", "not_in_hold", "vitrified", "failed")

    class Outcomes:
        working_time_s = np.array([60.0, np.nan, 60.0, np.nan])
        release_time_s = np.array([60.0, 60.0, np.nan, 60.0])
        release_state = np.array([ensemble.RELEASE_STATES.index(name) for name in names], np.int8)

    working, release = cells._times(Outcomes)
    assert working.tolist() == [60.0, math.inf, 60.0, 0.0]
    assert release.tolist() == [60.0, math.inf, math.inf, math.inf]


def test_too_late_is_said(result):
    assert changed(result, cell_0={"too_late": 2}).answers[0, 0].working_word == "TOO LATE"


def test_too_hot_is_said(result):
    other = changed(result, cell_0={"peak_temperature_C": [20.0, 30.0, 99.2]})
    assert other.hot((0, 0)) == "TOO HOT 100 °C"
    assert "TOO HOT 100 °C" in sheet_texts(other)
    assert result.hot((0, 0)) is None


def test_violations_are_reported_everywhere_and_smoothed_nowhere(result):
    longer = [v + 500.0 for v in result.records[0, 0]["working_min"]]
    other = changed(result, cell_1={"working_min": longer})  # slow, warmer ground
    assert {v.quantity for v in other.violations} == {"working_min"}
    assert other.violations[0].before == (0, 0) and other.violations[0].after == (0, 1)
    text = other.violations[0].text
    assert other.numbers["working_min"][0, 1].tolist() == longer
    assert text in other.to_json()["sanity"]["violations"]
    assert text in other.to_dataframe().loc[1, "note"]
    from libcure.charting import page

    assert "CHECK BEFORE USE" in page.html(other) and "CHECK BEFORE USE" in sheet_texts(other)
    assert "against what the physics lets expect" in sheet_texts(result)


def test_a_release_that_turns_into_never_with_warmth_is_a_violation(result):
    other = changed(
        result,
        cell_3={"release_recommended_min": [None, None, None]},
        cell_2={"release_recommended_min": [60.0, 60.0, 60.0]},
    )
    assert [v.percentile for v in other.violations if v.after == (1, 1)] == [5, 50, 95]


def test_every_axis_says_what_is_checked_or_why_not():
    chart = libcure.read_chart(SHIPPED)
    texts = [check.text for check in sanity.checks_of(chart)]
    assert any("hardener: working time" in t for t in texts) and any("hardener: not checked" in t for t in texts)
    assert any("ground: release" in t for t in texts)
    assert any("thickness: not checked" in t for t in texts)


def test_sensitivity_names_the_strongest_input(result):
    (s,) = result.sensitivities
    assert s.index == (1, 1) and s.runs == (len(s.inputs) + 2) * 16
    assert set(s.inputs) == {"Ground temperature", "Contact", "Thickness", "resin constants"}
    assert result.dominant in s.inputs
    assert result.dominant == s.dominant()[0]
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
    assert "°C" in sheet_texts(result)


# The same answer however it is computed


def records(result):
    return result.to_dataframe().to_csv(index=False)


def test_threads_and_processes_and_a_cluster_give_the_same(result):
    with ThreadPoolExecutor(2) as executor:
        assert records(libcure.chart(small(), executor=executor)) == records(result)
    assert records(libcure.chart(small(), threads=1)) == records(result)


# The cluster's own threads and sockets may outlive it for a moment.
@pytest.mark.filterwarnings("ignore::ResourceWarning", "ignore::pytest.PytestUnraisableExceptionWarning")
def test_a_dask_cluster_gives_the_same(result):
    from distributed import Client, LocalCluster

    with (
        LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None) as cluster,
        Client(cluster) as client,
        client.get_executor() as executor,
    ):
        assert records(libcure.chart(small(), executor=executor)) == records(result)


def test_a_second_run_computes_nothing_and_writes_the_same(tmp_path, monkeypatch):
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1700000000")
    first = libcure.chart(small(), store=tmp_path / "store")
    files = [path.read_bytes() for path in first.save(tmp_path / "a")]
    monkeypatch.setattr(cells, "compute", None)
    second = libcure.chart(small(), store=tmp_path / "store")
    assert second.kept == 4
    assert [path.read_bytes() for path in second.save(tmp_path / "b")] == files
    assert sorted(p.name for p in (tmp_path / "a").iterdir()) == [
        "chart.csv",
        "chart.html",
        "chart.json",
        "chart.pdf",
        "chart.svg",
    ]


def test_a_fresh_run_writes_the_same_bytes(tmp_path, result):
    assert records(libcure.chart(small())) == records(result)


def test_damaged_and_foreign_files_in_the_store_do_no_harm(tmp_path, result):
    libcure.chart(small(), store=tmp_path)
    kept = sorted(tmp_path.glob("*.json"))
    assert len(kept) == 4
    kept[0].write_text('{"working_min": [1', encoding="utf-8")
    (tmp_path / "note.txt").write_text("mine", encoding="utf-8")
    again = libcure.chart(small(), store=tmp_path)
    assert again.kept == 3 and records(again) == records(result)


def test_other_inputs_take_nothing_from_the_store(tmp_path):
    libcure.chart(small(), store=tmp_path)
    assert libcure.chart(small(uncertain__seed=8), store=tmp_path).kept == 0
    # Only one of the two columns changes.
    assert libcure.chart(small(axes__1__values=[5, 16]), store=tmp_path).kept == 2


SLOW = """
import json, sys, time
import libcure
libcure.chart(json.loads(sys.argv[1]), store=sys.argv[2], progress=lambda done, of: time.sleep(0.5))
"""


def test_kill_loses_at_most_the_cell_in_work(tmp_path, result):
    document = small(axes__1__values=[5, 9, 12, 15])
    process = subprocess.Popen([sys.executable, "-c", SLOW, json.dumps(document), str(tmp_path)])
    try:
        deadline = time.monotonic() + 120.0
        while len(list(tmp_path.glob("*.json"))) < 3:
            assert process.poll() is None and time.monotonic() < deadline
            time.sleep(0.02)
        process.send_signal(signal.SIGKILL)
    finally:
        process.kill()
        process.wait()
    finished = [path for path in tmp_path.glob("*.json") if json.loads(path.read_text(encoding="utf-8"))]
    assert 3 <= len(finished) < 8
    again = libcure.chart(document, store=tmp_path)
    assert again.kept == len(finished)
    assert records(again) == records(libcure.chart(document))


def test_an_interrupted_run_keeps_what_is_done(tmp_path):
    def stop(done, of):
        if done == 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        libcure.chart(small(), store=tmp_path, progress=stop)
    assert libcure.chart(small(), store=tmp_path).kept == 2


# Tables


def test_xarray_has_named_axes_and_units(result):
    data = result.to_xarray()
    assert data["release_recommended_min"].dims == ("hardener", "ground", "percentile")
    assert data["hardener"].values.tolist() == ["slow", "fast"]
    assert data["ground"].attrs == {"long_name": "Ground", "units": "°C"}
    assert data["working_min"].attrs["units"] == "min"
    one = data["working_min"].sel(hardener="fast", ground=15, percentile=5).item()
    assert one == result.records[1, 1]["working_min"][0]
    assert data.attrs["inputs_hash"] == result.inputs_hash


def test_the_csv_file_is_the_table(result, tmp_path):
    result.save(tmp_path)
    table = pd.read_csv(tmp_path / "chart.csv", keep_default_na=False)
    expected = result.to_dataframe()
    assert list(table.columns[:2]) == ["hardener", "ground_C"]
    pd.testing.assert_frame_equal(table, expected, check_dtype=False)
    with (tmp_path / "chart.csv").open(encoding="utf-8", newline="") as file:
        assert len(list(csv.reader(file))) == 5


def test_the_json_file_fits_its_schema(result, tmp_path):
    result.save(tmp_path)
    document = json.loads((tmp_path / "chart.json").read_text(encoding="utf-8"))
    libcure.validate(document)
    assert document["dominant_for_release"] == result.dominant
    assert len(document["inputs_hash"]) == 64 and document["inputs_hash"].startswith(result.inputs_hash)


# Sheet


def sheet_texts(result):
    return " ".join(text.get_text() for text in result.draw().axes[0].texts)


def test_the_sheet_says_all_that_a_crew_needs(result, monkeypatch):
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1700000000")
    texts = " ".join(sheet_texts(result).split())
    for answer in result.answers.values():
        assert answer.release_text in texts and answer.working_text in texts
    for words in (
        "5 °C",
        "41 °F",
        "59 °F",
        "Hardener slow",
        "ESTIMATED MODEL",
        "2023-11-14",
        result.inputs_hash,
        libcure.__version__,
        "epoxy-amine-fast",
        "confined spaces",
        "95 % high side",
        "5 % low side",
        "Jan",
        "× 1.25",
        "this library's own assumption",
    ):
        assert words in texts


@pytest.mark.parametrize(("page", "box"), [("landscape", (297.0, 210.0)), ("portrait", (210.0, 297.0))])
def test_the_pdf_is_one_a4_page(result, page, box):
    other = libcure.chart(small(layout__page=page), store=None) if page == "portrait" else result
    buffer = io.BytesIO()
    sheet.save(other.draw(), buffer, ".pdf")
    data = buffer.getvalue()
    assert data.count(b"/Type /Page ") + data.count(b"/Type /Page\n") + data.count(b"/Type /Page/") == 1
    media = re.search(rb"/MediaBox \[ 0 0 ([\d.]+) ([\d.]+) \]", data)
    # Points of 1/72 inch; A4 is 210 mm by 297 mm (ISO 216).
    assert [float(v) * 25.4 / 72.0 for v in media.groups()] == pytest.approx(box, abs=0.01)


def test_nothing_on_the_sheet_leaves_the_page_or_its_cell(result):
    for chart_result in (result, libcure.chart(small(layout__page="portrait"))):
        figure = chart_result.draw()
        renderer = figure.canvas.get_renderer()
        for text in figure.axes[0].texts:
            box = text.get_window_extent(renderer)
            assert box.x0 >= 0 and box.y0 >= 0
            assert box.x1 <= figure.bbox.width and box.y1 <= figure.bbox.height, text.get_text()
        # Words of the cells do not run into each other.
        cell_texts = [t for t in figure.axes[0].texts if t.get_fontweight() == "bold" and " h" in t.get_text()]
        boxes = [t.get_window_extent(renderer) for t in cell_texts]
        for i, a in enumerate(boxes):
            assert not any(a.overlaps(b) for b in boxes[i + 1 :])


def luminance(color):
    """Relative luminance (WCAG 2.1, definition of relative luminance)."""
    parts = [int(color[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_colours_keep_their_order_in_grey_and_words_their_contrast():
    """WCAG 2.1 asks for a contrast of 4.5 of text (success criterion 1.4.3), 7 for the strict level."""
    shades = [luminance(band.color) for band in look.BANDS]
    assert all(a > b + 0.08 for a, b in zip(shades, shades[1:], strict=False))
    for color in (*(band.color for band in look.BANDS), look.SHORT_BACK, look.NEVER_BACK):
        assert (luminance(color) + 0.05) / (luminance(look.INK) + 0.05) > 6.5


def test_a_chart_too_large_for_the_page_is_refused(result, tmp_path):
    document = small(axes__1__values=list(range(1, 30)))
    chart = libcure.read_chart(document)
    tasks = cells.tasks_of(chart)
    large = ChartResult(chart, tasks, [result.records[0, 0]] * len(tasks), 0)
    with pytest.raises(libcure.CureError, match="29 rows") as caught:
        large.save(tmp_path)
    assert caught.value.field == "layout"
    assert list(tmp_path.iterdir()) == []


# Page


class Page(HTMLParser):
    """Collects what a page would fetch, and whether its tags close."""

    def __init__(self):
        super().__init__()
        self.fetched, self.open, self.cells = [], [], 0

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        self.fetched += [v for k, v in attrs if k in ("src", "href", "action", "data")]
        self.cells += "data-release" in given
        if tag not in ("meta", "br", "i", "input"):
            self.open.append(tag)

    def handle_endtag(self, tag):
        if tag != "i":
            assert self.open.pop() == tag


def test_the_page_needs_no_network_and_is_well_formed(result, tmp_path):
    result.save(tmp_path)
    text = (tmp_path / "chart.html").read_text(encoding="utf-8")
    page = Page()
    page.feed(text)
    assert page.open == [] and page.fetched == [] and page.cells == 4
    assert not re.search(r"https?://|@import|url\(", text)
    for words in (
        "physics alone",
        "Working time is decided at the",
        "By month",
        "Depth of the pipe",
        "Sobol",
        result.dominant,
    ):
        assert words in text


def test_titles_are_not_markup(tmp_path):
    result = libcure.chart(small(title="<script>alert('x')</script> $\\alpha$", axes__0__labels=["<b>a</b>", "&"]))
    result.save(tmp_path)
    text = (tmp_path / "chart.html").read_text(encoding="utf-8")
    assert "<script>alert" not in text and "<b>a</b>" not in text
    assert "<b>a</b>" not in result._repr_html_()


def test_months_read_to_the_safe_side(result):
    """Release from a row at most as warm as the coldest of the month; working time from one as warm as its warmest."""
    values = CHART["axes"][1]["values"]
    for line in look.month_lines(result):
        if line.release_row is not None:
            assert values[line.release_row] <= line.low_C
        else:
            assert min(values) > line.low_C
        if line.working_row is not None:
            assert values[line.working_row] >= line.high_C
        else:
            assert max(values) < line.high_C


# Command


def run(*arguments, code=0, **environment):
    done = subprocess.run(
        [sys.executable, "-m", "libcure", *map(str, arguments)],
        capture_output=True,
        text=True,
        timeout=300,
        env={**os.environ, "COLUMNS": "80", **environment},
    )
    assert done.returncode == code, done.stderr
    return done


def test_the_command_writes_everything_and_goes_on(tmp_path):
    path = tmp_path / "chart.json"
    path.write_text(json.dumps(small(sensitivity__cells="centre")), encoding="utf-8")
    first = run("chart", path, "--out", tmp_path / "out", "--samples", "32", "--threads", "2")
    assert "4 cells of 32 samples and 1 for sensitivity; inputs" in first.stdout
    assert "Most moves the release time: " in first.stdout
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == [
        ".cells",
        "chart.csv",
        "chart.html",
        "chart.json",
        "chart.pdf",
        "chart.svg",
    ]
    table = (tmp_path / "out" / "chart.csv").read_bytes()
    second = run("chart", path, "--out", tmp_path / "out", "--samples", "32")
    assert "5 of them kept" in second.stdout
    assert (tmp_path / "out" / "chart.csv").read_bytes() == table


@pytest.mark.parametrize(
    ("arguments", "word"),
    [(("--samples", "100"), "a power of two"), (("--samples", "8"), "16 to 65536"), ((), 'did you mean "axes"')],
)
def test_a_bad_chart_is_one_line_and_nothing_is_written(tmp_path, arguments, word):
    path = tmp_path / "chart.json"
    path.write_text(json.dumps(small(axis=[]) if not arguments else small()), encoding="utf-8")
    done = run("chart", path, "--out", tmp_path / "out", *arguments, code=2)
    assert done.stdout == "" and done.stderr.count("\n") == 1 and word in done.stderr
    assert not (tmp_path / "out").exists()


def test_a_folder_that_cannot_be_made_is_one_line(tmp_path):
    path = tmp_path / "chart.json"
    path.write_text(json.dumps(small()), encoding="utf-8")
    (tmp_path / "file").write_text("", encoding="utf-8")
    done = run("chart", path, "--out", tmp_path / "file" / "out", code=2)
    assert done.stderr.count("\n") == 1 and "--out" in done.stderr


def test_check_knows_charts():
    done = run("check", SHIPPED)
    assert "valid" in done.stdout and "(72 cells)" in done.stdout


def test_ctrl_c_says_what_is_kept(tmp_path):
    path = tmp_path / "chart.json"
    grounds = [float(g) for g in np.linspace(2.0, 20.0, 40)]
    path.write_text(json.dumps(small(axes__1__values=grounds, uncertain__samples=2048)), encoding="utf-8")
    store = tmp_path / "out" / ".cells"
    process = subprocess.Popen(
        [sys.executable, "-m", "libcure", "chart", str(path), "--out", str(tmp_path / "out")],
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        deadline = time.monotonic() + 120.0
        while not list(store.glob("*.json")) if store.exists() else True:
            assert process.poll() is None and time.monotonic() < deadline
            time.sleep(0.02)
        process.send_signal(signal.SIGINT)
        _, said = process.communicate(timeout=120)
    finally:
        process.kill()
        process.wait()
    assert process.returncode == 130
    assert "80 cells are kept; the same command goes on from there" in " ".join(said.split())
    assert "Traceback" not in said
