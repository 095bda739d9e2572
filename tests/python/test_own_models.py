"""Models of one's own by id, from folders that LIBCURE_MODELS or own_models names."""

import json
import os
import pickle
import subprocess
import sys
from pathlib import Path

import pytest
from forked_command import run

import libcure
from libcure import fitting, job, models, studying
from libcure.documents import model_file, models_folder

CASE = models_folder() / "cases" / "cold_ground_winter.json"
DSC = Path(__file__).parents[2] / "notebooks" / "data" / "dsc"


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
    assert pickle.loads(pickle.dumps(case.replace({"ground.temperature_C": 9}))).resin.id == "mine"  # a case keeps them
    with pytest.raises(libcure.CureError, match="mine"):
        libcure.load_resin("mine")
    with pytest.raises(libcure.CureError, match="own_models.*folders that exist"), libcure.own_models(own / "nowhere"):
        pass


def test_each_function_that_reads_documents_takes_them(own, monkeypatch):
    monkeypatch.delenv("LIBCURE_MODELS")
    document = libcure.load_case(CASE).document | {"resin": "mine"}
    file = own / "job.json"
    file.write_text(json.dumps(document), encoding="utf-8")
    log = models_folder().parent / "none.csv"
    assert libcure.load_resin("mine", models=own).id == libcure.load_case(file, models=[own]).resin.id == "mine"
    assert libcure.predict(document, uncertain="none", models=own).verdict["resin"]["id"] == "mine"
    assert [row.error for row in libcure.predict_many([file, document], uncertain="none", models=own)] == [None, None]
    with libcure.own_models(own):  # as seen by the threads
        assert [row.error for row in libcure.predict_many([file], uncertain="none")] == [None]
    assert libcure.predict_many([file], uncertain="none")[0].error.count("resin: \"mine\"") == 1
    for call in (libcure.predict, lambda file, **more: libcure.follow(file, log, **more), lambda file, **more: libcure.advise(file, resins=["none"], **more)):
        with pytest.raises(libcure.CureError, match="mine"):
            call(file)
        with pytest.raises(libcure.CureError, match="models.*folders that exist"):
            call(file, models=own / "nowhere")
    with pytest.raises(libcure.CureError, match="none.csv"):
        libcure.follow(file, log, models=own)
    with pytest.raises(libcure.CureError, match="none"):
        libcure.advise(file, resins=["none"], models=own)
    chart = json.loads((models_folder() / "charts" / "seasonal.json").read_text(encoding="utf-8"))
    for call in (libcure.read_chart, libcure.chart):
        with pytest.raises(libcure.CureError, match="folders that exist"):
            call(chart, models=own / "nowhere")


def test_jobs_fits_and_studies_take_them(own, monkeypatch):
    monkeypatch.delenv("LIBCURE_MODELS")
    resin = job.read_answer(job.FACTS[[fact.key for fact in job.FACTS].index("resin")], "mine", "metric", "resin", models=own)
    assert job.job_of({"resin": resin}, models=own).case.resin.id == "mine"
    with pytest.raises(libcure.CureError, match="mine"):
        job.job_of({"resin": resin})
    fit = json.loads((DSC / "fit.json").read_text(encoding="utf-8"))
    fit["model"]["properties_from"] = "mine"
    study = fitting.study.from_document(fit, DSC, models=[own])
    assert study.models == (own,)
    with pytest.raises(libcure.CureError, match="mine"):
        fitting.study.from_document(fit, DSC)
    for call in (lambda nowhere: fitting.load(DSC / "fit.json", models=nowhere), lambda nowhere: studying.run({}, models=nowhere),
                 lambda nowhere: studying.load(own / "none.json", models=nowhere)):  # fmt: skip
        with pytest.raises(libcure.CureError, match="folders that exist"):
            call(own / "nowhere")


def test_commands_take_a_folder(own, monkeypatch):
    monkeypatch.delenv("LIBCURE_MODELS")
    for arguments in (["predict", str(CASE), "--set", "resin=mine", "--uncertain", "none"], ["models", "mine"], ["check", str(CASE), "--set", "resin=mine"]):
        found = run(*arguments, "--models", own)
        assert "mine" in found.stdout, arguments
        assert "mine" in run(*arguments, code=2).stderr
    assert "folders that exist" in run("models", "--models", own / "nowhere", code=2).stderr


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
