"""What a person reads off a chart is safe: no number where the cell must not be used, none beyond what was simulated,
none of a month that the chart does not know, none of kept cells that were changed."""

import json
import re
import shutil
import subprocess

import numpy as np
import pandas as pd
import pytest
from small_chart import SHIPPED, changed, command, drawn_texts, page_text, records, sheet_texts, small

import libcure
from libcure import ensemble
from libcure.charting.climate import MONTHS
from libcure.render import chart_look as look
from libcure.render import chart_page as page

STATES = dict.fromkeys(ensemble.RELEASE_STATES, 0)
LOST = {"criterion_met_min": [603.0, 667.0, None]}
FOUND = {"criterion_met_min": [603.0, 667.0, 703.0]}
# As pop-ups, the sheet and the messages of the checks write them.
NUMBERS = ("10 h 03", "11 h 07", "11 h 43", "11 h 45", "603.0 min", "667.0 min", "703.0 min")


def lost(state):
    return {**LOST, "states": STATES | {"reached": 14, state: 2}}


ON_SCREEN = ("html", "notebook")
"""Where a cell says how hot it gets, and in which hold it does not cure; on paper it says that it does, or does not."""


def on_paper(word):
    return {"TOO HOT 141 °C (95 %)": "TOO HOT", "NOT IN 24 h": "TOO SLOW"}.get(word, word)


def seen(result, folder):
    """All that a person can read of a chart: sheet, page, notebook."""
    result.save(folder)
    texts = {"svg": "\n".join(drawn_texts(folder / "chart.svg"))}
    texts["html"] = page_text((folder / "chart.html").read_text(encoding="utf-8"))
    texts["notebook"] = page_text(result._repr_html_())
    if shutil.which("pdftotext"):
        out = subprocess.run(["pdftotext", folder / "chart.pdf", "-"], capture_output=True, check=True)
        texts["pdf"] = out.stdout.decode()
    return texts


@pytest.mark.parametrize(
    ("record", "word"),
    [
        (FOUND | {"late": True}, "TOO LATE"),
        (FOUND | {"peak_temperature_C": [20.0, 30.0, 140.2]}, "TOO HOT 141 °C (95 %)"),
        (lost("not_in_hold"), "NOT IN 24 h"),
        (lost("gelled_before_held"), "SETS TOO SOON"),
        (lost("vitrified"), "NEVER"),
        (lost("outside_model"), "NOT KNOWN"),
        (lost("failed"), "NO ANSWER"),
    ],
)
def test_a_cell_that_must_not_be_used_shows_no_release_anywhere(small_result, tmp_path, record, word):
    result = changed(small_result, cell_0=record)
    for kind, text in seen(result, tmp_path).items():
        assert [n for n in NUMBERS if n in text] == [], kind
        assert "DO NOT USE" in text and (word if kind in ON_SCREEN else on_paper(word)) in text, kind
    assert f'data-release="DO NOT USE: {word}"' in (tmp_path / "chart.html").read_text(encoding="utf-8")
    # Tables keep the numbers for programs, and say that the cell is not to be used.
    row = pd.read_csv(tmp_path / "chart.csv").iloc[0]
    assert row["use"] == "no" and row["why_not"] == word and row["release_shown_min"] == float("inf")
    cell = json.loads((tmp_path / "chart.json").read_text(encoding="utf-8"))["cells"][0]
    assert cell["use"] is False and cell["why_not"] == [word] and cell["release_shown_min"] is None
    assert cell["criterion_met_min"] == record["criterion_met_min"]
    assert not result.to_xarray()["use"].values[0, 0]


def test_the_checks_tell_no_release_of_a_cell_that_must_not_be_used(small_result, tmp_path):
    late = FOUND | {"late": True}
    result = changed(small_result, cell_0=late, cell_1={"criterion_met_min": [900.0] * 3})
    assert len(result.violations) == 3
    for kind, text in seen(result, tmp_path).items():
        assert [n for n in NUMBERS if n in text] == [], kind
    assert "95 % release goes from a time not to be used (hardener slow, 5 °C) to 900.0 min" in result.violations[2].text()


def test_a_cell_that_may_be_used_shows_its_release(small_result, tmp_path):
    """The numbers that the test above does not find are those that are there otherwise."""
    texts = seen(changed(small_result, cell_0=FOUND), tmp_path)
    assert all("11 h 45" in text for text in texts.values())
    assert all(number in texts["html"] for number in NUMBERS if " h " in number)
    row = pd.read_csv(tmp_path / "chart.csv").iloc[0]
    assert row["use"] == "yes" and row["release_shown_min"] == 705.0


def test_all_reasons_stand_in_the_cell(small_result, tmp_path):
    result = changed(small_result, cell_0=lost("vitrified") | {"late": True, "peak_temperature_C": [20.0, 30.0, 140.2]})
    assert result.answers[0, 0].release_text == "DO NOT USE: TOO LATE, NEVER, TOO HOT 141 °C (95 %)"
    for kind, text in seen(result, tmp_path).items():
        assert all(word in text for word in ("TOO LATE", "NEVER", "TOO HOT"))
        assert ("TOO HOT 141 °C" in text) == (kind in ON_SCREEN) and ("141" in text) == (kind in ON_SCREEN)


# The hold of the small chart ends 1454 min after mixing, and releases are rounded up to 5 min.
@pytest.mark.parametrize(
    ("release", "shown"), [(1449.0, "24 h 10"), (1450.5, None), (1453.9, None), (1454.1, None), (3660.0, None)]
)
def test_no_release_is_later_than_the_hold(small_result, tmp_path, release, shown):
    record = {"criterion_met_min": [60.0, 600.0, release]}
    texts = seen(changed(small_result, cell_0=record), tmp_path)
    for kind, text in texts.items():
        assert ("NOT IN 24 h" in text) == (shown is None and kind in ON_SCREEN), kind
        assert ("DO NOT USE" in text) or shown, kind
        assert not re.search(r"\b61 h|24 h 1[15]|24 h 2", text), kind
        assert shown is None or shown in text


def test_a_hold_that_ends_before_the_release_says_not_in():
    """Of the engine's own numbers, with the hold cut to end just before the printed release."""
    document = small(axes__0__values=["epoxy-amine-fast"], axes__0__labels=["fast"], axes__1__values=[15], axes__1__unit="°C")
    document["case"]["liner"]["thickness_mm"] = 3
    first = libcure.chart(document).answers[0, 0]
    assert first.use
    document["case"]["stages"][2]["duration_min"] = first.release_min - 14.0 - 1.0
    second = libcure.chart(document).answers[0, 0]
    assert not second.use and second.release_word.startswith("NOT IN ")


def test_months_tell_the_release_only(small_result, tmp_path):
    texts = seen(small_result, tmp_path)
    lines = texts["svg"].split("\n")
    assert "release only: row" in lines and not any("working row" in line for line in lines)
    for kind in ("svg", "html"):
        text = " ".join(texts[kind].split())
        assert "Made for resin 16 °C (61 °F), packer, fibre, air and bladder filling 14 °C (57 °F)" in text
        assert "Never the working time: measure wall, resin and packer" in text
        assert "Between two rows or columns: the shorter working time and the longer release" in text
    months = json.loads(re.search(r'id="months">(.*?)</script>', texts["html"])[1])
    for line in months["lines"]["1.5"]:
        assert set(line) == {"ground", "rows", "table", "words"} and "working" not in line["words"]
        assert all(len(row) == 2 for row in line["table"])
    assert months["heads"] == ["", "release"]


def test_temperatures_that_the_case_leaves_out_are_stated_too():
    """By default all are those of the air; what an axis sets is not among them."""
    document = small(axes__1={"name": "air", "sets": ["initial_temperature_C.packer"], "values": [5, 15]}, layout__rows="air")
    document["case"]["initial_temperature_C"] = {"air": 15}
    del document["case"]["stages"][2]["fill_temperature_C"]
    from libcure.charting import words

    assert words.made_for(libcure.read_chart(document)).startswith("Made for resin, fibre, air and bladder filling 15 °C (59 °F), ")


def test_a_month_reads_from_the_colder_row_and_looks_at_all_that_it_touches():
    """June of the shipped chart, 10 to 13 °C at the pipe and 14 to 26 °C in the van."""
    chart = libcure.read_chart(SHIPPED)
    lines = dict(zip(MONTHS, look.month_lines(chart), strict=True))
    wall, resin = look.ground_axis(chart), look.resin_axis(chart)
    assert [wall.values[i] for i in lines["Jun"].rows] == [10, 13]
    assert [resin.values[i] for i in lines["Jun"].columns] == [10, 16, 22, 28]
    for line in lines.values():
        assert wall.values[line.rows[0]] <= line.wall_C[0] and wall.values[line.rows[-1]] >= line.wall_C[1]
        assert resin.values[line.columns[0]] <= line.resin_C[0] and resin.values[line.columns[-1]] >= line.resin_C[1]


def test_a_month_is_on_the_chart_only_where_every_axis_reaches_around_it():
    def on(rows, resin_C, columns):
        return look.MonthLine("Jun", (10.0, 13.0), resin_C, rows, columns).on_chart

    assert on((0, 1), None, ()) and on((0, 1), (14.0, 20.0), (0, 1))
    assert not on((), None, ()) and not on((0, 1), (14.0, 40.0), ()) and not on((), (14.0, 20.0), (0, 1))


def test_the_air_counts_for_a_month_only_where_the_axis_of_the_resin_moves_it():
    document = json.loads(SHIPPED.read_text(encoding="utf-8"))
    document["climate"]["air"]["day_swing_K"] = 20
    document["climate"]["stores"]["at_most_C"] = 20  # cooler than the air at noon
    chart = libcure.read_chart(document)
    document["axes"][2]["sets"].remove("initial_temperature_C.air")
    still = libcure.read_chart(document)
    for month in range(1, 13):
        resin, air = (chart.climate.span_C(what, (month,)) for what in ("stores", "air"))
        assert look._resin_span(chart, look.resin_axis(chart), (month,)) == (resin[0], max(resin[1], air[1]))
        assert look._resin_span(still, look.resin_axis(still), (month,)) == resin
    assert air[1] > resin[1]


def test_a_month_warmer_or_colder_than_the_chart_has_no_row(small_result):
    """The small chart has 5 and 15 °C; at 4 m its ground stays between, near the surface it does not."""
    assert all(line.rows == (0, 1) for line in look.month_lines(small_result.chart, 4.0))
    near = look.month_lines(small_result.chart, 0.1)
    assert near[0].wall_C[0] < 5.0 and near[0].rows == () and near[6].wall_C[1] > 15.0 and near[6].rows == ()


def test_fahrenheit_on_a_path_in_celsius_is_converted_and_a_contradiction_is_one_line(tmp_path):
    """41 and 59 °F are 5 and 15 °C to the last bit: the same chart, with °F first."""
    one, two = libcure.chart(small()), libcure.chart(small(axes__1__unit="°F", axes__1__values=[41, 59]))
    assert [case.document for case in one.chart.cases.values()] == [case.document for case in two.chart.cases.values()]
    np.testing.assert_array_equal(one.numbers["criterion_met_min"], two.numbers["criterion_met_min"])
    axis = two.chart.axes[1]
    assert look.value_label(two.chart, axis, 0) == "41 °F" and look.second_label(two.chart, axis, 0) == ("5 °C",)
    assert two.to_dataframe()["ground_F"].tolist()[:2] == [41, 59]
    assert "61 °F (16 °C)" in sheet_texts(two)
    path = tmp_path / "chart.json"
    path.write_text(json.dumps(small(axes__1__unit="bar")), encoding="utf-8")
    for arguments in (("chart", path, "--out", tmp_path / "out"), ("check", path)):
        done = command(*arguments, code=2)
        says = '"bar"; allowed: °C or °F, because ground.temperature_C is in °C'
        assert done.stderr == f"libcure: {path}: axes[1].unit: {says}\n"
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("given", [None, "C", "degC", "° C"])
def test_the_unit_of_the_path_is_what_stands_on_the_sheet(given):
    chart = libcure.read_chart(small(axes__1__unit=given))
    axis = chart.axes[1]
    assert axis.unit == "°C" and look.value_label(chart, axis, 0) == "5 °C" and look.second_label(chart, axis, 0) == ("41 °F",)


def times_more(text):
    kept = json.loads(text)
    more = kept["record"]
    for key in (key for key in more if key.endswith("_min")):
        more[key] = [v and 1.5 * v for v in more[key]] if isinstance(more[key], list) else more[key] and 1.5 * more[key]
    return json.dumps(kept)


DAMAGES = (
    times_more,
    lambda text: "{}",
    lambda text: "[]",
    lambda text: "null",
    lambda text: "",
    lambda text: text[:-30],
    lambda text: "[" * 100000,
    lambda text: "\0\1",
    lambda text: json.dumps(json.loads(text)["record"]),
    lambda text: text.replace('"sha256"', '"sha"'),
    lambda text: '{"record": {}, "sha256": ""}',
)


def test_kept_cells_that_were_changed_are_computed_again(tmp_path, small_result):
    libcure.chart(small(), store=tmp_path)
    files = sorted(tmp_path.glob("*.json"))
    whole = [file.read_text(encoding="utf-8") for file in files]
    # The content of another cell under this cell's name, which fits its own checksum.
    files[0].write_text(whole[1], encoding="utf-8")
    for damage in DAMAGES:
        files[2].write_text(damage(whole[2]), encoding="utf-8")
        again = libcure.chart(small(), store=tmp_path)
        assert again.kept == (2 if damage is DAMAGES[0] else 3)
        assert records(again) == records(small_result)
        assert [file.read_text(encoding="utf-8") for file in files] == whole
    assert libcure.chart(small(), store=tmp_path).kept == 4


def test_the_command_says_that_kept_cells_were_changed(tmp_path):
    path, out = tmp_path / "chart.json", tmp_path / "out"
    path.write_text(json.dumps(small(sensitivity__cells="centre")), encoding="utf-8")
    command("chart", path, "--out", out)
    table, files = (out / "chart.csv").read_bytes(), sorted((out / ".cells").glob("*.json"))
    texts = [file.read_text(encoding="utf-8") for file in files]
    cells = [file for file, text in zip(files, texts, strict=True) if "states" in text]
    (sensitivity,) = set(files) - set(cells)
    cells[0].write_text(times_more(cells[0].read_text(encoding="utf-8")), encoding="utf-8")
    sensitivity.write_text("{}", encoding="utf-8")
    done = command("chart", path, "--out", out)
    assert "2 kept cells were damaged or changed, and were computed again" in done.stdout
    assert (out / "chart.csv").read_bytes() == table
    assert "damaged" not in command("chart", path, "--out", out).stdout


def test_a_folder_in_place_of_a_kept_cell_is_one_line(tmp_path):
    path, cells = tmp_path / "chart.json", tmp_path / "out" / ".cells"
    path.write_text(json.dumps(small()), encoding="utf-8")
    command("chart", path, "--out", tmp_path / "out")
    file = min(cells.glob("*.json"))
    file.unlink()
    file.mkdir()
    done = command("chart", path, "--out", tmp_path / "out", code=2)
    assert done.stderr.count("\n") == 1 and str(file) in done.stderr


@pytest.mark.parametrize("page", ["landscape", "portrait"])
def test_check_and_chart_agree_on_what_fits(tmp_path, page):
    path, out = tmp_path / "chart.json", tmp_path / "out"
    one = small(axes__0__values=["epoxy-amine-fast"], axes__0__labels=["fast"], layout__page=page)

    def with_rows(count):
        one["axes"][1]["values"] = [2 + 0.5 * i for i in range(count)]
        path.write_text(json.dumps(one), encoding="utf-8")

    with_rows(40)
    most = int(re.search(r"at most (\d+) rows", command("check", path, code=2).stderr)[1])
    with_rows(most)
    assert "valid" in command("check", path).stdout
    command("chart", path, "--out", out)
    shutil.rmtree(out)
    with_rows(most + 1)
    assert command("check", path, code=2).stderr == command("chart", path, "--out", out, code=2).stderr
    assert not out.exists()


def test_a_long_title_is_whole_or_refused(small_result, tmp_path):
    path, out = tmp_path / "chart.json", tmp_path / "out"
    long = " ".join(f"word{i}" for i in range(24))
    path.write_text(json.dumps(small(title=long)), encoding="utf-8")
    command("check", path)
    command("chart", path, "--out", out)
    drawn = drawn_texts(out / "chart.svg")
    assert " ".join(drawn[:2]) == long or drawn[0] == long
    shutil.rmtree(out)
    path.write_text(json.dumps(small(title=3 * long)), encoding="utf-8")
    said = command("check", path, code=2).stderr
    assert said == command("chart", path, "--out", out, code=2).stderr and not out.exists()
    assert "title: " in said and " letters; allowed: two lines, about " in said


def test_a_model_that_knows_nothing_of_the_cold_is_said_on_top(tmp_path):
    """As fitted from gel times alone: no release, and why stands before any cell."""
    model = json.loads(libcure.models.resin_path("epoxy-amine-medium").read_text(encoding="utf-8"))
    del model["covariance"]
    (tmp_path / "mine.json").write_text(json.dumps({**model, "id": "gel-times-only", "diffusion": {"form": "none"}}))
    document = small()
    document["axes"][0].update(values=["epoxy-amine-slow", str(tmp_path / "mine.json")])
    path = tmp_path / "chart.json"
    path.write_text(json.dumps(document), encoding="utf-8")
    result = libcure.chart(path, samples=16)
    said = "NO RELEASE for gel-times-only: the model says nothing about setting in the cold."
    assert said in sheet_texts(result) and said in page.html(result)
    answers = [a for index, a in result.answers.items() if index[0] == 1]
    assert all(not a.use and "NOT KNOWN" in a.why_not for a in answers)
