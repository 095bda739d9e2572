"""A starting document from a few answers: it computes as it is, and what is wrong is one line."""

import json

import pytest
from small_chart import command

import libcure
from libcure.charting.starting import QUESTIONS, starting_document


def new(path, *answers, code=0):
    options = [option for answer in answers for option in ("--answer", answer)]
    return command("chart", "--new", path, *options, code=code)


def test_a_document_without_answers_is_a_chart(tmp_path):
    path = tmp_path / "chart.json"
    assert "By default: title, resins" in new(path).stdout
    document = json.loads(path.read_text(encoding="utf-8"))
    libcure.validate(document)
    comments = [key for key in document if key.startswith("// ")]
    # A comment before what it is about.
    keys = list(document)
    assert len(comments) >= 6 and all(keys[keys.index(c) + 1] == c[3:] for c in comments)
    result = libcure.chart(path, samples=16)
    assert any(answer.use for answer in result.answers.values())
    # Comments say nothing of the numbers.
    bare = {key: value for key, value in document.items() if not key.startswith("//")}
    assert libcure.read_chart(path).inputs_hash == libcure.read_chart(bare).inputs_hash


def test_answers_are_taken_in_their_units(tmp_path):
    path = tmp_path / "chart.json"
    answers = ("walls=40 to 66 °F", "liner=0.25 in", "hold=36 h", "resins=epoxy-amine-fast", "paper=Letter", "need=30", "bore=6 inches")
    new(path, *answers)
    chart = libcure.read_chart(path)
    case = chart.base.document
    assert case["liner"]["thickness_mm"] == 6.35 and case["stages"][2]["duration_min"] == 2160 and case["pipe"]["inner_diameter_mm"] == 152.4
    assert [axis.name for axis in chart.axes] == ["wall", "resin"] and chart.axes[0].values[0] == 40 and chart.axes[0].unit == "°F"
    assert (chart.paper, chart.temperature, chart.length, chart.need_min) == ("Letter", "°F", "in", 30)
    document = chart.case_documents[0, 0]
    assert document["ground"]["temperature_C"] == pytest.approx(40 / 9, abs=1e-9)  # (40 - 32) / 1.8


@pytest.mark.parametrize(
    ("answer", "says"),
    [
        ("walls=40 to 66 kg", "°C or °F"),
        ("walls=19 to 4", "the smaller number first"),
        ("liner=thick", "as in 4 mm"),
        ("liner=900", "0.3 to 60"),
        ("resins=nothing-of-this-name", "nothing-of-this-name"),
        ("paper=A5", "A4, Letter"),
        ("lines=3", "one of title"),
        ("liner", "KEY=VALUE"),
    ],
)
def test_an_answer_that_makes_no_chart_is_one_line(tmp_path, answer, says):
    path = tmp_path / "chart.json"
    done = new(path, answer, code=2)
    assert says in done.stderr and done.stderr.count("\n") == 1
    assert not path.exists()


def test_a_file_that_is_there_is_left_alone(tmp_path):
    path = tmp_path / "chart.json"
    path.write_text("mine", encoding="utf-8")
    assert "not there yet" in new(path, code=2).stderr and path.read_text(encoding="utf-8") == "mine"


def test_every_question_has_a_default_that_is_an_answer(tmp_path):
    given = {question.key: question.default for question in QUESTIONS}
    assert starting_document(given, tmp_path, "x") == starting_document({}, tmp_path, "x")
