"""Chart documents are read strictly: one corpus of bad ones, for the reader and for the JSON Schema."""

import json
from pathlib import Path

import pytest
from small_chart import CHART, set_path, small

import libcure
from libcure.charting import words
from libcure.charting.climate import month_days

HERE = Path(__file__).parent
CHARTS = HERE.parents[1] / "models" / "charts"
BAD = json.loads((HERE / "bad_charts.json").read_text(encoding="utf-8"))


def bad(name):
    document = small()
    for path, value in BAD[name]["set"].items():
        set_path(document, path.split("__"), value)
    return document


@pytest.mark.parametrize("name", BAD)
def test_bad_charts_are_refused(name, tmp_path):
    path = tmp_path / "chart.json"
    path.write_text(json.dumps(bad(name)), encoding="utf-8")
    with pytest.raises(libcure.CureError) as caught:
        libcure.read_chart(path)
    error = caught.value
    assert error.field == BAD[name]["field"]
    assert BAD[name]["says"] in f"{error.value}; {error.allowed}"
    assert "chart.json" in error.file


@pytest.mark.parametrize("name", [n for n in BAD if BAD[n]["schema"]])
def test_the_schema_sees_it_too(name):
    with pytest.raises(libcure.CureError):
        libcure.validate(bad(name))


def test_good_charts_are_accepted_by_both():
    libcure.validate(CHART)
    chart = libcure.read_chart(CHART)
    assert chart.shape == (2, 2) and len(chart.cases) == 4
    for path in CHARTS.glob("*.json"):
        libcure.validate(json.loads(path.read_text(encoding="utf-8")))
        libcure.read_chart(path)


@pytest.mark.parametrize(
    "key", ["title", "note", "fixed", "layout", "sensitivity", "criteria", "rounding", "climate"]
)
def test_what_may_be_left_out(key):
    document = small(**{key: None})
    libcure.validate(document)
    libcure.read_chart(document)


def test_every_cell_has_what_its_place_says():
    chart = libcure.read_chart(small(criteria__release={"alpha_min": 0.75}))
    for index, case in chart.cases.items():
        document = case.document
        assert document["resin"] == CHART["axes"][0]["values"][index[0]]
        ground = CHART["axes"][1]["values"][index[1]]
        assert document["ground"]["temperature_C"] == document["initial_temperature_C"]["pipe"] == ground
        assert document["pipe"]["wall_mm"] == 15
        assert document["release"]["alpha_min"] == 0.75


def test_a_case_by_path_starts_from_the_charts_folder(tmp_path):
    folder = tmp_path / "cases"
    folder.mkdir()
    (folder / "base.json").write_text(json.dumps(CHART["case"]), encoding="utf-8")
    path = tmp_path / "chart.json"
    path.write_text(json.dumps(small(case="cases/base.json")), encoding="utf-8")
    chart = libcure.read_chart(path)
    assert chart.inputs_hash == libcure.read_chart(CHART | {"case": CHART["case"]}).inputs_hash
    assert libcure.read_chart(small(case="cold_ground_winter", fixed={})).base.title.startswith("Invented: Fallow")


def test_the_hash_follows_everything_that_the_numbers_depend_on(tmp_path):
    first = libcure.read_chart(CHART).inputs_hash
    assert libcure.read_chart(small()).inputs_hash == first
    resin = json.loads((libcure.models_folder() / "resins" / "epoxy-amine-fast.json").read_text(encoding="utf-8"))
    (tmp_path / "own.json").write_text(json.dumps(resin), encoding="utf-8")
    own = libcure.read_chart(small(axes__0__values=["epoxy-amine-slow", "own.json"]), beside=tmp_path)
    resin["heat_of_reaction"]["value"] += 1
    (tmp_path / "own.json").write_text(json.dumps(resin), encoding="utf-8")
    changed = libcure.read_chart(small(axes__0__values=["epoxy-amine-slow", "own.json"]), beside=tmp_path)
    hashes = {
        first,
        own.inputs_hash,
        changed.inputs_hash,
        libcure.read_chart(small(uncertain__seed=8)).inputs_hash,
        libcure.read_chart(small(case__liner__thickness_mm=4.1)).inputs_hash,
        libcure.read_chart(CHART, samples=32).inputs_hash,
    }
    assert len(hashes) == 6


def test_months_cover_the_year():
    assert month_days(1)[0] == 1.0 and month_days(12)[1] == 366.0
    assert all(month_days(m)[1] == month_days(m + 1)[0] for m in range(1, 12))


def test_a_month_axis_takes_the_ground_of_the_middle_of_the_month():
    """Kusuda and Achenbach (ASHRAE Trans. 71, 61, 1965), with the day and the depth of the document."""
    document = small(axes__1__values=None, axes__1__months=[2, 8], axes__1__unit=None)
    libcure.validate(document)
    chart = libcure.read_chart(document)
    c = CHART["climate"]
    from libcure import _core

    for j, day in ((0, 32.0 + 14.0), (1, 213.0 + 15.5)):
        expected = (
            _core.ground_temperature(
                c["annual_mean_C"] + 273.15,
                c["amplitude_K"],
                c["day_of_minimum"],
                1e-6 * c["diffusivity_mm2_s"],
                c["depth_m"],
                day,
            )
            - 273.15
        )
        case = chart.cases[0, j].document
        assert case["ground"]["temperature_C"] == pytest.approx(float(expected), abs=1e-5)
        assert case["initial_temperature_C"]["pipe"] == case["ground"]["temperature_C"]


@pytest.mark.parametrize(
    ("wanted", "cells"),
    [
        ("centre", ((1, 1),)),
        ("corners", ((0, 0), (0, 1), (1, 0), (1, 1))),
        ("none", ()),
        ([{"hardener": "slow", "ground": "15"}], ((0, 1),)),
    ],
)
def test_cells_of_the_sensitivity(wanted, cells):
    document = small(sensitivity__cells=wanted)
    libcure.validate(document)
    assert libcure.read_chart(document).sensitivity_cells == cells


def test_the_release_criterion_is_told():
    def told(**changes):
        return next(
            line for line in words.assumptions(libcure.read_chart(small(**changes))) if line.startswith("Release")
        )

    stated = told(criteria__release={"alpha_min": 0.75})
    assert "cure in % at least 75 and" in stated and "to bear" not in stated
    alpha = {"name": "alpha", "sets": ["release.alpha_min"], "values": [0.7, 0.8]}
    assert "at least 70 to 80 (by cell) and" in told(axes__0=alpha, layout__columns="alpha")
    # By mechanics: 5 % past the gel point, which is a theoretical 0.577 of the slow epoxy and 0.5 of the fast one.
    models = [libcure.models_folder() / "resins" / f"epoxy-amine-{name}.json" for name in ("slow", "fast")]
    gel = [json.loads(path.read_text(encoding="utf-8"))["gel"]["alpha_gel"]["value"] for path in models]
    least, most = sorted(f"{100.0 * alpha + 5.0:.3g}" for alpha in gel)
    assert f"at least {least} to {most} (by cell) and Tg in K above the resin at least 11 everywhere" in told()
    assert "to bear own weight and bladder drag" in told()


def test_the_release_criterion_is_that_of_every_wall():
    """A head of groundwater asks most of the thinnest liner, which the sheet must not leave out."""
    thickness = {"name": "thickness", "sets": ["liner.thickness_mm"], "values": [2, 6]}
    document = small(axes__1=thickness, layout__rows="thickness", criteria__release={"bears": {"water_head_m": 4}})
    chart = libcure.read_chart(document)
    margins = [libcure.predict(case, uncertain="none").verdict["criterion"]["Tg_margin_K"] for case in chart.cases.values()]
    least, most = min(margins), max(margins)
    assert most > least + 1.0
    told = words.assumptions(chart)
    assert any(f"at least {least:.3g} to {most:.3g} (by cell) everywhere, to bear groundwater" in line for line in told)
