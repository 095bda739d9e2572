"""Rows of CSV files that are damaged: each takes itself away and nothing else, and is named."""

import json
from pathlib import Path

import numpy as np
import pytest
from forked_command import run

import libcure
from libcure import fitting
from libcure.documents.csv_table import read_table
from libcure.following import read_readings

ROOT = Path(__file__).parents[2]
COLD = libcure.models_folder() / "cases" / "cold_ground_winter.json"
LOG = (ROOT / "notebooks" / "data" / "follow" / "cold_ground.csv").read_text(encoding="utf-8").splitlines()
DSC = ROOT / "notebooks" / "data" / "dsc"


def written(tmp_path, lines, end="\n"):
    path = tmp_path / "rows.csv"
    path.write_bytes(("\n".join(lines) + end).encode())
    return path


def follow(path):
    return json.loads(run("follow", COLD, path, "--json", "-").stdout)


def told(document):
    return " ".join(s["text"] for s in [*document["faults"], *document.get("warnings", [])])


@pytest.mark.parametrize("spoil", [
    lambda row: row.replace(",", ',"'), lambda row: '"' + row, lambda row: row + '"', lambda row: row.replace(",", '",'),
], ids=["before the temperature", "before the time", "at the end", "behind the time"])  # fmt: skip
def test_a_stray_quote_in_a_log_costs_its_own_row(spoil, tmp_path):
    lines = list(LOG)
    lines[30] = spoil(lines[30])
    whole, hurt = (read_readings(written(tmp_path, rows)) for rows in (LOG, lines))
    assert len(hurt) == len(whole) - 1
    kept = np.delete(np.arange(len(whole)), 28)  # two lines stand above the rows
    np.testing.assert_array_equal(hurt.time, whole.time[kept])
    assert hurt.left_out == ("Line 31 cannot be read (a stray quote); not used.",)


def test_follow_says_which_line_it_could_not_read(tmp_path):
    lines = list(LOG)
    lines[30] = lines[30].replace(",", ',"')
    before, after = follow(written(tmp_path, LOG)), follow(written(tmp_path, lines))
    assert after["readings"]["rows"] == before["readings"]["rows"] - 1
    assert "Line 31 cannot be read (a stray quote); not used." in told(after)
    assert [f for f in after["faults"] if f["code"] != "left_out"] == before["faults"]


@pytest.mark.parametrize("cut", [1, 3, 5])
def test_a_log_that_is_still_being_written_loses_only_its_last_row(cut, tmp_path):
    """80,10.8 as 80,10. or 80,1 or 8 would be a reading that nobody took, and so would the last row cut anywhere."""
    text = "\n".join(LOG)
    before = follow(written(tmp_path, LOG[:-1]))
    path = tmp_path / "cut.csv"
    path.write_text(text[:-cut], encoding="utf-8")
    after = follow(path)
    assert [f for f in after["faults"] if f["code"] != "left_out"] == before["faults"]
    assert after["release_min"] == before["release_min"]
    assert f"Line {len(LOG)}, the last one, has no line end" in told(after)


def calorimeter(tmp_path, change, end="\n"):
    """The command on one shipped run whose file was changed."""
    document = json.loads((DSC / "fit.json").read_text(encoding="utf-8"))
    document["runs"] = [r for r in document["runs"] if "heating_rate_K_min" in r][:2]
    document["laws"], document["options"] = [{"law": "nth-order"}], {"starts": 2}
    for r in document["runs"]:
        r["file"] = str(DSC / r["file"])
    lines = Path(document["runs"][0]["file"]).read_text(encoding="utf-8").splitlines()
    document["runs"][0]["file"] = str(written(tmp_path, change(lines), end))
    file = tmp_path / "fit.json"
    file.write_text(json.dumps(document), encoding="utf-8")
    return file


@pytest.mark.parametrize("spoil", [lambda row: row.replace(",", ',"', 1), lambda row: row + '"', lambda row: '"' + row,
                                   lambda row: ",".join(row.split(",")[:2])], ids=["cell", "end", "begin", "short"])  # fmt: skip
def test_fit_refuses_a_damaged_row_by_its_line(spoil, tmp_path):
    file = calorimeter(tmp_path, lambda lines: [*lines[:100], spoil(lines[100]), *lines[101:]])
    done = run("fit", file, "--out", tmp_path / "out", code=2)
    assert done.stderr.count("\n") == 1
    assert "line 101" in done.stderr
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("cut", [1, 4, 12])
def test_fit_leaves_out_a_cut_last_row_and_says_so(cut, tmp_path):
    lines = []

    def shorten(all_lines):
        lines.extend(all_lines)
        return [*all_lines[:-1], all_lines[-1][:-cut]]

    file = calorimeter(tmp_path, shorten, end="")
    study = fitting.load(file)
    whole = fitting.read_csv(written(tmp_path, lines))
    assert len(study.runs[0].time) == len(whole.time) - 1
    np.testing.assert_array_equal(study.runs[0].time, whole.time[:-1])
    assert f"Line {len(lines)}, the last one, has no line end" in " ".join(str(f) for f in study.findings)


def test_words_after_the_last_row_need_no_line_end(tmp_path):
    whole = fitting.load(calorimeter(tmp_path, lambda lines: lines))
    study = fitting.load(calorimeter(tmp_path, lambda lines: [*lines, "End of the record"], end=""))
    np.testing.assert_array_equal(study.runs[0].time, whole.runs[0].time)
    said = " ".join(str(f) for f in study.findings)
    assert "no line end" not in said and '("End of the record"); not used' in said


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_ends_of_any_kind(end, tmp_path):
    path = tmp_path / "a.csv"
    path.write_bytes(end.join(["# a note", 'time_min,"say ""x"", y"', '1,"2"', "", "3,4", ""]).encode())
    table = read_table(path, "rows")
    assert table.heading == ["time_min", 'say "x", y']
    assert (table.rows, table.lines, table.left_out) == ([["1", "2"], ["3", "4"]], [3, 5], [])


def test_a_heading_whose_quote_does_not_close_is_refused(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text('time_min,"temperature_C\n1,2\n3,4\n')
    with pytest.raises(libcure.CureError, match="line 1: .*a heading whose quotes close"):
        read_readings(path)


def test_a_short_word_behind_a_name_is_taken_for_its_unit_and_refused_as_one():
    from libcure.fitting.columns import _named

    assert _named("time", "time min", "") == (0, "min", True)
    assert _named("time", "time xyz", "") == (0, "xyz", False)
    assert _named("time", "time wxyz", "") is None
