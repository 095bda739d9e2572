"""The runner of the comparisons: what a row accepts, how sources are found and run, what is written."""

from __future__ import annotations

import io
import json
import re
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from matplotlib.colors import to_rgb
from matplotlib.image import imread

import libcure
from libcure import _core, validation
from libcure.render import validation_report
from libcure.render.validation_report import write
from libcure.validation import Comparison

SCRIPT = """
from libcure.validation import Comparison

def compare():
    return [Comparison("Someone 1999", "a length", 1.0, {computed}, "m", 0.1, "measured"),
            Comparison("Someone 1999", "a <bound>", 5.0, 4.0, "K", 0.0, "closed form", "<=")]

def figure(fig):
    fig.subplots().plot([0, 1], [0, 1])
"""


def row(computed: float, relation: Any = "=", tolerance: float = 0.5) -> Comparison:
    return Comparison("source", "quantity", 10.0, computed, "K", tolerance, "measured", relation)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder of one source, which passes."""
    add(tmp_path, "one", SCRIPT.format(computed=1.05))
    return tmp_path


def add(folder: Path, name: str, script: str) -> None:
    (folder / name).mkdir()
    (folder / name / "source.md").write_text(
        "# A title & more\n\nText of\nthe source.\n\n- first\n- second\n"
    )
    (folder / name / "compare.py").write_text(script)


def name_misses(folder: Path, *quantities: str, source: str = "one") -> None:
    misses = [{"source": source, "quantity": q, "reason": "because of <this>"} for q in quantities]
    (folder / "known_misses.json").write_text(json.dumps({"misses": misses}))


def test_row_is_within_its_tolerance_or_not() -> None:
    assert row(10.5).passed and row(9.5).passed
    assert not row(10.51).passed and not row(9.49).passed
    assert row(10.5).difference == pytest.approx(0.5)


def test_a_bound_holds_on_one_side_only() -> None:
    assert row(-100.0, "<=").passed and row(10.5, "<=").passed and not row(10.6, "<=").passed
    assert row(100.0, ">=").passed and row(9.5, ">=").passed and not row(9.4, ">=").passed


@pytest.mark.parametrize("relation", ["=", "<=", ">="])
@pytest.mark.parametrize("value", [float("nan"), float("inf"), float("-inf")])
def test_what_is_not_finite_never_passes(relation: str, value: float) -> None:
    assert not row(value, relation).passed


@pytest.mark.parametrize(
    "change",
    [{"evidence": "hearsay"}, {"tolerance": -1.0}, {"tolerance": float("nan")}, {"relation": "<"}],
)
def test_a_bad_row_is_refused(change: dict[str, Any]) -> None:
    good = {
        "source": "s",
        "quantity": "q",
        "published": 1.0,
        "computed": 1.0,
        "unit": "1",
        "tolerance": 0.1,
        "evidence": "measured",
    }
    Comparison(**good)
    with pytest.raises(libcure.CureError, match=next(iter(change))):
        Comparison(**{**good, **change})


def test_sources_are_run_and_ranked(folder: Path) -> None:
    report = validation.run(folder)
    assert report.ok
    assert [row.evidence for _, row in report.rows] == ["measured", "closed form"]
    assert report.sources[0].title == "A title & more"
    assert "1 sources" in report.summary() and "2 within tolerance, 0 outside" in report.summary()
    assert report.headline().startswith("1 independent measured rows from 1 sources, 1 within tolerance; 0 measured on other")


def test_an_unexpected_miss_is_not_ok(folder: Path) -> None:
    add(folder, "two", SCRIPT.format(computed=2.0))
    report = validation.run(folder)
    assert not report.ok
    assert [row.quantity for row in report.sources[1].unexpected] == ["a length"]


def test_a_named_miss_is_ok_until_it_passes(folder: Path) -> None:
    (folder / "one" / "compare.py").write_text(SCRIPT.format(computed=2.0))
    name_misses(folder, "a length")
    assert validation.run(folder).ok
    (folder / "one" / "compare.py").write_text(SCRIPT.format(computed=1.0))
    assert not validation.run(folder).ok


def test_a_named_miss_must_exist_and_have_a_reason(folder: Path) -> None:
    name_misses(folder, "a width")
    report = validation.run(folder)
    assert not report.ok and "a width" in report.sources[0].error
    name_misses(folder, "a length", source="three")
    with pytest.raises(libcure.CureError, match="three"):
        validation.run(folder)
    (folder / "known_misses.json").write_text(
        '{"misses": [{"source": "one", "quantity": "a length"}]}'
    )
    with pytest.raises(libcure.CureError, match="reason"):
        validation.run(folder)


def test_a_script_that_fails_does_not_stop_the_others(folder: Path) -> None:
    add(folder, "broken", "def compare():\n    raise RuntimeError('out of luck')\n")
    report = validation.run(folder)
    assert not report.ok
    assert [source.error for source in report.sources] == ["RuntimeError: out of luck", ""]
    page, _ = write(report, folder)
    assert "out of luck" in page.read_text()


def test_two_rows_of_one_name_are_refused(folder: Path) -> None:
    (folder / "one" / "compare.py").write_text(
        SCRIPT.format(computed=1.0).replace("a <bound>", "a length")
    )
    assert "given twice" in validation.run(folder).sources[0].error


def test_report_is_whole_escaped_and_the_same_twice(folder: Path) -> None:
    (folder / "one" / "compare.py").write_text(SCRIPT.format(computed=2.0))
    name_misses(folder, "a length")
    report = validation.run(folder)
    page, pdf = write(report, folder)
    text, data = page.read_text(), pdf.read_bytes()
    assert (
        "A title &amp; more" in text
        and "a &lt;bound&gt;" in text
        and "because of &lt;this&gt;" in text
    )
    assert "<bound>" not in text
    assert re.search(r'<tr class="miss">.*a length', text) and "miss (known)" in text
    assert "<li>first</li>" in text and "<p>Text of the source.</p>" in text
    assert 'src="data:image/png;base64,' in text and "http" not in text
    assert data.startswith(b"%PDF")
    again, again_pdf = write(validation.run(folder), folder)
    assert again.read_text() == text and again_pdf.read_bytes() == data
    assert not list(folder.glob("*.part"))


def test_dois_lead_to_what_they_name(folder: Path) -> None:
    (folder / "one" / "source.md").write_text("# T\n\nSource: A. <B>, doi 10.1016/S0011-2275(97)00146-X, and doi 10.1000/b.c.\n")
    text = write(validation.run(folder), folder)[0].read_text()
    for doi, end in (("10.1016/S0011-2275(97)00146-X", ","), ("10.1000/b.c", ".")):
        assert f'doi <a href="https://doi.org/{doi}">{doi}</a>{end}' in text
    assert "A. &lt;B&gt;" in text


def test_folders_are_checked(tmp_path: Path) -> None:
    with pytest.raises(libcure.CureError, match="at least one"):
        validation.run(tmp_path)
    with pytest.raises(libcure.CureError, match="exists"):
        validation.run(tmp_path / "nothing")


def test_command_line(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    out = tmp_path_factory.mktemp("out")
    command = [sys.executable, "-m", "libcure", "validate", "--out"]
    done = subprocess.run(
        [*command, str(out), str(folder)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert {path.name for path in out.iterdir()} == {"validation.html", "validation.pdf"}
    (folder / "one" / "compare.py").write_text(SCRIPT.format(computed=2.0))
    done = subprocess.run(
        [*command, str(out), str(folder)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 1 and "MISS: one: a length" in done.stdout
    done = subprocess.run(
        [*command, str(out / "none" / "deeper"), str(folder)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 2 and "--out" in done.stderr and done.stdout == ""
    done = subprocess.run(
        [*command, str(out / "new"), str(folder)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 1 and (out / "new" / "validation.pdf").is_file()


def test_report_says_what_users_rely_on_what_is_missing_and_what_waits(folder: Path) -> None:
    relied = [{"subject": "lengths", "note": "By hand."}, {"subject": "widths", "note": "None < found."}]
    rest = [{"subject": "rulers", "sources": ["one", "elsewhere"], "note": "Wood."}]
    (folder / "coverage.json").write_text(json.dumps({"relied_on": relied, "subjects": rest}))
    (folder / "not_read.md").write_text("# What could not be read\n\n- A table of widths & heights.\n")
    (folder / "later").mkdir()
    (folder / "later" / "source.md").write_text("# A depth to come\n")
    (folder / "later" / "prediction.json").write_text("{}")
    script = SCRIPT.format(computed=1.0) + "\ndef remarks():\n    return ['a solver is not here']\n"
    (folder / "one" / "compare.py").write_text(script.replace('"measured")', '"measured", subject="lengths")'))
    report = validation.run(folder)
    assert report.uncovered == ["widths"] and report.waiting == ["A depth to come"]
    assert "No independent measurement for: widths." in report.summary()
    assert report.sources[0].remarks == ["a solver is not here"]
    text = write(report, folder)[0].read_text()
    assert re.search(r"<li><b>lengths", text) and re.search(r'<li class="miss"><b>widths', text)
    for words in ("a solver is not here", "widths &amp; heights", "None &lt; found.", "A depth to come", "rulers"):
        assert words in text
    good, said = validation.write_report(folder, folder)
    assert good and "waits for data: A depth to come" in said and "a solver is not here" in said
    (folder / "coverage.json").write_text(json.dumps({"relied_on": relied[1:]}))
    with pytest.raises(libcure.CureError, match="lengths"):
        validation.run(folder)
    (folder / "coverage.json").write_text('{"subjects": [{"subject": "lengths", "note": ""}]}')
    with pytest.raises(libcure.CureError, match="sources"):
        validation.run(folder)


@pytest.mark.parametrize("evidence", ["from memory", "self-check"])
def test_rows_that_prove_nothing_do_not_count(folder: Path, evidence: str) -> None:
    (folder / "one" / "compare.py").write_text(SCRIPT.format(computed=1.0).replace("measured", evidence))
    report = validation.run(folder)
    assert not report.measured() and "1 rows count" in report.summary()


def test_a_value_outside_its_band_stands_there_in_red() -> None:
    def red(place: float) -> bool:
        outside = Comparison("s", "q", 1.645 * place, 0.0, "K", 2.0, "measured", band=validation.normal_band(0.0, 1.0))
        picture = validation_report._in_bands(SimpleNamespace(banded=[outside]), named=True)  # type: ignore[arg-type]
        assert picture is not None
        shown = imread(io.BytesIO(picture))[..., :3]
        return bool((np.abs(shown - to_rgb(validation_report.RED)).max(axis=2) < 0.02).any())

    assert not red(0.9) and red(1.1) and red(-4.0)


def test_bands_are_scored_by_their_quantiles(folder: Path) -> None:
    band = validation.normal_band(0.0, 1.0)
    assert band[2] == 0.0 and band[4] == pytest.approx(1.6449, abs=1e-4) and band[0] == pytest.approx(-band[4])
    # By hand: a certain and right forecast has no loss; a certain one that is 1 off loses 1 (2 x the mean level).
    assert validation.score(3.0, (3.0,) * 5) == 0.0
    assert validation.score(4.0, (3.0,) * 5) == pytest.approx(1.0) and validation.score(2.0, (3.0,) * 5) == pytest.approx(1.0)
    truths = np.random.default_rng(5).normal(size=4000)  # fixed draws
    expected = [
        np.mean([validation.score(y, validation.normal_band(0.0, sd)) for y in truths]) for sd in (0.5, 0.8, 1.0, 1.25, 2.0)
    ]
    assert int(np.argmin(expected)) == 2  # proper: the honest band scores best
    rows = [Comparison("s", f"q{i}", float(y), 0.0, "K", 2.0, "measured", band=band) for i, y in enumerate(truths)]
    found = validation.calibration(rows)
    assert found is not None and found.rows == 4000
    # Four standard deviations of a binomial share.
    assert found.half == pytest.approx(0.5, abs=0.032) and found.ninety == pytest.approx(0.9, abs=0.019)
    assert found.score == pytest.approx(expected[2] / 2.0) and found.twice == pytest.approx(expected[4] / 2.0)
    assert validation.calibration([row(10.0)]) is None
    with pytest.raises(libcure.CureError, match="band"):
        Comparison("s", "q", 1.0, 1.0, "K", 1.0, "measured", band=(1.0, 0.0, 2.0, 3.0, 4.0))
    (folder / "one" / "compare.py").write_text(
        SCRIPT.format(computed=1.0).replace('"measured")', '"measured", band=(0.5, 0.9, 1.1, 1.2, 1.3), blind=True)')
    )
    text = write(validation.run(folder), folder)[0].read_text()
    assert "100 % inside their 50 % band" in text and "band committed before the data were looked for: 1" in text


# What the sources of this project share.

VALIDATION = Path(__file__).parents[2] / "validation"


def test_without_sundials_scipy_stands_alone_and_the_report_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    script = validation.load_script(VALIDATION / "cross-solver" / "compare.py")
    monkeypatch.setattr(script.cvode, "program", lambda: (None, "SUNDIALS is not installed"))
    rows = script.compare()
    assert {row.source for row in rows} == {"SciPy BDF"} and all(row.passed for row in rows)
    assert "SUNDIALS is not installed" in script.remarks()[0] and "SciPy" in script.remarks()[0]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"inner_radius": 0}, "inner_radius"),
        ({"resin": None}, "resin"),
        ({"curing_layer": "core"}, "core"),
        ({"format": "libcure/case/1"}, "validation-wall"),
        ({"outer": {"kind": "insulated", "h": 8}}, "outer.h"),
    ],
)
def test_a_bad_wall_document_is_refused(tmp_path: Path, change: dict[str, Any], said: str) -> None:
    wall_case = validation.load_script(VALIDATION / "wall_case.py")
    document = json.loads((VALIDATION / "polyester-laminate-1991" / "case.json").read_text())
    wall_case.load(VALIDATION / "polyester-laminate-1991" / "case.json")
    document = {k: v for k, v in {**document, **change}.items() if v is not None}
    path = tmp_path / "case.json"
    path.write_text(json.dumps(document))
    with pytest.raises(libcure.CureError, match=said):
        wall_case.load(path)


# The binding that the comparisons use.

LAYER = {
    "name": "body",
    "thickness": 0.01,
    "conductivity": 0.2,
    "density": 1000.0,
    "specific_heat": 1500.0,
    "cells": 10,
}
NONE: dict[str, Any] = {"kind": "insulated"}
HELD: dict[str, Any] = {"kind": "temperature", "time": [0.0], "value": [350.0]}


def solve(**change: Any) -> tuple[Any, Any]:
    arguments = {
        "geometry": "slab",
        "inner_radius": 0.0,
        "layers": [LAYER],
        "inner": NONE,
        "outer": HELD,
        "initial": np.full(10, 300.0),
        "times": [0.0, 10.0, 1e6],
        **change,
    }
    return _core.solve_wall(**arguments)


def test_wall_goes_from_its_start_to_its_surface() -> None:
    T, alpha = solve()
    assert T.shape == (3, 10) and alpha.shape == (3, 0)
    assert (T[0] == 300.0).all()
    assert np.abs(T[-1] - 350.0).max() < 1e-3
    assert (np.diff(T[1]) > 0).all()


def test_wall_takes_in_what_flows_in() -> None:
    flux = {"kind": "flux", "time": [0.0], "value": [100.0]}
    T, _ = solve(inner=flux, outer=NONE, times=[0.0, 600.0])
    assert T[-1].mean() - 300.0 == pytest.approx(100.0 * 600.0 / (1000.0 * 1500.0 * 0.01), rel=1e-9)


def test_wall_cures() -> None:
    resin = libcure.load_resin("vinyl-ester-cold")
    T, alpha = solve(
        outer={"kind": "temperature", "time": [0.0], "value": [300.0]},
        times=[0.0, 3600.0],
        resin=resin,
        reacting=0,
        source=0.0,
    )
    assert alpha[0] == pytest.approx(resin.initial_degree_of_cure)
    assert alpha[-1] == pytest.approx(
        resin.isothermal([300.0], [3600.0], resin.initial_degree_of_cure)[0, 0], abs=1e-4
    )
    assert np.abs(T - 300.0).max() < 1e-9


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"geometry": "cone"}, "geometry"),
        ({"inner_radius": -1.0}, "inner radius"),
        ({"layers": [{**LAYER, "thickness": 0.0}]}, r"layers\[0\].thickness"),
        ({"layers": [{**LAYER, "conductivity": float("nan")}]}, r"layers\[0\].conductivity"),
        ({"layers": [{**LAYER, "colour": 1}]}, r"layers\[0\].colour"),
        ({"layers": [{k: v for k, v in LAYER.items() if k != "density"}]}, r"layers\[0\].density"),
        ({"layers": [], "initial": []}, "layers"),
        ({"outer": {"kind": "warm"}}, "outer.kind"),
        ({"outer": {"kind": "convection", "h": "x", "temperature": 1.0}}, "outer.h"),
        ({"outer": {**HELD, "more": 1}}, "outer.more"),
        ({"outer": {"kind": "temperature", "time": [0.0, 0.0], "value": [1.0, 2.0]}}, "time"),
        ({"initial": np.full(9, 300.0)}, "initial"),
        ({"initial": np.full(10, np.nan)}, "initial"),
        ({"times": []}, "times"),
        ({"times": [1.0, 1.0]}, r"times\[1\]"),
        ({"times": [-1.0]}, r"times\[0\]"),
        ({"reacting": 0}, "reacting"),
        ({"tolerance": (0.0, 1e-6)}, "tolerance"),
        ({"source": float("inf")}, "source"),
    ],
)
def test_wall_refuses_bad_input(change: dict[str, Any], field: str) -> None:
    with pytest.raises(libcure.CureError, match=field):
        solve(**change)


def test_the_sources_of_the_source_tree_are_found(monkeypatch):
    root = Path(__file__).parents[2]
    monkeypatch.chdir(root)
    # Of the installed package, whose models lie beside its modules.
    assert len(validation.sources(validation.find_folder())) > 20
