"""Numbers of sizes that no quantity has, in every place of every document that comes with libcure: refused, or harmless.

And codes for missing values, such as -9999, and zeros of dead channels among readings and weather.
"""

import copy
import json
import math
import re
import warnings
from pathlib import Path

import numpy as np
import pytest
from conditions_case import CASE, point
from test_fit_bad_data import analyse, codes, good

import libcure
from libcure import fitting
from libcure.fitting.checks import check_numbers
from libcure.recording.site import load_site

ROOT = Path(__file__).parents[2]
MODELS = libcure.models_folder()
COLD = json.loads((MODELS / "cases" / "cold_ground_winter.json").read_text(encoding="utf-8"))
ODD = (1e308, -1e308, 5e-324, 1e-300)
DOCUMENTS = {f"{path.parent.name}/{path.stem}": path
             for path in sorted([*MODELS.glob("[!s]*/*.json"), *(ROOT / "notebooks" / "data").rglob("*.json")])}


def places(node, path=()):
    """Where numbers stand in a document."""
    if isinstance(node, int | float) and not isinstance(node, bool):
        yield path
    for key, value in node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ():
        yield from places(value, (*path, key))


def changed(document, path, value):
    document = copy.deepcopy(document)
    node = document
    for key in path[:-1]:
        node = node[key]
    node[path[-1]] = value
    return document


def dotted(path):
    return "".join(f"[{key}]" if isinstance(key, int) else f".{key}" for key in path).lstrip(".")


def read(path):
    """A document as its own command reads it; those that can be predicted with come back as a case."""
    kind = path.parent.name
    if path.name.endswith("fit.json"):
        return fitting.load(path)
    if path.name.endswith("site.json"):
        return load_site(path)
    if kind == "charts":
        return libcure.read_chart(path)
    place = {"cases": None, "resins": "resin", "materials": "pipe.material", "grounds": "ground.material"}[kind]
    if place is None:
        return libcure.load_case(path)
    return libcure.Case.from_dict(COLD).replace({place: str(path)})


@pytest.fixture
def beside(tmp_path):
    """Writes a changed document beside what it names."""

    def write(path, document):
        target = tmp_path / path.parent.name
        target.mkdir(exist_ok=True)
        for other in path.parent.iterdir():
            if other.suffix == ".csv" and not (target / other.name).exists():
                (target / other.name).symlink_to(other)
        (target / path.name).write_text(json.dumps(document), encoding="utf-8")
        return target / path.name

    return write


def test_every_kind_of_document_is_looked_at():
    kinds = {json.loads(path.read_text(encoding="utf-8"))["format"] for path in DOCUMENTS.values()}
    assert {"libcure/case/1", "libcure/resin/1", "libcure/resin-blend/1", "libcure/material/1", "libcure/ground/1", "libcure/chart/1",
            "libcure/fit/1", "libcure/site/1"} <= kinds


@pytest.mark.parametrize("name", DOCUMENTS)
def test_sizes_that_no_quantity_has_are_refused_by_their_path(name, beside):
    path = DOCUMENTS[name]
    document = json.loads(path.read_text(encoding="utf-8"))
    for place in places(document):
        for value in ODD:
            with pytest.raises(libcure.CureError) as told:
                read(beside(path, changed(document, place, value)))
            assert told.value.field == dotted(place)
            assert told.value.allowed.startswith("0, or of a size from 1e-100")


ZEROS = {}  # each kind of place once a folder
for _name, _path in DOCUMENTS.items():
    _document = json.loads(_path.read_text(encoding="utf-8"))
    for _place in places(_document):
        ZEROS.setdefault((_path.parent.name, _document.get("rate", {}).get("law", ""), tuple(k for k in _place if isinstance(k, str))), (_name, _place))


@pytest.mark.parametrize("name", sorted({name for name, _ in ZEROS.values()}))
def test_zero_is_refused_or_gives_finite_numbers(name, beside):
    """Warnings are errors here, those of NumPy and SciPy too."""
    path = DOCUMENTS[name]
    document = json.loads(path.read_text(encoding="utf-8"))
    for place in [place for found, place in ZEROS.values() if found == name]:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            for value in (0.0, -0.0):
                try:
                    found = read(beside(path, changed(document, place, value)))
                except libcure.CureError as error:
                    assert error.field
                    assert error.allowed
                    continue
                if not isinstance(found, libcure.Case):
                    continue
                try:
                    json.dumps(point(found).to_json(), allow_nan=False)
                except libcure.CureError as error:
                    # A rate of 1e9 a second without an activation energy.
                    assert "no further step could be made" in str(error)


KELVIN = {"temperature": 273.15, "heat_flow": 0.0}


@pytest.mark.parametrize("code", [-9999.0, -999.0, 9999.0, 99999.0, 1e308, -1e308])
@pytest.mark.parametrize("rows", [slice(400, 401), slice(400, 440), slice(-2, None), slice(0, 2)], ids=["one", "many", "last", "first"])
@pytest.mark.parametrize("what", KELVIN)
def test_codes_for_missing_values_in_a_calorimeter_record_are_refused(what, rows, code):
    values = getattr(good(), what).copy()
    values[rows] = code + KELVIN[what]
    with pytest.raises(libcure.CureError, match=rf"run A: {what.replace('_', ' ')}: {re.escape(f'{code:g}')} .*; leave out rows in which nothing was measured"):
        analyse(good(**{what: values}))


@pytest.mark.parametrize("many", [2, 3, 40])
@pytest.mark.parametrize("what", KELVIN)
def test_zeros_of_a_dead_channel_in_a_calorimeter_record_are_refused(what, many):
    values = getattr(good(), what).copy()
    values[380 : 380 + many] = KELVIN[what]
    with pytest.raises(libcure.CureError, match=rf"run A: {what.replace('_', ' ')}: exactly 0 .* \({many} rows, the first at .*\); allowed: what was measured"):
        analyse(good(**{what: values}))


def test_a_signal_that_crosses_zero_or_settles_is_no_dead_channel():
    """Rounded to what an export prints, zeros stand in a row; and the first row of a record may be far off."""
    r = good()
    rounded = np.round((r.heat_flow - np.mean(r.heat_flow[:100])) / np.ptp(r.heat_flow), 2) * np.ptp(r.heat_flow)
    assert np.count_nonzero(rounded == 0.0) > 20
    assert not codes(analyse(good(heat_flow=rounded))) & {"alpha_falls"}
    settling = r.heat_flow.copy()
    settling[0] = 20.0 * np.max(settling)
    check_numbers("run A", good(heat_flow=settling))


@pytest.mark.parametrize("code", [-9999.0, -999.0, 9999.0, 1e308])
def test_codes_for_missing_values_among_a_jobs_readings_are_said_and_left_out(code, tmp_path):
    log = (ROOT / "notebooks" / "data" / "follow" / "cold_ground.csv").read_text(encoding="utf-8").splitlines()
    for row in (20, 21, 40):
        log[row] = f"{log[row].split(',')[0]},{code:g}"
    file = tmp_path / "log.csv"
    file.write_text("\n".join([*log, ""]), encoding="utf-8")
    followed = libcure.follow(MODELS / "cases" / "cold_ground_winter.json", file, samples=256)
    (fault,) = [s for s in followed.faults if s.code == "out_of_range"]
    # One more is in the log as it comes.
    assert fault.text.startswith("4 readings outside -40 to 250 °C")


def test_zeros_of_a_dead_channel_among_a_jobs_readings_are_said_and_left_out(tmp_path):
    job = json.loads((MODELS / "cases" / "hot_packer_summer.json").read_text(encoding="utf-8"))
    held = sum(stage["duration_min"] for stage in job["stages"][:2])
    rows = [f"{held + 3 + i},{0 if 20 <= i < 26 else 24 + 0.1 * math.sin(i):.2f}" for i in range(60)]
    file = tmp_path / "log.csv"
    file.write_text("\n".join(["time_min,temperature_C", *rows, ""]), encoding="utf-8")
    followed = libcure.follow(libcure.Case.from_dict(job, beside=MODELS / "cases"), file, samples=256)
    (fault,) = [s for s in followed.faults if s.code == "dead"]
    assert fault.text.startswith("6 readings are exactly 0.0")


@pytest.mark.parametrize(("months", "field"), [
    ([1, 2, 5, 9, 14, -9999, 19, 18, 15, 10, 6, 2], "ground.climate.monthly_mean_C[5]"),
    ([0, 0, 5, 9, 14, 17, 19, 18, 15, 10, 0, 0], "ground.climate.monthly_mean_C"),
    ([1, 2, 5, 9, 0, 0, 0, 0, 15, 10, 6, 2], "ground.climate.monthly_mean_C"),
])  # fmt: skip
def test_weather_with_missing_months_is_refused(months, field):
    def ground(months):
        return CASE | {"ground": {"material": "moist-sand", "climate": {"monthly_mean_C": months, "depth_m": 1.5, "day": 60}}}

    with pytest.raises(libcure.CureError) as told:
        libcure.Case.from_dict(ground(months))
    assert told.value.field == field
    libcure.Case.from_dict(ground([0, 0, 5, 9, 14, 17, 19, 18, 15, 10, 6, 0]))
    chart = json.loads((MODELS / "charts" / "seasonal.json").read_text(encoding="utf-8"))
    chart["climate"] = {"annual_mean_C": 9, "amplitude_K": 9, "day_of_minimum": 35, "diffusivity_mm2_s": 0.6, "depth_m": 1.5,
                        "air": {"monthly_mean_C": months}}
    with pytest.raises(libcure.CureError) as told:
        libcure.read_chart(chart)
    assert told.value.field == field.replace("ground.climate", "climate.air")
