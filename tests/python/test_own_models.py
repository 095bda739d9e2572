"""Models of one's own by id, from folders that LIBCURE_MODELS or own_models names."""

import json
import os
import subprocess
import sys

import pytest

import libcure
from libcure import models
from libcure.documents import model_file, models_folder

CASE = models_folder() / "cases" / "cold_ground_winter.json"


@pytest.fixture
def own(tmp_path, monkeypatch):
    """A folder with a resin and a case of one's own."""
    for kind in ("resins", "cases"):
        (tmp_path / kind).mkdir()
    resin = json.loads((models_folder() / "resins" / "epoxy-amine-medium.json").read_text(encoding="utf-8")) | {"id": "mine", "title": "Invented: mine"}
    (tmp_path / "resins" / "mine.json").write_text(json.dumps(resin), encoding="utf-8")
    monkeypatch.setenv("LIBCURE_MODELS", f"{tmp_path}{os.pathsep}")
    return tmp_path


def test_an_id_is_found_there_by_all(own):
    assert "mine" in models.ids("resins") and models.load_resin("mine").title == "Invented: mine"
    case = libcure.load_case(CASE).replace({"resin": "mine"})
    same = libcure.load_case(CASE).replace({"resin": "epoxy-amine-medium"})
    found, wanted = (libcure.predict(c, uncertain="none").verdict for c in (case, same))
    assert found["resin"]["id"] == "mine" and found["criterion_met_min"] == wanted["criterion_met_min"]
    assert models.limit_C(case.document, case.beside) == models.limit_C(same.document, same.beside)


def test_folders_are_named_by_argument_too(own, monkeypatch):
    monkeypatch.delenv("LIBCURE_MODELS")
    with libcure.own_models(own):
        assert "mine" in models.ids("resins") and model_file("resins", "mine").parent.parent == own
        case = libcure.load_case(CASE).replace({"resin": "mine"})
    assert libcure.predict(case, uncertain="none").verdict["resin"]["id"] == "mine"  # read while it lasted
    with pytest.raises(libcure.CureError, match="mine"):
        case.replace({"ground.temperature_C": 9})
    with pytest.raises(libcure.CureError, match="own_models.*folders that exist"), libcure.own_models(own / "nowhere"):
        pass


def test_the_commands_take_it(own):
    done = subprocess.run([sys.executable, "-m", "libcure", "predict", CASE, "--set", "resin=mine", "--uncertain", "none"], capture_output=True, text=True)
    assert done.returncode == 0 and "Invented: mine" in done.stdout, done.stderr
    listed = subprocess.run([sys.executable, "-m", "libcure", "models"], capture_output=True, text=True)
    assert "mine  " in listed.stdout


def test_one_id_in_two_folders_is_refused_and_so_is_a_folder_that_is_not_there(own, monkeypatch):
    (own / "resins" / "epoxy-amine-fast.json").write_text("{}", encoding="utf-8")
    with pytest.raises(libcure.CureError, match="one folder has"):
        libcure.load_case(CASE).replace({"resin": "epoxy-amine-fast"})
    with pytest.raises(libcure.CureError, match="one folder has"):
        model_file("resins", "epoxy-amine-fast")
    monkeypatch.setenv("LIBCURE_MODELS", str(own / "nowhere"))
    with pytest.raises(libcure.CureError, match="LIBCURE_MODELS.*folders that exist"):
        libcure.load_case(CASE)
