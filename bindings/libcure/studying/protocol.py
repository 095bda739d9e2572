"""What to measure with two cups, a fridge, a thermometer and a wet film: the page to follow, and the candidates to choose from next."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from libcure.studying.document import read
from libcure.studying.family import Family
from libcure.studying.reading import Measurement

__all__ = ["CAUTIONS", "candidates", "example", "protocol"]

CAUTIONS = (
    "Mixed resin in a cup heats itself: 100 g may pass 200 °C, smoke, and melt the cup. Work outdoors, on a tray of sand, nothing that burns near, "
    "never more than 100 g, never in a closed fridge.",
    "Gloves, goggles, fresh air: the resin maker's safety data come first.",
    "Styrene vapour burns; peroxide and accelerator never touch each other undiluted. Isocyanates harm the lungs at levels that nobody smells.",
)


def _candidates_of(family: Family, jobs_C: Sequence[float]) -> list[dict[str, Any]]:
    cold = min(jobs_C)
    found: list[dict[str, Any]] = []
    for T in sorted({*jobs_C, 20.0, 30.0}):
        found.append({"kind": "film_gel", "temperature_C": T, "time_min": 60, "name": f"gel time of a film at {T:g} °C"})
    for hours, word in ((24, "a day"), (168, "a week")):
        found.append({"kind": "Tg", "temperature_C": cold, "time_h": hours, "Tg_C": 30, "name": f"Tg after {word} at {cold:g} °C, by a laboratory"})
    for T in sorted(jobs_C):
        found.append({"kind": "releasable", "temperature_C": T, "time_min": 300, "sd": 0.2,
                      "name": f"when a film at {T:g} °C is hard for good (a nail leaves no mark, looked at every quarter of the time)"})  # fmt: skip
    found.append({"kind": "Tg_full", "Tg_C": 80, "name": "Tg after a hot cure, by a laboratory"})
    found.append({"kind": "cup", "mass_g": 100, "air_C": 20, "gel_min": 30, "peak_C": 150, "peak_min": 40, "reaches": [{"temperature_C": 50, "time_min": 25}],
                  "name": "a cup of 100 g at 20 °C with a thermometer in its middle"})  # fmt: skip
    if not family.inhibited:
        found.append({"kind": "viscosity", "temperature_C": 20, "viscosity_Pa_s": 1.0, "name": "viscosity of the fresh mix at 20 °C"})
    return found


def candidates(family: Family, jobs_C: Sequence[float]) -> list[Measurement]:
    """Measurements that could be made next, for jobs at some temperatures [°C]. What they would show is not looked at."""
    document = {"format": "libcure/study/1", "id": "candidates", "title": "candidates", "family": family.name,
                "measurements": _candidates_of(family, jobs_C)}  # fmt: skip
    return list(read(document, "", Path())[2])


def example(family: Family, jobs_C: Sequence[float]) -> dict[str, Any]:
    """A study document of the protocol, filled in with invented numbers."""
    cold = min(jobs_C)
    slow = 1.0 if not family.inhibited else 0.3
    return {
        "format": "libcure/study/1",
        "id": "my-resin",
        "title": "INVENTED example: my resin, batch 1",
        "family": family.name,
        "jobs_C": list(jobs_C),
        "measurements": [
            {"kind": "film_gel", "temperature_C": 20, "time_min": round(90 * slow)},
            {"kind": "film_gel", "temperature_C": cold, "time_min": round(90 * slow * 2.2 ** ((20 - cold) / 10))},
            {"kind": "cup", "mass_g": 100, "air_C": 20, "gel_min": round(24 * slow + 4), "peak_C": 170, "peak_min": round(27 * slow + 6)},
            {"kind": "releasable", "temperature_C": cold, "time_h": round(4.0 * slow * 2.2 ** ((20 - cold) / 10), 1), "sd": 0.2, "hold_back": False},
        ],
    }


def protocol(family: Family, jobs_C: Sequence[float]) -> list[tuple[str, list[str]]]:
    """What to do, as headings with steps."""
    cold = min(jobs_C)
    gel = "a stick pulls no more threads" if not family.inhibited else "a stick lifts the film as a jelly"
    return [
        ("What to have", ["Two cups, a scale that shows grams, a thermometer with a thin probe, a clock, glass or metal plates, a fridge set to "
                          f"{cold:g} °C (or ice water in a tray), resin and hardener of one batch, at 20 °C for a day."]),
        ("Mind", list(CAUTIONS)),
        ("Cup, at 20 °C", [
            "Mix 100 g by the maker's ratio for one minute. Start the clock when the parts touch.",
            "Probe in the middle of the cup. Write down the temperature each minute, and when the stick no longer stirs (gel).",
            "Go on until it is half way back to the air's temperature: the cooling tells how much heat the cup loses.",
        ]),
        ("Films", [
            f"From a second mix of 20 g, draw films of half a millimetre on two plates, one at 20 °C, one at {cold:g} °C (measure the plates, not the air).",
            f"Gel: {gel}. Look every tenth of the time that you expect.",
            f"Leave the cold film where it is. Hard for good: a thumb nail pressed in leaves no mark, at {cold:g} °C, not warmed by the hand. "
            "This one tells most about release in the cold.",
        ]),
        ("If there is a laboratory", [f"Tg by calorimetry of the cold film after a day, kept at {cold:g} °C until it is measured."]),
        ("Then", ["Write the numbers into a document as in the example, and run: libcure study STUDY.json --out DIR. It says how well the release at your "
                  "jobs' temperatures is known, and which one further measurement narrows it most."]),
    ]  # fmt: skip
