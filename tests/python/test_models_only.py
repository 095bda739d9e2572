"""Documents of others name models by id, or files in one folder, and tell nothing of any other file."""

import json
import os
import pickle
import shutil
from pathlib import Path

import pytest
from forked_command import run

import libcure

MODELS = libcure.models_folder()
COLD = MODELS / "cases" / "cold_ground_winter.json"
CHART = json.loads((MODELS / "charts" / "seasonal.json").read_text())
LOG = Path(__file__).parents[2] / "notebooks" / "data" / "follow" / "cold_ground.csv"
SECRET = "swordfish"


@pytest.fixture
def folder(tmp_path):
    """A folder for models with one resin in it, and beside it what nobody is to read."""
    inside = tmp_path / "models"
    inside.mkdir()
    name = json.loads(COLD.read_text())["resin"]
    shutil.copy(MODELS / "resins" / f"{name}.json", inside / "own.json")
    (tmp_path / "secret.json").write_text(SECRET)
    shutil.copy(inside / "own.json", tmp_path / "outside.json")
    (inside / "link.json").symlink_to(tmp_path / "outside.json")
    (inside / "up").symlink_to(tmp_path)
    return inside


def outside(folder):
    """Paths that lead out, with what lies there: no JSON, a resin, nothing."""
    up = folder.parent
    return [
        "/etc/passwd", str(up / "secret.json"), "models/../secret.json", "models/../outside.json", "models/link.json",
        "models/up/outside.json", str(up / "missing.json"), "../" * 30 + "etc/passwd", "models/up/../missing.json", "/dev/zero",
    ]  # fmt: skip


def case_with(resin, **parts):
    return json.loads(COLD.read_text()) | {"resin": resin} | parts


def test_what_lies_outside_is_refused_alike_whatever_it_is(folder):
    for name in outside(folder):
        with pytest.raises(libcure.CureError) as caught:
            libcure.Case.from_dict(case_with(name), folder.parent, models_only=folder)
        error = caught.value
        assert (error.field, error.value) == ("resin", f'"{name}"')
        assert error.allowed == "an id, or a file in the one folder that models may come from"


def test_what_lies_inside_is_read(folder):
    for name in ("models/own.json", str(folder / "own.json"), "models/../models/own.json", "models/up/models/own.json"):
        case = libcure.Case.from_dict(case_with(name), folder.parent, models_only=folder)
        assert case.resin.id == libcure.load_case(COLD, models_only=folder).resin.id


def test_without_it_a_path_leads_anywhere(folder):
    assert libcure.Case.from_dict(case_with("outside.json"), folder.parent).resin.id


def test_materials_and_parts_of_blends_are_confined_too(folder):
    pipe = json.loads(COLD.read_text())["pipe"] | {"material": "outside.json"}
    blend = {"components": [{"resin": "models/own.json", "share": 0.5}, {"resin": "outside.json", "share": 0.5}]}
    parts = [{**part, "resin": f"../{part['resin']}"} for part in blend["components"]]
    file = {"format": "libcure/resin-blend/1", "id": "b", "title": "b", "components": parts}
    (folder / "blend.json").write_text(json.dumps(file))
    for document, field in (
        (case_with("models/own.json", pipe=pipe), "pipe.material"), (case_with(blend), "resin"), (case_with("models/blend.json"), "resin"),
    ):  # fmt: skip
        libcure.Case.from_dict(case_with("models/own.json"), folder.parent, models_only=folder)
        with pytest.raises(libcure.CureError, match="one folder that models may come from") as caught:
            libcure.Case.from_dict(document, folder.parent, models_only=folder)
        assert field in caught.value.field
    with pytest.raises(libcure.CureError, match="one folder"), libcure.models_only(folder):
        libcure.load_resin(folder / "blend.json")


def test_what_is_made_of_a_confined_case_stays_confined(folder):
    case = libcure.Case.from_dict(case_with("models/own.json"), folder.parent, models_only=folder)
    for made in (case, case.replace({"title": "x"}), pickle.loads(pickle.dumps(case))):
        with pytest.raises(libcure.CureError, match="one folder"):
            made.replace({"resin": "outside.json"})
        with pytest.raises(libcure.CureError, match="one folder"):
            libcure.advise(made, resins=[str(folder.parent / "outside.json")])


def test_a_scope_confines_all_that_is_read_in_it(folder):
    with libcure.models_only(folder):
        for read in (
            lambda: libcure.Case.from_dict(case_with("outside.json"), folder.parent),
            lambda: libcure.load_resin(folder.parent / "outside.json"),
            lambda: libcure.read_chart(CHART | {"case": "outside.json"}, beside=folder.parent),
            lambda: libcure.read_chart(CHART | {"case": case_with("outside.json")}, beside=folder.parent),
        ):
            with pytest.raises(libcure.CureError, match="one folder"):
                read()
    assert libcure.load_resin(folder.parent / "outside.json").id


@pytest.mark.parametrize("there", ["nothing", "a file"])
def test_it_must_be_a_folder(there, tmp_path):
    path = tmp_path / "x"
    if there == "a file":
        path.write_text("x")
    with pytest.raises(libcure.CureError, match="models_only: .*a folder that exists"):
        libcure.load_case(COLD, models_only=path)


COMMANDS = {
    "predict": ["predict", "CASE"], "check": ["check", "CASE"], "advise": ["advise", "CASE"], "follow": ["follow", "CASE", LOG],
    "chart": ["chart", "CHART", "--out", "OUT"], "check a chart": ["check", "CHART"], "job": ["job", "--file", "JOB", "--no-ask"],
}  # fmt: skip


@pytest.mark.parametrize("name", COMMANDS)
@pytest.mark.parametrize("resin", ["/etc/passwd", "secret.json"])
def test_every_command_is_confined(name, resin, folder):
    up = folder.parent
    (up / "case.json").write_text(json.dumps(case_with(resin)))
    (up / "chart.json").write_text(json.dumps(CHART | {"case": case_with(resin)}))
    (up / "job.json").write_text(json.dumps({"format": "libcure/job/1", "like": "winter-road", "resin": str(up / "secret.json")}))
    files = {"CASE": up / "case.json", "CHART": up / "chart.json", "JOB": up / "job.json", "OUT": up / "out"}
    done = run(*(files.get(a, a) for a in COMMANDS[name]), "--models-only", folder, code=2)
    assert done.stdout == "" and done.stderr.count("\n") == 1
    assert "the one folder that models may come from" in done.stderr
    assert SECRET not in done.stderr and "root:" not in done.stderr
    assert not os.path.exists(up / "out" / "chart.csv")
