"""A rate law as a table in a resin's document, against closed forms and the law that it is a table of."""

import copy
import json
import math

import numpy as np
import pytest

import libcure
from libcure import zero_d
from libcure.documents import models_folder

R = 8.31446261815324  # [J/(mol K)], CODATA 2018
K20, E = 2e-4, 55e3  # of an invented first-order law [1/s, J/mol]
ORIGIN = {"basis": "assumption", "source": "none", "where": "this test", "note": "Invented."}
TEMPERATURES = [0.0, 20.0, 45.0, 90.0, 250.0]  # what is left in the pot gets hot


def k(celsius: float) -> float:
    return K20 * math.exp(-E / R * (1.0 / (celsius + 273.15) - 1.0 / 293.15))


def first_order(**rate) -> dict:
    """An invented resin whose rate is k (1 - alpha): straight in alpha, and Arrhenius between temperatures, as the table is read."""
    document = json.loads((models_folder() / "resins" / "epoxy-amine-slow.json").read_text(encoding="utf-8"))
    del document["covariance"]
    return document | {"id": "table", "title": "Invented: a table", "rate": rate, "diffusion": {"form": "none"}}


TABLE = {
    "law": "tabulated", "temperature": {"values": TEMPERATURES, "unit": "degC"}, "alpha": {"values": [0, 0.25, 1], "unit": "1"},
    "rate": {"values": [60.0 * k(T) * (1.0 - a) for T in TEMPERATURES for a in (0, 0.25, 1)], "unit": "1/min"}, **ORIGIN,
}  # fmt: skip
LAW = {
    "law": "nth-order", "n": {"value": 1, "unit": "1", **ORIGIN},
    "k": {"k_ref": {"value": K20, "unit": "1/s", **ORIGIN}, "T_ref": {"value": 20, "unit": "degC", **ORIGIN},
          "E": {"value": E, "unit": "J/mol", **ORIGIN}},
}  # fmt: skip


def file(folder, document):
    (folder / "resins").mkdir(exist_ok=True)
    path = folder / "resins" / f"{document['id']}.json"
    path.write_text(json.dumps(document), encoding="utf-8")
    return path


def test_cure_at_and_between_the_temperatures_of_the_table_is_the_closed_form(tmp_path):
    resin = libcure.load_resin(file(tmp_path, first_order(**TABLE)))
    celsius, time = np.array([20.0, 31.0, 70.0]), np.linspace(0.0, 3e4, 40)
    wanted = 1.0 - np.exp(-np.array([[k(T)] for T in celsius]) * time)
    np.testing.assert_allclose(zero_d.isothermal(resin, celsius + 273.15, time), wanted, atol=2e-6)


def test_a_job_with_the_table_is_the_job_with_its_law(tmp_path):
    file(tmp_path, first_order(**TABLE))
    file(tmp_path, first_order(**LAW) | {"id": "law"})
    cold = libcure.load_case(models_folder() / "cases" / "cold_ground_winter.json", models=tmp_path)
    table, law = (libcure.predict(cold.replace({"resin": name}), uncertain="none").times for name in ("table", "law"))
    for time in ("working_min", "gel_first_min", "gel_last_min"):
        assert getattr(table, time) == pytest.approx(getattr(law, time), rel=1e-6), time


@pytest.mark.parametrize(("change", "message"), [
    ({"rate": {"values": TABLE["rate"]["values"][:-1], "unit": "1/s"}}, r"rate.rate: 14 numbers; allowed: 15"),
    ({"rate": {"values": [1e-3] * 15, "unit": "1/s"}}, r"rate.rate\[2\].*0, where cure ends"),
    ({"rate": {"values": [-1.0] * 15, "unit": "1/s"}}, r"rate.rate.values\[0\]"),
    ({"temperature": {"values": [20, 10, 30, 40, 50], "unit": "degC"}}, r"rate.temperature.*rising"),
    ({"alpha": {"values": [0.1, 0.5, 1], "unit": "1"}}, r"rate.alpha.*rising from 0"),
    ({"k": {}}, "unknown key"),
])  # fmt: skip
def test_another_table_is_refused(tmp_path, change, message):
    with pytest.raises(libcure.CureError, match=message):
        libcure.load_resin(file(tmp_path, first_order(**{**TABLE, **change})))


def test_what_slows_the_cure_down_is_in_the_table(tmp_path):
    document = first_order(**TABLE)
    slow = json.loads((models_folder() / "resins" / "epoxy-amine-slow.json").read_text(encoding="utf-8"))
    for change, key in (({"diffusion": slow["diffusion"]}, "diffusion"), ({"inhibitor": {}}, "inhibitor")):
        refused = copy.deepcopy(document) | change
        with pytest.raises(libcure.CureError, match=f"{key}.*beside a tabulated rate"):
            libcure.load_resin(file(tmp_path, refused))
        with pytest.raises(libcure.CureError, match=f"{key}|False schema does not allow"):
            libcure.validate(refused)
    libcure.validate(document)


def test_a_job_that_leaves_the_table_stops(tmp_path):
    narrow = copy.deepcopy(TABLE)
    narrow["temperature"]["values"] = [15.0, 16.0, 17.0, 18.0, 19.0]
    file(tmp_path, first_order(**narrow))
    cold = libcure.load_case(models_folder() / "cases" / "cold_ground_winter.json", models=tmp_path)
    with pytest.raises(libcure.CureError, match="temperature of a tabulated rate"):
        libcure.predict(cold.replace({"resin": "table"}), uncertain="none")
