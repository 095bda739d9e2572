"""``libcure follow`` as a user meets it, and its page, picture and notebook view."""

import io
import json
import re

import numpy as np
import pytest
from follow_synthetic import CASES, Truth, readings
from forked_command import run
from rich.console import Console

import libcure
from libcure.following import Readings
from libcure.following.view import FollowView, decision, html, page

COLD = CASES / "cold_ground_winter.json"
LOG = CASES.parents[1] / "notebooks" / "data" / "follow" / "cold_ground.csv"
FEW = {"samples": 64, "threads": 2}


def shown(result, columns=80, **options):
    console = Console(width=columns, record=True, file=io.StringIO(), **options)
    console.print(FollowView(result))
    return console.export_text()


@pytest.fixture(scope="module")
def result():
    return libcure.follow(COLD, LOG, **FEW)


def test_the_example_on_the_screen_and_as_json(tmp_path):
    done = run("follow", COLD, LOG, "--json", tmp_path / "f.json", "--plot", tmp_path / "f.svg")
    document = json.loads((tmp_path / "f.json").read_text(encoding="utf-8"))
    assert document == libcure.follow(COLD, LOG).to_json()
    libcure.validate(document)
    answer, before = document["release_min"], document["before"]["wait_until_min"]
    words = " ".join(done.stdout.replace("│", " ").split())
    assert answer < before
    assert re.search(rf"Keep the bladder in until .*\({answer:.0f} min\) after mixing\. Before .* \({before:.0f} min\)", words)
    for fault in document["faults"]:
        assert fault["text"] in words
    assert (tmp_path / "f.svg").read_bytes().startswith(b"<?xml")
    assert len(list(tmp_path.iterdir())) == 2


def test_only_json_with_all_options():
    chart = CASES.parent / "charts" / "seasonal.json"
    done = run("follow", COLD, LOG, "--at", "liner middle", "--now", "195", "--uncertain", chart, "--json", "-")
    document = json.loads(done.stdout)
    assert document["readings"]["at"] == "liner middle"
    assert document["now_min"] == 195.0
    unknowns = document["unknowns"]
    assert {u["name"] for u in unknowns} >= {"ground", "thickness", "soil", "resin_speed", "probe", "clock"}
    assert {u["range_from"] for u in unknowns} == {"given", "covariance of the resin", "assumption, no source"}


def test_a_chart_whose_cells_are_wrong_still_tells_ranges(tmp_path):
    """As in predict and advise, which look at the ranges only."""
    document = json.loads((CASES.parent / "charts" / "seasonal.json").read_text())
    path = tmp_path / "chart.json"
    path.write_text(json.dumps({**document, "axes": []}))
    assert json.loads(run("follow", COLD, LOG, "--uncertain", path, "--json", "-").stdout)["unknowns"]


@pytest.mark.parametrize(("arguments", "words"), [
    (("--at", "crown"), "at: \"crown\"; allowed: one of liner inner face"),
    (("--plot", "x.gif"), "--plot"),
])  # fmt: skip
def test_bad_options_are_one_line(arguments, words):
    done = run("follow", COLD, LOG, *arguments, code=2)
    assert done.stdout == ""
    assert done.stderr.startswith("libcure: ")
    assert words in done.stderr
    assert done.stderr.count("\n") == 1


def test_a_log_that_is_not_there():
    done = run("follow", COLD, "nowhere.csv", code=2)
    assert "nowhere.csv: file: cannot be read" in done.stderr


@pytest.mark.parametrize("columns", [60, 80, 120])
def test_the_page_fits(result, columns):
    text = shown(result, columns)
    assert max(map(len, text.splitlines())) <= min(columns, 110)
    assert "…" not in text
    for words in ("BLADDER OUT", "Before the", "Speed of the", "assumptions without a source"):
        assert words in " ".join(text.split())


def test_the_page_says_when_readings_are_not_relied_on():
    result = libcure.follow(COLD, Readings.from_arrays([20.0], [7.0]), **FEW)
    p = page(result)
    assert not p.good
    assert "NOT RELIED ON" in p.headline
    assert p.reasons == ["Only 1 of 1 readings are good; at least 10 are needed."]
    assert "Why the readings are not relied on" in shown(result)


def test_the_page_says_when_there_is_no_release():
    result = libcure.follow(CASES / "hot_packer_summer.json", Readings.from_arrays([], []), **FEW)
    headline = page(result).headline
    assert headline.startswith("NO RELEASE TIME: in ")
    assert "gels before it is held" in headline
    assert result.plot()


def test_the_page_says_when_the_release_has_passed():
    job = Truth("cold_ground_winter", (0.0, 0.0, 0.0, 0.0, 0.0))
    result = libcure.follow(job.loaded, readings(*job.log(500, 6)), **FEW)
    assert "has passed: the bladder may come out" in page(result).headline


def test_the_picture_says_what_the_page_says(result):
    refused = libcure.follow(COLD, Readings.from_arrays([20.0], [7.0]), **FEW)
    lost = libcure.follow(CASES / "hot_packer_summer.json", Readings.from_arrays([], []), **FEW)
    for r, words in ((result, "Keep the bladder in until"), (refused, "DO NOT LET THE BLADDER OUT"), (lost, "NO RELEASE TIME")):
        title = " ".join(r.plot().get_suptitle().split())
        assert words in title
        for part in decision(r):
            assert part in title
            assert part in page(r).headline
        if np.isfinite(r.release_min):
            assert f"({r.release_min:.0f} min) after mixing" in title


def test_the_notebook_view_escapes(result):
    text = html(result)
    assert result._repr_html_() == text
    assert "<script" not in html(libcure.follow(
        libcure.load_case(COLD).replace({"title": "<script>alert(1)</script>"}), Readings.from_arrays([], []), **FEW))  # fmt: skip
    for line in page(result).faults:
        assert line in text
    assert "FollowResult" in repr(result)


def test_the_same_picture_every_time(result, tmp_path):
    from libcure.render.plot import save

    for name in ("a.svg", "b.svg"):
        save(result.plot(), tmp_path / name, ".svg")
    assert (tmp_path / "a.svg").read_bytes() == (tmp_path / "b.svg").read_bytes()
    assert np.isfinite(result.band_after.p50).all()
