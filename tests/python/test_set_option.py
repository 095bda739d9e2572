"""What a crew changes on the command line is what the case then says, and every page shows it."""

import json
import pickle
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

import libcure
from libcure.cli import app
from libcure.words.changes import words

CASES = Path(__file__).parents[2] / "models" / "cases"
COLD = CASES / "cold_ground_winter.json"
LOG = CASES.parents[1] / "notebooks" / "data" / "follow" / "cold_ground.csv"


def run(*arguments):
    done = CliRunner().invoke(app, [str(a) for a in arguments])
    assert done.exception is None or isinstance(done.exception, SystemExit)
    return done


def test_it_is_what_a_changed_file_gives(tmp_path):
    document = json.loads(COLD.read_text())
    table = {"time_min": [0, 60], "value": [30, 20]}
    document["ground"]["temperature_C"] = 9.5
    document["resin"] = "epoxy-amine-medium"
    document["stages"][2]["fill_temperature_C"] = table
    by_hand = tmp_path / "by_hand.json"
    by_hand.write_text(json.dumps(document))
    changes = ["--set", "ground.temperature_C=9.5", "--set", "resin = epoxy-amine-medium",
               "--set", f"stages.held.fill_temperature_C={json.dumps(table)}"]  # fmt: skip
    given = json.loads(run("predict", COLD, *changes, "--json", "-").stdout)
    assert given.pop("changes") == {
        "ground.temperature_C": 9.5, "resin": "epoxy-amine-medium", "stages[2].fill_temperature_C": table
    }  # fmt: skip
    other = json.loads(run("predict", by_hand, "--json", "-").stdout)
    assert {**given, "made": None} == {**other, "made": None}


def test_a_saved_case_is_the_changed_case(tmp_path):
    target = tmp_path / "job.json"
    assert run("check", COLD, "--set", "liner.thickness_mm=4", "--save", target).exit_code == 0
    assert libcure.load_case(target).document == libcure.load_case(COLD).replace({"liner.thickness_mm": 4}).document
    assert libcure.load_case(target).changes == {}


def test_a_case_is_never_saved_over_itself(tmp_path):
    case = tmp_path / "case.json"
    case.write_bytes(COLD.read_bytes())
    done = run("check", case, "--set", "liner.thickness_mm=4", "--save", case)
    assert done.exit_code == 2
    assert "a file of its own" in done.stderr
    assert case.read_bytes() == COLD.read_bytes()


def test_a_case_that_names_files_stays_beside_them(tmp_path):
    (tmp_path / "here").mkdir()
    (tmp_path / "there").mkdir()
    resin = (CASES.parent / "resins" / "epoxy-amine-slow.json").read_text()
    for folder in ("here", "there"):
        (tmp_path / folder / "own.json").write_text(resin)
    case = tmp_path / "here" / "case.json"
    assert run("check", COLD, "--save", case).exit_code == 0
    case.write_text(json.dumps({**json.loads(case.read_text()), "resin": "own.json"}))
    assert run("check", case, "--save", tmp_path / "here" / "same.json").exit_code == 0
    elsewhere = run("check", case, "--save", tmp_path / "there" / "job.json")
    assert elsewhere.exit_code == 2
    assert "own.json" in elsewhere.stderr
    assert not (tmp_path / "there" / "job.json").exists()


@pytest.mark.parametrize("command", [("predict", COLD, "--uncertain", "none"), ("advise", COLD, "--uncertain", "none"),
                                     ("follow", COLD, LOG)], ids=lambda c: c[0])  # fmt: skip
def test_every_page_and_document_says_it(command, tmp_path):
    target = tmp_path / "out.json"
    done = run(*command, "--set", "stages[2].duration_min=600", "--json", target)
    assert "stages.held.duration_min = 600" in " ".join(done.stdout.split())
    document = json.loads(target.read_text())
    libcure.validate(document)
    assert document["changes"] == {"stages[2].duration_min": 600}
    plain = run(*command, "--json", target)
    assert "Changed" not in plain.stdout
    assert "changes" not in json.loads(target.read_text())


def test_numbers_of_numpy_are_shown_as_numbers():
    case = libcure.load_case(COLD).replace({"liner.thickness_mm": np.float64(4.5), "ground.temperature_C": np.int64(5)})
    assert words(case) == "liner.thickness_mm = 4.5; ground.temperature_C = 5"
    assert case.said_changes() == {"changes": {"liner.thickness_mm": 4.5, "ground.temperature_C": 5}}
    assert "4.5" in libcure.predict(case)._repr_html_()


def test_changes_add_up_and_survive_a_pickle():
    case = libcure.load_case(COLD).replace({"liner.thickness_mm": 4, "ground.temperature_C": 5})
    case = case.replace({"ground.temperature_C": 6})
    assert case.changes == {"liner.thickness_mm": 4, "ground.temperature_C": 6}
    assert pickle.loads(pickle.dumps(case)).changes == case.changes


@pytest.mark.parametrize(("changes", "words"), [
    (["ground"], "PATH=VALUE"),
    (["=4"], "PATH=VALUE"),
    (["ground.temperature_C="], "PATH=VALUE"),
    (["ground.temprature_C=4"], "did you mean"),
    (["ground.temperature_C=500"], "-60 to 300"),
    (["ground.temperature_C=NaN"], "a finite number"),
    (["ground.temperature_C=cold"], "a number"),
    (["stages.hold.duration_min=5"], "mixed_mass, wet_out, held, after_release"),
    (["stages[9].duration_min=5"], "no element [9]"),
    (["stages.held.duration_min=5", "stages[2].duration_min=6"], "each path once"),
    (["resin=nobody"], "epoxy-amine-fast"),
])  # fmt: skip
def test_what_cannot_be_is_one_clear_line(changes, words, tmp_path):
    target = tmp_path / "v.json"
    done = run("predict", COLD, *[x for c in changes for x in ("--set", c)], "--json", target)
    assert done.exit_code == 2
    assert words in done.stderr
    assert done.stderr.count("\n") == 1
    assert not target.exists()


def test_only_cases_can_be_changed_or_saved(tmp_path):
    seasonal = CASES.parent / "charts" / "seasonal.json"
    assert "with a case only" in run("check", seasonal, "--set", "a=1").stderr
    assert "with a case only" in run("check", seasonal, "--save", tmp_path / "x.json").stderr


def test_replace_takes_what_the_option_takes():
    case = libcure.load_case(COLD)
    texts = ["stages.held.duration_min=600", "ground.temperature_C=.8", "initial_temperature_C.resin=+16", "resin = epoxy-amine-medium",
             "initial_temperature_C.fibre=none"]  # fmt: skip
    values = {"stages.held.duration_min": 600, "ground.temperature_C": 0.8, "initial_temperature_C.resin": 16, "resin": "epoxy-amine-medium",
              "initial_temperature_C.fibre": None}  # fmt: skip
    said, given = case.replace(texts), case.replace(values)
    assert said.document == given.document
    assert said.changes == given.changes
    assert "stages[2].duration_min" in said.changes
    assert "fibre" not in said.document["initial_temperature_C"]
    assert "initial_temperature_C.fibre = none" in words(said)
    assert said.replace({"stages[2].duration_min": 300}).changes["stages[2].duration_min"] == 300
    libcure.validate({**libcure.predict(said, uncertain="none").verdict, **said.said_changes()})
    by_option = run("check", COLD, *[x for t in texts for x in ("--set", t)])
    assert by_option.exit_code == 0


def test_a_climate_takes_the_place_of_a_temperature():
    climate = {"annual_mean_C": 10, "amplitude_K": 9, "day_of_minimum": 35, "depth_m": 1.4, "day": 50}
    case = libcure.load_case(COLD).replace({"ground.temperature_C": None, "ground.climate": climate})
    assert "temperature_C" not in case.document["ground"]


def test_a_kind_of_stage_that_stands_twice_goes_by_its_number():
    document = libcure.load_case(COLD).document
    held = next(i for i, stage in enumerate(document["stages"]) if stage["kind"] == "held")
    document["stages"].insert(held, dict(document["stages"][held]))
    case = libcure.Case.from_dict(document, COLD.parent)
    with pytest.raises(libcure.CureError, match=rf"stages\[{held}\] or stages\[{held + 1}\]"):
        case.replace({"stages.held.duration_min": 50})
    longer = case.replace({f"stages[{held}].duration_min": 50})
    assert words(longer) == f"stages[{held}].duration_min = 50"


@pytest.mark.parametrize(("changes", "words"), [
    ({"stages.hold.duration_min": 5}, "mixed_mass, wet_out, held, after_release"),
    ({"stages.held.duration_min": 5, "stages[2].duration_min": 6}, "each path once"),
    ({"ground.depth_m": None}, "there is nothing to take out"),
    ({"stages[3]": None}, "there is nothing to take out"),
    ({"initial_temperature_C": None}, "initial_temperature_C: missing; allowed: the resin's temperature when mixed, or the air's"),
    (["ground"], "PATH=VALUE"),
    (["resin=epoxy-fast"], 'did you mean "epoxy-amine-fast"?'),
    (["ground.material=moist-snad"], 'did you mean "moist-sand"?'),
    (["pipe.material=clay"], 'did you mean "vitrified-clay"?'),
    (["pipe.material=PVC"], 'did you mean "pvc"?'),
    (["accuracy=fin"], 'did you mean "fine"?'),
    (["stages[2].kind=hold"], 'did you mean "held"?'),
    (["ground.temperature_C=6,5"], 'ground.temperature_C: "6,5"; allowed: a number, -60 to 300; write 6.5'),
    ({"ground.temperature_C": "6.5"}, "write 6.5 without quotes"),
    ({"ground.temperature_C": "6.5 C"}, "a number, -60 to 300"),
])  # fmt: skip
def test_what_replace_refuses(changes, words):
    with pytest.raises(libcure.CureError) as caught:
        libcure.load_case(COLD).replace(changes)
    assert words in str(caught.value)
    assert ("write" in str(caught.value)) == ("write" in words)


def test_a_decimal_comma_in_a_file_is_understood_in_the_message(tmp_path):
    path = tmp_path / "case.json"
    path.write_text(COLD.read_text().replace('"temperature_C": 4', '"temperature_C": 4,5'))
    done = run("check", path)
    assert done.exit_code == 2
    assert "a JSON document; write 4.5" in done.stderr
