"""Bytes of shipped files changed at random, for the readers in Python: a whole reading, or one clear refusal."""

import json
import shutil
from pathlib import Path

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from test_changed_files import assert_clear, changed

import libcure
from libcure import charting, fitting
from libcure.documents.csv_table import read_table
from libcure.recording.site import load_site
from libcure.studying.family import FAMILIES, find_family
from libcure.studying.protocol import example
from libcure.studying.study import load as load_study

DATA = Path(__file__).parents[2] / "notebooks" / "data"
FIT = json.loads((DATA / "dsc" / "fit.json").read_text(encoding="utf-8"))
STUDIES = [example(find_family(name), [5.0, 15.0]) for name in FAMILIES]
PIECES = [b"", b",", b";", b"\t", b"\n", b"\r", b'"', b"'", b"-9999", b"1e308", b"1e999", b"5e-324", b"-0.0", b"nan", b"inf", b"0", b"\0",
          b"\xff\xfe", b"\xef\xbb\xbf", b"\xc2\xb0", b"#", b":", b"1:2:3", b"1.234,5", b"{", b"}", b"[", b"]", b"null", b"1" * 5000, b"%",
          b"time", b"K", b"\x1b[31m"]
cheap = settings(max_examples=120, deadline=None, derandomize=True)
dear = settings(max_examples=30, deadline=None, derandomize=True)


@st.composite
def mutated(draw, data):
    """The bytes of a file with one to six places overwritten, cut out, doubled, or with something put in."""
    data = bytearray(data)
    for _ in range(draw(st.integers(1, 6))):
        # The beginning, where headings and units stand, as often as all the rest.
        at = draw(st.integers(0, min(len(data), 200)) | st.integers(0, len(data)))
        length = draw(st.sampled_from([0, 1, 1, 2, 8, 100]))
        piece = bytes(data[at : at + 50]) if draw(st.booleans()) else draw(st.sampled_from(PIECES) | st.binary(max_size=4))
        data[at : at + length] = piece
    return bytes(data)


def read_or_refused(read, path):
    """What is read; None where it was refused in one line."""
    try:
        return read(path)
    except libcure.CureError as error:
        assert_clear(error)
        return None


def first(path, lines):
    return b"".join(path.read_bytes().splitlines(keepends=True)[:lines])


@cheap
@given(data=mutated(first(DATA / "dsc" / "ramp_5K.csv", 120)))
def test_an_export(data, tmp_path_factory):
    path = tmp_path_factory.getbasetemp() / "run.csv"
    path.write_bytes(data)
    record = read_or_refused(fitting.read_csv, path)
    if record is not None:
        assert len(record.time) == len(record.temperature) == len(record.heat_flow) >= 50
        assert all(np.isfinite(x).all() for x in (record.time, record.temperature, record.heat_flow))


@dear
@given(data=mutated((DATA / "dsc" / "ramp_5K.csv").read_bytes()))
def test_a_run(data, tmp_path_factory):
    """As far as its degree of cure."""
    path = tmp_path_factory.getbasetemp() / "run.csv"
    path.write_bytes(data)

    def read(path):
        return fitting.analyse(fitting.read_csv(path), "A", mass_kg=8.3e-6, exotherm_up=False, heating_rate=5 / 60)

    run = read_or_refused(read, path)
    if run is not None:
        assert np.isfinite(run.alpha).all() and np.isfinite(run.rate).all() and np.isfinite(run.heat)


@cheap
@given(data=mutated(first(DATA / "follow" / "cold_ground.csv", 80)))
def test_a_table(data, tmp_path_factory):
    path = tmp_path_factory.getbasetemp() / "table.csv"
    path.write_bytes(data)
    table = read_or_refused(lambda path: read_table(path, "rows"), path)
    if table is not None:
        for row in range(len(table.rows)):
            for column in range(len(table.heading)):
                assert not np.isinf(table.number(row, column))


@cheap
@given(data=mutated((DATA / "record" / "site.json").read_bytes()))
def test_a_site(data, tmp_path_factory):
    folder = tmp_path_factory.getbasetemp()
    shutil.copy(DATA / "record" / "pressure.csv", folder)
    (folder / "site.json").write_bytes(data)
    read_or_refused(load_site, folder / "site.json")


@cheap
@given(data=mutated((libcure.models_folder() / "charts" / "seasonal.json").read_bytes()))
def test_a_chart_with_its_climate(data, tmp_path_factory):
    path = tmp_path_factory.getbasetemp() / "chart.json"
    path.write_bytes(data)
    read_or_refused(charting.read_chart, path)


@cheap
@given(document=changed(STUDIES))
def test_a_study(document, tmp_path_factory):
    path = tmp_path_factory.getbasetemp() / "study.json"
    path.write_text(json.dumps(document))
    read_or_refused(load_study, path)


@dear
@given(document=changed([FIT | {"runs": FIT["runs"][:2]}]))
def test_a_fit(document, tmp_path_factory):
    folder = tmp_path_factory.getbasetemp() / "fit"
    if not folder.exists():
        shutil.copytree(DATA / "dsc", folder)
    (folder / "fit.json").write_text(json.dumps(document))
    study = read_or_refused(fitting.load, folder / "fit.json")
    if study is not None:
        assert all(np.isfinite(run.alpha).all() for run in study.runs)
