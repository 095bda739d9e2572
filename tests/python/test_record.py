"""``libcure record``: what is in it, that it can be checked again, and what is refused."""

import json
import shutil
from pathlib import Path

import pytest
from follow_synthetic import CASES
from forked_command import run

import libcure
from libcure.errors import CureError
from libcure.following import read_readings
from libcure.recording import load_site, make, read_site, verify
from libcure.sampling.uncertainty import StatedRanges

DATA = Path(__file__).parents[2] / "notebooks/data"
SITE, LOG, CASE = DATA / "record/site.json", DATA / "follow/cold_ground.csv", CASES / "cold_ground_winter.json"


@pytest.fixture(scope="module")
def record():
    return make(libcure.load_case(CASE), load_site(SITE), readings=read_readings(LOG))


def command(*arguments):
    return run("record", *arguments, code=None)


def site(**changes):
    return read_site({**json.loads(SITE.read_text()), **changes}, "site.json", SITE.parent)


def test_the_record_holds_the_answers_of_predict_and_follow(record):
    planned = libcure.predict(CASE)
    followed = libcure.follow(CASE, LOG)
    assert record.document["verdict"]["answer"] == planned.verdict["answer"]
    assert record.document["follow"]["release_min"] == followed.release_min == record.release_min
    assert record.document["inputs"]["case"] == json.loads(CASE.read_text())
    times = {row["event"]: row for row in record.document["times"]}
    assert times["released"] == {"event": "released", "planned_min": planned.answer.release_min, "recommended_min": followed.release_min, "actual_min": 248.0}
    assert times["in_place"]["actual_min"] == 13.0
    json.dumps(record.document, allow_nan=False)


def test_early_and_late_are_told(record):
    assert record.early_min() == record.release_min - 248.0
    events = {"mixed": "9:12", "released": "11:00"}
    early = make(libcure.load_case(CASE), site(events=events))
    assert early.early_min() == early.prediction.answer.release_min - 108.0
    nothing = make(libcure.load_case(CASE), site(events={}))
    assert nothing.early_min() is None


def test_it_verifies_and_every_tampering_shows(record):
    document = json.loads(json.dumps(record.document))
    assert all(f.good for f in verify(document, "record.json", CASE.parent))
    planned = make(libcure.load_case(CASE), load_site(SITE))
    for change in (
        lambda d: d["verdict"]["answer"].update(release_min=120.0),
        lambda d: d["inputs"]["case"]["initial_temperature_C"].update(resin=25),
        lambda d: d["models"].update({"resins/epoxy-amine-fast": "0" * 64}),
        lambda d: d["inputs"]["site"].update(resin_batch="another"),
        lambda d: d["times"][3].update(actual_min=400.0),
    ):
        changed = json.loads(json.dumps(planned.document))
        change(changed)
        found = verify(changed, "record.json", CASE.parent)
        assert not all(f.good for f in found)
    # Whoever also writes a new hash is found by the answers.
    from libcure.recording.record import _hash_of

    changed = json.loads(json.dumps(record.document))
    changed["verdict"]["answer"]["release_min"] = 120.0
    changed["sha256"] = _hash_of(changed)
    assert [f.what for f in verify(changed, "record.json", CASE.parent) if not f.good] == ["release as planned"]


@pytest.mark.parametrize(("change", "said"), [
    (lambda d: d.pop("verdict"), "verdict: missing"), (lambda d: d["verdict"].pop("answer"), "verdict.answer: missing"),
    (lambda d: d["inputs"].update(ranges=[["name", "title"]]), "inputs.ranges[0]"), (lambda d: d["models"].update(x="0"), "models.x"),
    (lambda d: d["inputs"]["readings"]["time_s"].insert(0, "now"), "inputs.readings.time_s[0]"), (lambda d: d.update(format="libcure/case/1"), "format"),
])  # fmt: skip
def test_what_is_no_record_is_refused_by_place(record, change, said):
    changed = json.loads(json.dumps(record.document))
    change(changed)
    with pytest.raises(CureError) as refused:
        verify(changed, "record.json", CASE.parent)
    assert said in str(refused.value) and "\n" not in str(refused.value)


def test_ranges_of_a_record_are_read_as_they_were_written():
    case = libcure.load_case(CASE)
    document = json.loads(json.dumps(make(case, site(), ranges=StatedRanges.usual().inputs).document))
    assert all(f.good for f in verify(document, "record.json", CASE.parent))


@pytest.mark.parametrize(("changes", "said"), [
    ({"date": "3.2.2026"}, "date"), ({"events": {"mixed": "9:12", "inflated": "9:01"}}, "events.inflated"), ({"events": {"released": "9:12"}}, "events.mixed"),
    ({"events": {"mixed": "nine"}}, "events.mixed"), ({"colour": "red"}, "colour"), ({"remarks": "x" * 3000}, "remarks"),
    ({"pressure": "none.csv"}, "none.csv"),
])  # fmt: skip
def test_what_cannot_be_written_down_is_refused(changes, said):
    with pytest.raises(CureError, match=said):
        site(**changes)


def test_a_job_over_midnight():
    found = site(events={"mixed": "22:30", "in_place": "22:45", "released": "3:40"})
    assert found.events == {"mixed": 0.0, "in_place": 15.0, "released": 310.0}


def test_the_command_writes_both_files_or_none(tmp_path):
    out = tmp_path / "record"
    done = command(SITE, "--case", CASE, "--log", LOG, "--out", out)
    assert done.returncode == 0, done.stderr
    assert sorted(p.name for p in out.iterdir()) == ["record.json", "record.pdf"]
    assert (out / "record.pdf").read_bytes().startswith(b"%PDF")
    text = (out / "record.json").read_text().replace('"resin_batch": "F-2601"', '"resin_batch": "F-2602"')
    (out / "record.json").write_text(text)
    checked = command(out / "record.json", "--verify")
    assert checked.returncode == 1 and "DIFFERENT" in checked.stdout
    shutil.rmtree(out)
    # Without readings: again the same, to the byte.
    pdf = []
    for _ in range(2):
        assert command(SITE, "--case", CASE, "--out", out).returncode == 0
        pdf.append((out / "record.pdf").read_bytes())
    assert pdf[0] == pdf[1]
    checked = command(out / "record.json", "--verify")
    assert checked.returncode == 0 and "DIFFERENT" not in checked.stdout
    shutil.rmtree(out)
    failed = command(SITE, "--case", CASE, "--log", tmp_path / "no.csv", "--out", out)
    assert failed.returncode == 2 and not out.exists()
    assert command(SITE, "--out", out).returncode == 2


def test_a_job_that_must_not_be_done_has_no_time_to_use():
    hot = libcure.load_case(CASES / "hot_packer_summer.json")
    record = make(hot, site())
    assert record.prediction.answer.stop and record.release_min is None and record.early_min() is None
    from libcure.render import record_sheet as sheet

    words = " ".join(text.get_text() for page in sheet.draw(record) for text in page.texts)
    assert "there was no time to use" in words and "Keep the bladder in" not in words
