"""Fill cycles, and materials that vary with temperature."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from conditions_case import MODELS, case, codes, release, verdict
from numpy.testing import assert_allclose

import libcure


def test_cycle_is_its_table() -> None:
    cycle = {"start_C": 10, "legs": [{"to_C": 40, "rate_K_min": 1.5, "hold_min": 60}, {"to_C": 20, "rate_K_min": 0.5, "hold_min": 0}]}
    table = {"time_min": [0, 20, 80, 120], "value": [10, 40, 40, 20]}
    a = verdict(held={"fill_temperature_C": None, "fill_cycle": cycle})
    b = verdict(held={"fill_temperature_C": table})
    assert a["criterion_met_min"] == pytest.approx(b["criterion_met_min"], rel=1e-9)
    assert a["layer_peak"]["bladder"]["temperature_C"] == pytest.approx(b["layer_peak"]["bladder"]["temperature_C"], abs=1e-6)


def test_fill_hotter_than_the_bladder_may_be() -> None:
    cycle = {"legs": [{"to_C": 85, "rate_K_min": 2, "hold_min": 60}, {"to_C": 20, "rate_K_min": 1, "hold_min": 0}]}
    v = verdict(held={"fill_temperature_C": None, "fill_cycle": cycle})
    assert "fill_above_bladder_limit" in codes(v)  # natural rubber: 70 °C


def with_table(tmp_path: Path, **table: Any) -> str:
    document = json.loads((MODELS / "materials" / "pvc.json").read_text(encoding="utf-8"))
    document["temperature_table"] = {
        "temperature": {"values": [0, 40, 80], "unit": "degC"},
        **table,
        "basis": "assumption",
        "source": "none",
        "where": "test",
        "note": "invented",
    }
    path = tmp_path / "plastic.json"
    path.write_text(json.dumps(document))
    libcure.validate(document)
    return str(path)


def test_flat_table_is_no_table(tmp_path: Path) -> None:
    k = json.loads((MODELS / "materials" / "pvc.json").read_text(encoding="utf-8"))["conductivity"]["value"]
    flat = with_table(tmp_path, conductivity={"values": [k, k, k], "unit": "W/(m K)"})
    a, b = verdict(pipe={"material": "pvc"}), verdict(pipe={"material": flat})
    for key in ("working_time_min", "criterion_met_min", "peak_temperature_C"):
        # A wall with tables takes another method than one left alone; both hold the same tolerance.
        assert_allclose(a[key], b[key], rtol=1e-4)


def test_more_heat_capacity_and_less_conductivity_are_felt(tmp_path: Path) -> None:
    hot = {"held": {"fill_temperature_C": 50, "h_W_m2K": 300}, "pipe": {"material": "pvc"}}
    plain = release(verdict(**hot))
    heavy = with_table(tmp_path, specific_heat={"values": [2.7, 2.7, 2.7], "unit": "kJ/(kg K)"})
    assert release(verdict(held=hot["held"], pipe={"material": heavy})) > plain
    insulating = with_table(tmp_path, conductivity={"values": [40, 40, 40], "unit": "mW/(m K)"})
    assert release(verdict(held=hot["held"], pipe={"material": insulating})) < plain


@pytest.mark.parametrize(
    ("table", "says"),
    [
        ({}, "conductivity, specific_heat, or both"),
        ({"conductivity": {"values": [1, 2], "unit": "W/(m K)"}}, "3, one for each temperature"),
        ({"conductivity": {"values": [1, 2, -1], "unit": "W/(m K)"}}, "above 0"),
        ({"conductivity": {"values": [1, 2, 3], "unit": "degC"}}, "one of W/"),
        (
            {"temperature": {"values": [0, 0, 80], "unit": "degC"}, "conductivity": {"values": [1, 2, 3], "unit": "W/(m K)"}},
            "rising",
        ),
    ],
)
def test_bad_tables_are_refused(tmp_path: Path, table: dict[str, Any], says: str) -> None:
    document = json.loads((MODELS / "materials" / "hdpe.json").read_text(encoding="utf-8"))
    kept = {k: document["temperature_table"][k] for k in ("temperature", "basis", "source", "where", "note")}
    document["temperature_table"] = {**kept, **table}
    path = tmp_path / "bad.json"
    path.write_text(json.dumps(document))
    with pytest.raises(libcure.CureError, match=says) as caught:
        case(pipe={"material": str(path)})
    assert "temperature_table" in caught.value.field
