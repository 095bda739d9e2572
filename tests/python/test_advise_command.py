"""The command libcure advise, and what advice refuses."""

import json
import math
from pathlib import Path
from threading import Event

import pytest
from forked_command import run

import libcure
from libcure.advising import SearchLimits

CASES = Path(__file__).parents[2] / "models" / "cases"
HOT = libcure.load_case(CASES / "hot_packer_summer.json")


@pytest.mark.parametrize(
    ("options", "field"),
    [
        ({"working": 10}, "working"),
        ({"working": "soon"}, "working"),
        ({"working": math.nan}, "working"),
        ({"working": True}, "working"),
        ({"working": 30, "reserve_min": 5}, "reserve_min"),
        ({"reserve_min": -1}, "reserve_min"),
        ({"reserve_min": math.inf}, "reserve_min"),
        ({"release_by": "0:20"}, "release_by"),
        ({"release_by": "5:60"}, "release_by"),
        ({"release_by": 1e9}, "release_by"),
        ({"resins": ["epoxy-amine-quick"]}, "resin"),
        ({"resins": [""]}, "resin"),
        ({"resins": ["epoxy-amine-fast"] * 13}, "resins"),
        ({"limits": SearchLimits(coldest_resin_C=50)}, "coldest_resin_C"),
        ({"limits": SearchLimits(hottest_fill_C=math.nan)}, "hottest_fill_C"),
        ({"limits": SearchLimits(longest_hold_min=0)}, "longest_hold_min"),
        ({"samples": 100}, "samples"),
        ({"samples": 8}, "samples"),
        ({"uncertain": "no-such-chart.json"}, "file"),
    ],
)
def test_bad_options_are_named(options, field):
    with pytest.raises(libcure.CureError) as caught:
        libcure.advise(HOT, **options)
    assert caught.value.field == field and caught.value.allowed and "\n" not in str(caught.value)


def test_a_case_without_a_held_stage_is_refused():
    with pytest.raises(libcure.CureError, match="held stage"):
        libcure.advise(HOT.replace({"stages": HOT.document["stages"][:2]}))


def test_a_search_can_be_stopped():
    stop = Event()
    stop.set()
    with pytest.raises(libcure.CureError, match="stopped"):
        libcure.advise(HOT, stop=stop)


def test_threads_do_not_matter():
    options = {"samples": 16, "resins": ["epoxy-amine-slow"]}
    assert libcure.advise(HOT, threads=1, **options).to_dict() == libcure.advise(HOT, threads=3, **options).to_dict()
    with pytest.raises(libcure.CureError, match="threads"):
        libcure.advise(HOT, threads=0)


def test_command(tmp_path):
    path = tmp_path / "advice.json"
    done = run("advise", CASES / "hot_packer_summer.json", "--uncertain", "none", "--reserve", "5", "--resins", "epoxy-amine-slow",
               "--json", path, PYTHONIOENCODING="ascii", PYTHONUTF8="0")  # fmt: skip
    words = " ".join(done.stdout.split())
    document = json.loads(path.read_text(encoding="utf-8"))
    assert document["needs"]["reserve_min"] == 5 and any(p["does_it"] for p in document["proposals"])
    assert "DO NOT DO THIS JOB AS PLANNED" in words
    assert "1. Wet-out in the shade, packer" in words
    assert "?" not in words.replace("at 45 ?C", "")


@pytest.mark.parametrize("option", [("--working", "1"), ("--release-by", "soon"), ("--samples", "3"), ("--json", "x.txt")])
def test_command_refuses_in_one_line(tmp_path, option):
    done = run("advise", CASES / "hot_packer_summer.json", "--json", tmp_path / "x.json", *option, code=2)
    assert done.stdout == "" and len(done.stderr.splitlines()) == 1 and "Traceback" not in done.stderr
    assert list(tmp_path.iterdir()) == []
