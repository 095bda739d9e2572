"""Ground, frost, groundwater, films and fill together, and how they are shown."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from conditions_case import CLIMATE, MODELS, case, codes, few, ground, numbers, verdict
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

import libcure
from libcure import ensemble


@few
@given(
    material=st.sampled_from(["moist-sand", "saturated-sand", "moist-clay", "silt", "loam"]),
    pipe=st.sampled_from(["hdpe", "vitrified-clay", "cast-iron"]),
    temperature=numbers(-4, 10),
    freezing=st.booleans(),
    water=st.one_of(st.none(), st.floats(50, 2000)),
    wind=numbers(0, 20),
    bore=numbers(-20, 20),
    to=st.floats(30, 80),
)
def test_energy_closes_whatever_is_asked_for(
    material: str, pipe: str, temperature: float, freezing: bool, water: float | None, wind: float, bore: float, to: float
) -> None:
    cycle = {"legs": [{"to_C": to, "rate_K_min": 2, "hold_min": 60}, {"to_C": 15, "rate_K_min": 1, "hold_min": 0}]}
    v = verdict(
        ground=ground(
            material=material,
            temperature_C=temperature,
            freezing=freezing,
            groundwater=None if water is None else {"h_W_m2K": water, "temperature_C": 3},
        ),
        pipe={"material": pipe},
        wet_out={"h_W_m2K": "wind", "wind_m_s": wind, "surroundings_temperature_C": -10},
        held={"fill_temperature_C": None, "fill_cycle": cycle, "h_W_m2K": "natural", "duration_min": 300},
        after_release={"bore_temperature_C": bore, "h_W_m2K": "natural", "duration_min": 1440},
    )
    libcure.validate(v)
    assert v["solver"]["energy_residual"] < 1e-9
    assert np.isfinite(v["peak_temperature_C"])


def test_many_at_once_give_what_one_gives() -> None:
    """Correlations and groundwater go through the packed solver, frost and tables round it."""
    packed = {
        "ground": ground(material="saturated-sand", groundwater={"h_W_m2K": 300}),
        "wet_out": {"h_W_m2K": "wind", "wind_m_s": 5},
        "held": {"h_W_m2K": "natural", "fill_temperature_C": 45},
    }
    for changes in (packed, {"ground": ground(temperature_C=-1, freezing=True)}, {"pipe": {"material": "hdpe"}}):
        one = verdict(**changes)
        many = ensemble.simulate_many(case(**changes), {"ground.temperature_offset_K": np.zeros(3)})
        for name in ("working_time", "release_time"):
            key = "criterion_met_min" if name == "release_time" else f"{name}_min"
            assert_allclose(getattr(many, f"{name}_s") / 60, one[key], rtol=5e-3)
    one = ensemble.simulate_many(case(**packed), {"fill_h_factor": np.array([0.7, 1.0, 1.4]), "ambient_h_factor": 1.0})
    assert one.release_time_s[0] > one.release_time_s[1] > one.release_time_s[2]
    two = ensemble.simulate_many(case(**packed), {"ground.temperature_offset_K": np.array([-3.0, 0.0, 3.0])})
    assert two.release_time_s[0] > two.release_time_s[1] > two.release_time_s[2]


def test_cautions_of_ground_and_water() -> None:
    shallow = {**CLIMATE, "depth_m": 0.3}
    assert "shallow_pipe" in codes(verdict(ground=ground(temperature_C=None, climate=shallow)))
    assert "shallow_pipe" not in codes(verdict(ground=ground(temperature_C=None, climate={**CLIMATE, "depth_m": 4})))
    assert "groundwater_film_weak" in codes(verdict(ground=ground(groundwater={"h_W_m2K": 5})))
    assert "groundwater_film_weak" not in codes(verdict(ground=ground(groundwater={"h_W_m2K": 300})))
    odd = {"monthly_mean_C": [0, 10, 0, 10, 0, 10, 20, 25, 20, 10, 5, 0], "depth_m": 1.5, "day": 60}
    assert "months_not_a_wave" in codes(verdict(ground=ground(temperature_C=None, climate=odd)))


def test_pages_show_what_was_worked_out() -> None:
    from rich.console import Console

    from libcure.render.verdict_view import VerdictView

    p = libcure.predict(MODELS / "cases" / "groundwater_hot_water_fill.json")
    console = Console(width=100, record=True, force_terminal=False)
    with console.capture() as page:
        console.print(VerdictView(p))
    shown = " ".join(page.get().replace("│", " ").split())
    for words in ("on day 50", "Groundwater", "wind of 5 m/s", "Churchill & Bernstein 1977", "Evans & Stefany 1966"):
        assert words in shown
    with console.capture() as page:
        console.print(VerdictView(libcure.predict(case())))
    assert "its end changes the pipe's warming by below 0.01 %" in " ".join(page.get().split())
    assert case(ground=ground(temperature_C=None, climate=CLIMATE)).conditions["ground"]["climate"]["day"] == 60


@pytest.mark.parametrize("water", [None, {"h_W_m2K": 300, "temperature_C": 3}, {"h_W_m2K": 300, "radius_m": 0.5}])
def test_sections_have_the_same_ground_and_surfaces(water: dict[str, Any] | None) -> None:
    """With all columns alike a section says what one dimension says, also of frost, film and groundwater."""
    changes: dict[str, Any] = {
        "ground": ground(material="saturated-sand", temperature_C=-1, freezing=True, groundwater=water),
        "held": {"h_W_m2K": "natural", "fill_temperature_C": 60, "duration_min": 720},
        "after_release": {"h_W_m2K": "natural", "bore_temperature_C": -5, "duration_min": 240},
        "release": {"alpha_min": 0.5, "Tg_margin_K": 0, "safety_factor": 1},
    }
    one, two = verdict(**changes), verdict(**changes, section={"kind": "around", "columns": 8})
    libcure.validate(two)
    assert two["solver"]["energy_residual"] < 1e-9
    assert two["criterion_met_min"] == pytest.approx(one["criterion_met_min"], rel=1e-3)
    for a, b in zip(one["films"], two["films"], strict=True):
        assert b["h_high_W_m2K"] == pytest.approx(a["h_high_W_m2K"], rel=1e-3)
    if one["ground"]["coldest_C"] is None:
        assert two["ground"]["coldest_C"] is None
    else:
        assert two["ground"]["coldest_C"] == pytest.approx(one["ground"]["coldest_C"], abs=0.02)


def test_check_shows_what_ground_and_surfaces_came_to() -> None:
    from typer.testing import CliRunner

    from libcure.cli import app

    shown = CliRunner().invoke(app, ["check", str(MODELS / "cases" / "groundwater_hot_water_fill.json")])
    assert shown.exit_code == 0
    words = " ".join(shown.output.split())
    assert "valid" in words and "4.6" in words and "on day 50" in words and "Churchill & Bernstein 1977" in words
    plain = CliRunner().invoke(app, ["check", str(MODELS / "cases" / "cold_ground_winter.json")])
    assert len(plain.output.splitlines()) == 1


@pytest.mark.parametrize(("what", "changes"), [
    ("ground", {"ground.temperature_C": 50}), ("pipe", {"initial_temperature_C.pipe": 50}), ("resin", {"initial_temperature_C.resin": 60}),
    ("air", {"initial_temperature_C.air": 50}),
])  # fmt: skip
def test_a_temperature_that_no_site_has_is_asked_about(what, changes):
    case = libcure.load_case(libcure.models_folder() / "cases" / "cold_ground_winter.json")
    assert "unusual_temperature" not in codes(libcure.predict(case, uncertain="none").verdict)
    found = libcure.predict(case.replace(changes), uncertain="none").verdict
    (said,) = [c["text"] for c in found["cautions"] if c["code"] == "unusual_temperature"]
    (value,) = changes.values()
    assert said == f"The {what} at {value} °C is far from what a site has: was {value} °F meant, that is {(value - 32) / 1.8:.1f} °C?"
    assert "unusual_temperature" in {r["code"] for r in found["answer"]["reasons"]}


def test_the_job_and_the_case_have_one_usual_range():
    from libcure.job.facts import FACTS

    usual = libcure._core.usual_temperatures()
    facts = {f.key: f.usual for f in FACTS}
    assert (facts["wall"], facts["resin_temperature"], facts["air"]) == (usual["pipe"], usual["resin"], usual["air"])
