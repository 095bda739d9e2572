"""Quantities of pint where a number in a given unit is expected, and tables for polars."""

import numpy as np
import pandas as pd
import pint
import pytest

import libcure
from libcure import heat, zero_d
from libcure.documents import models_folder
from libcure.documents.frames import to_polars
from libcure.documents.quantities import in_unit, unit_of_key

UNITS = pint.UnitRegistry()
Q = UNITS.Quantity
COLD = models_folder() / "cases" / "cold_ground_winter.json"


def test_a_case_takes_them_in_the_unit_of_the_key():
    case = libcure.load_case(COLD)
    given = case.replace({
        "ground.temperature_C": Q(46.4, "degF"), "pipe.inner_diameter_mm": Q(6, "inch"), "initial_temperature_C.resin": Q(285.15, "kelvin"),
        "stages.held.duration_min": Q(8, "hour"), "stages.held.h_W_m2K": Q(2, "BTU/hour/ft**2/delta_degF"),
        "stages.held.fill_temperature_C": {"time_min": Q([0, 0.5], "hour"), "value": Q(np.array([50.0, 86.0]), "degF")},
    })  # fmt: skip
    plain = case.replace({
        "ground.temperature_C": 8.0, "pipe.inner_diameter_mm": 152.4, "initial_temperature_C.resin": 12.0, "stages.held.duration_min": 480.0,
        "stages.held.h_W_m2K": 11.3565, "stages.held.fill_temperature_C": {"time_min": [0.0, 30.0], "value": [10.0, 30.0]},
    })  # fmt: skip
    got, wanted = given.document, plain.document
    held = next(i for i, stage in enumerate(got["stages"]) if stage["kind"] == "held")
    assert got["stages"][held].pop("h_W_m2K") == pytest.approx(wanted["stages"][held].pop("h_W_m2K"), rel=1e-5)
    assert got == wanted


@pytest.mark.parametrize(("path", "value", "message"), [
    ("ground.temperature_C", Q(8, "meter"), r"ground.temperature_C: 8 meter; allowed: a quantity that has the unit degC"),
    ("ground.temperature_C", Q(8, "delta_degC"), "ground.temperature_C"),
    ("release.Tg_margin_K", Q(10, "degC"), "difference of temperatures"),
    ("liner.fibre_volume_fraction", Q(3, "mm"), "a pure number"),
    ("pipe.inner_diameter_mm", Q(9, "meter"), "pipe.inner_diameter_mm: 9000"),
])  # fmt: skip
def test_another_kind_of_quantity_is_refused(path, value, message):
    with pytest.raises(libcure.CureError, match=message):
        libcure.load_case(COLD).replace({path: value})


def test_differences_and_pure_numbers():
    assert in_unit(Q(9, "delta_degF"), "kelvin", "x") == 5.0 and in_unit(Q(30, "percent"), "", "x") == 0.3
    assert in_unit("natural", "kelvin", "x") == "natural" and in_unit(7, "mm", "x") == 7
    assert [unit_of_key(p) for p in ("release.alpha_min", "section.ground_offset_K.clock", "section.ground_offset_K.value", "stages[1].kind")] \
        == ["", "", "kelvin", ""]  # fmt: skip


def test_heat_takes_them():
    np.testing.assert_array_equal(heat.h_open_air(Q([5.0, 10.0], "degC"), Q(0, "degC"), Q(150, "mm"), Q(3.6, "km/hour"), Q(1, "bar")),
                                  heat.h_open_air([278.15, 283.15], 273.15, 0.15, 1.0, 1e5))
    assert heat.h_radiation(Q(90, "percent"), Q(50, "degF"), 300.0) == heat.h_radiation(0.9, 283.15, 300.0)
    assert heat.nusselt_free_cylinder(Q(1e5, ""), 0.7) == heat.nusselt_free_cylinder(1e5, 0.7)
    of_ground = (Q(10, "degC"), Q(9, "delta_degC"), Q(5, "week"), Q(0.05, "m**2/day"), Q(140, "cm"), 50.0)
    assert heat.ground_temperature(*of_ground) == pytest.approx(heat.ground_temperature(283.15, 9.0, 35.0, 0.05 / 86400.0, 1.4, 50.0), rel=1e-12)
    assert heat.steady_heat_around(Q([0, 180, 360], "degree"), Q([75, 75], "mm"), Q([4, 4], "mm"), 0.2, 4, Q(20, "degC"), 283.15) \
        == pytest.approx(heat.steady_heat_around([0.0, np.pi, 2 * np.pi], [0.075, 0.075], [0.004, 0.004], 0.2, 4, 293.15, 283.15), rel=1e-9)  # fmt: skip
    for wrong in ((Q(5, "m"), 273.15), (Q(5, "delta_degC"), 273.15)):
        with pytest.raises(libcure.CureError, match="T1: 5"):
            heat.h_radiation(0.9, *wrong)


def test_a_wall_takes_them():
    def solved(thickness, k, air, times, initial):
        layer = {"name": "plate", "thickness": thickness, "conductivity": k, "density": 1000.0, "specific_heat": 1000.0, "cells": 5}
        inner = {"kind": "convection", "h": 10.0, "temperature": {"time": times, "value": air}}
        return heat.solve_wall("slab", 0.0, [layer], inner, {"kind": "temperature", "time": [0.0], "value": initial[:1]}, initial, times)[0]

    np.testing.assert_array_equal(
        solved(Q(1, "cm"), Q(200, "mW/m/delta_degC"), Q([20.0, 40.0], "degC"), Q([0, 1], "hour"), Q([10.0] * 5, "degC")),
        solved(0.01, 0.2, [293.15, 313.15], [0.0, 3600.0], [283.15] * 5))
    with pytest.raises(libcure.CureError, match=r"layers\[0\].thickness: 1 "):
        solved(Q(1, "kg"), 0.2, [293.15, 313.15], [0.0, 3600.0], [283.15] * 5)


def test_single_temperatures_take_them_too():
    resin = libcure.load_resin("epoxy-amine-medium")
    np.testing.assert_array_equal(zero_d.isothermal(resin, Q([20.0, 30.0], "degC"), Q([0.0, 1.0, 2.0], "hour")),
                                  zero_d.isothermal(resin, [293.15, 303.15], [0.0, 3600.0, 7200.0]))
    with pytest.raises(libcure.CureError, match="temperature: .*kelvin"):
        zero_d.isothermal(resin, Q(20.0, "mm"), [0.0, 1.0])
    with pytest.raises(libcure.CureError, match="difference"):
        zero_d.isothermal(resin, Q(20.0, "delta_degC"), [0.0, 1.0])


def test_tables_are_those_of_polars_too():
    case = libcure.load_case(COLD)
    for one in (libcure.predict(case, uncertain="none"), libcure.ensemble.simulate_many(case, {"ground.temperature_offset_K": [0.0, 1.0]})):
        table, columns = one.to_dataframe(), one.to_polars()
        assert columns.height == len(table) and columns.columns[-1] == table.columns[-1]
        for name in table.select_dtypes("number"):
            np.testing.assert_array_equal(columns[name].to_numpy(), table[name].to_numpy())
    rows = to_polars(libcure.rows_to_dataframe(libcure.predict_many([COLD, "none.json"], uncertain="none")))
    assert rows["index"].to_list() == [0, 1] and rows["criterion_met_min"].null_count() == 1 and rows["error"].to_list()[0] is None


def test_without_polars_the_error_says_what_to_install(monkeypatch):
    monkeypatch.setitem(__import__("sys").modules, "polars", None)
    with pytest.raises(ImportError, match="pip install polars"):
        to_polars(pd.DataFrame({"a": [1]}))
