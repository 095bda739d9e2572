from __future__ import annotations

import json
from functools import cache
from typing import Any

import numpy as np

import libcure
from libcure.models import ids
from libcure.validation import Comparison, Evidence

SECONDS = {"s": 1.0, "min": 60.0, "h": 3600.0}


@cache
def documents() -> dict[str, dict[str, Any]]:
    folder = libcure.models_folder() / "resins"
    found = {name: json.loads((folder / f"{name}.json").read_text(encoding="utf-8")) for name in ids("resins")}
    return {name: document for name, document in found.items() if document["format"] == "libcure/resin/1"}


def kelvin(quantity: dict[str, Any]) -> float:
    assert quantity["unit"] in ("degC", "K")
    return quantity["value"] + (273.15 if quantity["unit"] == "degC" else 0.0)


def evidence(outcome: dict[str, Any]) -> Evidence:
    if "calibration" in outcome["where"]:
        return "self-check"
    return "closed form" if outcome["where"].startswith("closed form") else "two codes"


def outcomes() -> list[tuple[str, dict[str, Any]]]:
    return [
        (name, outcome)
        for name, document in documents().items()
        for outcome in document.get("reference_outcomes", [])
        if outcome["kind"] == "isothermal-conversion"
    ]


@cache
def compare() -> list[Comparison]:
    rows = []
    for name, outcome in outcomes():
        resin = libcure.load_resin(name)
        seconds = outcome["time"]["value"] * SECONDS[outcome["time"]["unit"]]
        alpha = resin.isothermal([kelvin(outcome["temperature"])], [seconds], resin.initial_degree_of_cure)[0, 0]
        what = outcome["what"].removeprefix("calibration target, not a validation: ")
        rows.append(
            Comparison(
                "model file",
                f"{name}: {what}",
                outcome["alpha"]["value"],
                float(alpha),
                "1",
                outcome["tolerance"],
                evidence(outcome),
            )
        )
    return rows


def figure(fig: Any) -> None:
    axes = fig.subplots(3, 5, sharey=True).ravel()
    for ax in axes:
        ax.axis("off")
    by_name: dict[str, list[dict[str, Any]]] = {}
    for name, outcome in outcomes():
        by_name.setdefault(name, []).append(outcome)
    for ax, (name, listed) in zip(axes, by_name.items(), strict=False):
        ax.axis("on")
        ax.set_title(name, fontsize=5)
        ax.tick_params(labelsize=5)
        resin = libcure.load_resin(name)
        for i, T in enumerate(sorted({kelvin(o["temperature"]) for o in listed})):
            own = [o for o in listed if kelvin(o["temperature"]) == T]
            t = np.array([o["time"]["value"] * SECONDS[o["time"]["unit"]] for o in own])
            grid = np.linspace(0, 1.15 * t.max(), 200)
            alpha = resin.isothermal([T], grid, resin.initial_degree_of_cure)[0]
            ax.plot(grid / 60, alpha, color=f"C{i}", lw=1, label=f"{T - 273.15:.0f} °C")
            ax.plot(t / 60, [o["alpha"]["value"] for o in own], "o", color=f"C{i}", ms=3, mfc="none")
        ax.set_xlim(0)
        ax.legend(fontsize=4, frameon=False)
    fig.supxlabel("time [min]", fontsize=7)
    fig.supylabel("degree of cure; circles: model file", fontsize=7)
