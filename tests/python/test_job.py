"""``libcure job``: what a crew says, the case and the ranges that come of it, and answers by the clock."""

import io
import json

import pytest
from forked_command import run
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.console import Console

import libcure
from libcure.errors import CureError
from libcure.job import FACTS, PLACES, Said, job_of
from libcure.job.facts import PIPES, fact_named, read_answer, understood
from libcure.job.said import clock, clock_words, length_mm, minutes, temperature_C, unknown
from libcure.render.job_page import JobPage, headline, moments

KNOWN = {
    "like": "winter-road", "pipe": "pvc", "bore": "100 mm", "depth": "1.2 m", "wall": "4 C", "water": "damp", "hot_water": "none",
    "thickness": "3 mm", "length": "600 mm", "resin": "fast", "resin_temperature": "15 C", "packer": "8 C", "air": "3 C",
    "fill": "air 6 C", "in_place": "14", "mixed_at": "9:12",
}  # fmt: skip


def said_of(answers, units="metric"):
    return {key: understood(fact_named(key), text, units, key) for key, text in answers.items()}


def answered(answers):
    job = job_of(said_of(answers))
    return job, libcure.predict(job.case, uncertain=job.ranges)


def command(*arguments, lines=()):
    return run("job", *arguments, stdin="\n".join([*lines, ""]) if lines else "", code=None)


@given(st.integers(-300, 900), st.sampled_from(["C", "F"]), st.sampled_from(["{} {}", "{}{}", "{} °{}", "{} deg {}"]), st.booleans())
def test_a_temperature_is_read_however_it_is_written(tenths, unit, form, comma):
    text = form.format(tenths / 10, unit)
    found = temperature_C(text.replace(".", ",") if comma else text, "C" if unit == "F" else "F")
    T = tenths / 10 if unit == "C" else (tenths / 10 - 32) * 5 / 9
    assert found == (pytest.approx(T), True)


@given(st.integers(1, 99999), st.sampled_from([("mm", 1.0), ("cm", 10.0), ("m", 1000.0), ("in", 25.4), ('"', 25.4), ("ft", 304.8)]))
def test_a_length_is_read_with_its_unit(hundredths, unit):
    word, factor = unit
    assert length_mm(f"{hundredths / 100} {word}", "mm") == (pytest.approx(hundredths / 100 * factor), True)


@given(st.integers(0, 1439))
def test_a_time_of_day_survives(moment):
    words = clock_words(float(moment), up=False)
    assert clock(words) == moment
    assert clock_words(moment + 1440.0, up=False) == words + " next day"
    assert clock_words(moment + 2880.0, up=False) == words + ", 2 days later"


def test_words_of_time_and_of_not_knowing():
    assert [minutes(t) for t in ("14", "14 min", "1:20", "1 h 20", "2 h", ".5")] == [14, 14, 80, 80, 120, 0.5]
    assert [minutes(t) for t in ("soon", "1:75", "")] == [None] * 3
    assert [clock(t) for t in ("9:12", "09.12", "2:05 pm", "12:00 am")] == [552, 552, 845, 0]
    assert [clock(t) for t in ("24:00", "9", "13:00 pm", "9:60")] == [None] * 4
    assert all(unknown(t) for t in ("", " ? ", "don't know", "Don’t know.", "no idea"))
    assert not any(unknown(t) for t in ("0", "100", "9:12", "fast"))


@pytest.mark.parametrize(("key", "text", "doubt"), [
    ("wall", "50", '"50 °C" or "50 °F"'), ("air", "61", '"61 °C" or "61 °F"'), ("bore", "6", '"6 mm" or "6 in"'),
    ("packer", "80", '"80 °C" or "80 °F"'), ("depth", "8", '"8 m" or "8 ft"'),
])  # fmt: skip
def test_an_unusual_number_is_asked_about_unless_its_unit_was_said(key, text, doubt):
    fact = fact_named(key)
    assert read_answer(fact, text, "metric", key).doubt == doubt
    with pytest.raises(CureError, match="unusual"):
        understood(fact, text, "metric", key)
    second = doubt.split('"')[3]
    assert not read_answer(fact, second, "metric", key).doubt


def test_american_units_without_words():
    said = said_of({"wall": "40", "bore": "6", "depth": "4", "thickness": "0.12"}, "us")
    assert said["wall"].value == pytest.approx(40 / 9, abs=0.01)
    assert said["bore"].value == pytest.approx(152.4)
    assert said["depth"].value == pytest.approx(1219.2)


@pytest.mark.parametrize(("key", "text", "allowed"), [
    ("wall", "mild", "a number with its unit"), ("wall", "-50 C", "-10 to 60"), ("water", "wet", "dry, damp"), ("resin", "glue", "epoxy-amine-fast"),
    ("resin", "epoxy-amine", "epoxy-amine-medium"), ("mixed_at", "noon", "9:12"), ("in_place", "later", "1:20"), ("like", "moon", "winter-road"),
    ("hot_water", "hot", "45 C 10 min"), ("packer", "in bed", "shade"), ("fill", "steam", "air, water"),
])  # fmt: skip
def test_what_cannot_be_is_refused_with_what_can(key, text, allowed):
    with pytest.raises(CureError, match=allowed) as caught:
        understood(fact_named(key), text, "metric", key)
    assert text in str(caught.value)


def test_all_known_is_the_prediction_of_its_case():
    job, prediction = answered(KNOWN)
    assert job.taken == []
    assert prediction.answer.status == "ok"
    d = job.case.document
    assert d["pipe"]["inner_diameter_mm"] == 100.0
    assert d["ground"]["temperature_C"] == d["initial_temperature_C"]["pipe"] == 4.0
    assert d["initial_temperature_C"] == {"air": 3.0, "resin": 15.0, "fibre": 3.0, "packer": 8.0, "pipe": 4.0}
    assert sum(s["duration_min"] for s in d["stages"][:2]) == 14.0
    release = 9 * 60 + 12 + prediction.answer.release_min
    assert f"{release // 60:02.0f}:{release % 60:02.0f}" in headline(job, prediction)
    by_name = {name: moment for name, moment, _ in moments(job, prediction)}
    assert by_name["In place, as planned"] == "09:26"
    assert by_name["BLADDER OUT"] in headline(job, prediction)


@pytest.mark.parametrize("key", ["wall", "resin_temperature", "thickness", "water", "pipe", "in_place"])
def test_not_knowing_says_so_and_never_narrows_the_band(key):
    """With the stand-in at the known value, so that only the range differs."""
    stand_in = {"wall": None, "resin_temperature": "3 C", "thickness": "4 mm", "water": "damp", "pipe": "clay", "in_place": "20"}
    place = PLACES["winter-road"]
    known = KNOWN | {"wall": f"{place.ground_C(1200.0):.1f} C"} | ({key: stand_in[key]} if stand_in[key] else {})
    exact, prediction = answered(known)
    job, wider = answered(known | {key: "?"})
    assert len(job.taken) == 1
    band, wide = prediction.ranges, wider.ranges

    def width(b):
        return b.p95 - b.p5

    widths = [(width(wide.criterion_met_min), width(band.criterion_met_min)), (width(wide.working_margin_min), width(band.working_margin_min))]
    assert all(w > 0.97 * n for w, n in widths)
    # Some hardly move a time; their own range is wider all the same.
    spread, more = ({i.name: i.spread for i in j.ranges} for j in (exact, job))
    assert any(more[name] > 1.5 * spread.get(name, 0.0) for name in more)
    if key in ("wall", "in_place"):
        assert any(w > 1.1 * n for w, n in widths)


def test_nothing_but_the_resin_is_an_answer_and_no_resin_is_none():
    job, prediction = answered({"resin": "medium"})
    assert len(job.taken) >= 12
    assert prediction.ranges is not None
    with pytest.raises(CureError, match="resin: not known"):
        job_of({"wall": Said(4.0)})


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("pipe", ["pvc", "brick", "steel"])
def test_every_place_and_pipe_makes_a_case(place, pipe):
    job = job_of(said_of({"like": place, "pipe": pipe, "resin": "medium"}))
    assert job.case.document["pipe"]["material"] == PIPES[pipe][0]


def test_groundwater_in_words_wets_the_pipe_and_loads_the_liner():
    dry, running = (job_of(said_of(KNOWN | {"water": w})).case.document for w in ("dry", "running"))
    assert "groundwater" not in dry["ground"] and "release" not in dry
    assert running["ground"]["groundwater"]["temperature_C"] == 4.0
    assert running["release"]["bears"]["water_head_m"] == 1.2


def test_hot_water_lately_shortens_the_working_time_and_brings_no_release_forward():
    _, plain = answered(KNOWN)
    job, hot = answered(KNOWN | {"hot_water": "45 C 5 min"})
    assert hot.answer.working_until_min < plain.answer.working_until_min
    assert hot.ranges.criterion_met_min.p95 > 0.9 * plain.ranges.criterion_met_min.p95
    assert "hot water" in job.taken[0]


@settings(max_examples=12, deadline=None)
@given(st.sampled_from(list(PLACES)), st.sampled_from(["fast", "medium", "slow"]), st.sampled_from(["shade", "sun", "van", "heated"]), st.integers(0, 1439))
def test_the_page_and_the_moments_say_one_thing(place, resin, packer, mixed):
    job = job_of(said_of({"like": place, "resin": resin, "packer": packer, "mixed_at": clock_words(mixed, up=False)}))
    prediction = libcure.predict(job.case, uncertain=job.ranges, samples=64)
    console = Console(width=100, file=io.StringIO())
    console.print(JobPage(job, prediction))
    page = console.file.getvalue()
    for name, moment, _ in moments(job, prediction):
        assert name in page and moment in page
    if prediction.answer.stop:
        assert "NOT TO BE PLANNED" in page and "Keep the bladder in" not in page


TWELVE = {
    "spring clay, medium": ["spring-garden", "clay", "150", "1", "9", "damp", "none", "4", "600", "medium", "14", "12", "13", "air 13", "15", "8:30"],
    "winter PVC, fast": ["winter-road", "pvc", "100", "1.2", "4", "damp", "no", "3", "600", "fast", "15", "8", "3", "air 6", "14", "9:12"],
    "house PVC, medium": ["house", "pvc", "100", "", "16", "dry", "", "3", "600", "medium", "18", "shade", "18", "", "15", "10:05"],
    "summer clay, slow": ["summer-road", "clay", "150", "1.2", "17", "damp", "", "4", "800", "slow", "24", "shade", "27", "", "15", "13:40"],
    "nothing measured": ["winter-road", "?", "?", "?", "?", "?", "?", "?", "?", "fast", "?", "?", "?", "?", "?", "?"],
    "US units": ["spring-garden", "clay", "6 in", "4 ft", "48 F", "damp", "", "0.15 in", "24 in", "medium", "57 F", "shade", "55 F", "", "15", "8:30"],
    "an inch asked about": ["house", "pvc", "6", "6 in", "", "16", "dry", "", "4", "600", "medium", "18", "18", "18", "", "15", "11:00"],
    "warm water": ["winter-road", "clay", "150", "1.5", "5", "damp", "", "4", "600", "medium", "15", "van", "4", "water 35", "16", "9:00"],
    "running water": ["winter-road", "concrete", "200", "1.5", "8", "running", "", "4", "600", "medium", "15", "shade", "6", "", "16", "9:00"],
    "packer in the sun": ["summer-road", "clay", "150", "1.2", "17", "damp", "", "4", "800", "medium", "27", "sun", "31", "", "15", "13:40"],
    "after a hot shower": ["house", "pvc", "100", "", "", "dry", "40 C 10 min", "3", "600", "medium", "18", "shade", "18", "", "15", "19:30"],
    "a slip of the finger": ["hous", "pvc", "100", "", "1x6", "16", "dry", "", "3", "600", "medium", "18", "shade", "18", "", "15", "10:05"],
}  # fmt: skip


@pytest.mark.parametrize("name", TWELVE)
def test_twelve_jobs_by_question_without_an_editor(name):
    done = command("--ask", lines=TWELVE[name])
    assert done.returncode == 0, done.stderr
    assert "BLADDER OUT" in done.stdout and "At any job:" in done.stdout
    assert ("Not known" in done.stdout) == any(a in ("", "?") or a in ("shade", "sun", "van") for a in TWELVE[name])


def test_questions_that_end_too_soon_are_an_error():
    done = command("--ask", lines=["house", "pvc"])
    assert done.returncode == 2
    assert "ended" in done.stderr.splitlines()[-1]


def test_the_case_that_is_written_gives_the_same_answer(tmp_path):
    case, answer = tmp_path / "job.json", tmp_path / "answer.json"
    options = [x for key, text in KNOWN.items() for x in ("--" + key.replace("_", "-"), text)]
    done = command(*options, "--save", str(case), "--json", str(answer))
    assert done.returncode == 0, done.stderr
    said = json.loads(answer.read_text())
    again = libcure.predict(case, uncertain=tmp_path / "job.ranges.json")
    assert again.answer.release_min == said["answer"]["release_min"]
    assert str(case) in done.stdout.replace("\n", "")
    assert [row["name"] for row in said["job"]["moments"]][-1] == "BLADDER OUT"


def test_answers_from_a_file(tmp_path):
    file = tmp_path / "answers.json"
    file.write_text(json.dumps({"format": "libcure/job/1", "units": "us", "resin": "medium", "wall": 48, "bore": "150 mm"}))
    done = command("--file", str(file), "--wall", "9 C")
    assert done.returncode == 0, done.stderr
    for broken, said in (({"wal": 4}, "wall"), ({"wall": True}, "a text or a number"), ({"units": "furlongs"}, "metric, us")):
        file.write_text(json.dumps({"format": "libcure/job/1", "resin": "medium", **broken}))
        failed = command("--file", str(file))
        assert failed.returncode == 2 and said in failed.stderr and str(file) in failed.stderr


def test_nothing_is_half_written(tmp_path):
    done = command("--resin", "medium", "--save", str(tmp_path / "a.json"), "--json", str(tmp_path / "a.json"))
    assert done.returncode == 2 and list(tmp_path.iterdir()) == []
    done = command("--resin", "medium", "--wall", "90 C", "--save", str(tmp_path / "a.json"))
    assert done.returncode == 2 and list(tmp_path.iterdir()) == []


def test_each_question_is_one_option():
    help_text = command("--help").stdout
    assert all("--" + f.key.replace("_", "-") in help_text for f in FACTS)
