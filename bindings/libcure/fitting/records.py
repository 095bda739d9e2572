"""Records of a calorimeter to runs: checked, with baseline and degree of cure. Inside everything is SI."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray

from libcure import _core
from libcure.errors import CureError, input_error
from libcure.fitting.checks import check_numbers, check_part, check_signal
from libcure.fitting.record import PROGRAMMED, STEADY, ZERO_CELSIUS, Record, programme, steady_rate
from libcure.fitting.run import Finding, Run, processed
from libcure.fitting.windows import held_windows, lost_side, no_heat, ramp_windows, wrong_sign

__all__ = ["BASELINES", "analyse", "celsius", "file_beside"]

Array = NDArray[np.float64]
LEAST_SHARE = 0.05  # of the heat of reaction that a truncated run must hold
BASELINES = ("tangential-sigmoidal", "linear", "spline", "level")


def analyse(
    record: Record,
    id: str,
    *,
    mass_kg: float | None = None,
    exotherm_up: bool = True,
    heating_rate: float | None = None,
    isothermal: float | None = None,
    baseline: str | None = None,
    left: tuple[float, float] | None = None,
    right: tuple[float, float] | None = None,
    begin: float | None = None,
    end: float | None = None,
    total_heat: float | None = None,
    residual_heat: float | None = None,
    truncated: bool = False,
) -> Run:
    """Checks a record, draws its baseline, and counts heat and degree of cure.

    Args:
        mass_kg: of the sample; needed when the heat flow is not a mass already.
        exotherm_up: how the instrument recorded it.
        heating_rate: as stated [K/s]; checked against the data. isothermal: as stated [K]. Without either a steady record tells its rate.
        baseline: one of :data:`BASELINES`; by default tangential-sigmoidal, and level when isothermal.
        left, right: windows where the signal is straight, as temperatures [K]; found when left out.
        begin, end: of an isothermal run [s]; begin by default when the temperature has settled.
        total_heat: [J/kg] that the degree of cure of an isothermal or truncated run is counted on.
        residual_heat: [J/kg] found in a ramp after an isothermal run; total is then its own heat and this.
        truncated: a ramp whose record begins or ends within the exotherm; with total_heat.

    Raises:
        CureError: what makes the degree of cure wrong: unsorted time, a gap in the exotherm, a wrong sign or heating rate, no baseline.
    """
    where = f"run {id}"
    name = baseline or ("tangential-sigmoidal" if isothermal is None else "level")
    _check_asked(where, name, heating_rate, isothermal, truncated and total_heat is None)
    check_numbers(where, record)
    time, T = record.time, record.temperature
    signal = record.heat_flow * _core.fit.heat_flow_factor(record.heat_flow_unit, mass_kg or 0.0, exotherm_up)
    q = _core.fit.quality(time, T, signal)
    check_signal(where, record, q)
    findings = _of_record(record, where)
    heating_rate = _shown_rate(record, where, findings) if heating_rate is None and isothermal is None else heating_rate
    if truncated:
        windows, lost = lost_side(id, record, signal, q["noise"])
        name = "tangent-before" if lost == "tail" else "tangent-after"
    elif isothermal is None:
        windows = ramp_windows(id, record, signal, q["noise"], left, right, exotherm_up)
    else:
        windows = held_windows(where, record, isothermal, begin, end)
    run = Run(id, time, T, signal, heating_rate or 0.0, name, windows, slice(0, len(time)), 0.0, total_heat,
              np.empty(0), np.empty(0), np.empty((0, 4)), np.empty((4, 0)), q["noise"],
              max(0.1, 3.0 * _noise(T)), findings)
    run = _counted(run, where, exotherm_up, record.file)
    if truncated:
        findings.append(_said_truncated(run, where, record.file))
    if residual_heat is not None:
        run = processed(replace(run, total_heat=run.heat + residual_heat))
    check_part(run, record, q, heating_rate, findings)
    return run


def _shown_rate(record: Record, where: str, findings: list[Finding]) -> float:
    """Of a ramp whose heating rate nobody stated [K/s], which a finding says."""
    rate = steady_rate(record.time, record.temperature)
    if rate is None or rate <= 0.0:
        raise input_error(f"{where}: heating_rate_K_min", "missing", "heating_rate_K_min or isothermal_C: the record does not rise at one rate "
                          f"within {STEADY:.0%} ({programme(record)})", record.file)
    findings.append(Finding("note", "heating_rate", where, f"heating rate {60.0 * rate:.4g} K/min, as the temperatures of the record rise; "
                            "none was stated."))
    return rate


def _of_record(record: Record, where: str) -> list[Finding]:
    found = [Finding("note", "left_out", where, text) for text in record.left_out]
    return [*found, *([Finding("warning", "programme_temperature", where, PROGRAMMED)] if record.programmed else [])]


def _check_asked(where: str, baseline: str, heating_rate: float | None, isothermal: float | None, no_heat: bool) -> None:
    """Refuses contradictions; ``no_heat``: of a truncated run that has no heat to count on."""
    if heating_rate is not None and isothermal is not None:
        raise input_error(where, "both heating rate and isothermal temperature", "one of them")
    if no_heat:
        raise input_error(where, "truncated without total_heat", "a ramp, with the heat of others as total_heat")
    if baseline not in BASELINES:
        raise input_error(f"{where}: baseline", f'"{baseline}"', f"one of {', '.join(BASELINES)}")


def _counted(run: Run, where: str, exotherm_up: bool, file: str) -> Run:
    """The run with heat and degree of cure; what the core refuses is named by its run and file."""
    try:
        return processed(run)
    except CureError as error:
        if getattr(error, "field", "") == "heat of reaction":
            made = wrong_sign(where, exotherm_up, file) if run.dynamic else no_heat(where, run.t, run.heat_flow[run.part], exotherm_up, file)
            raise made from None
        raise input_error(f"{where}: {getattr(error, 'field', 'baseline')}", getattr(error, "value", str(error)),
                          getattr(error, "allowed", ""), file) from None


def _said_truncated(run: Run, where: str, file: str) -> Finding:
    """How much a truncated run holds.

    Raises:
        CureError: next to nothing.
    """
    share = run.heat / run.on
    if share < LEAST_SHARE:
        raise input_error(f"{where}: baseline", f"{100.0 * share:.0f} % of the heat of reaction in the record",
                          f"{100.0 * LEAST_SHARE:.0f} % or more", file)
    part = "ends" if run.truncated == "tail" else "begins"
    came = "" if run.truncated == "tail" else " It is taken to have been heated from the cold at the same rate."
    return Finding("warning", "truncated", where, f"the record {part} within the exotherm and holds about {100.0 * share:.0f} % of "
                   f"the heat. It is used for that: its degree of cure counts on the heat of the other ramps.{came}")


def _noise(x: Array) -> float:
    return float(1.4826 * np.median(np.abs(np.diff(x, 2))) / np.sqrt(6.0))


def celsius(window: ArrayLike) -> tuple[float, float]:
    """A window given in °C, in K."""
    low, high = np.asarray(window, float) + ZERO_CELSIUS
    return float(low), float(high)


def file_beside(path: str, beside: Path) -> Path:
    """A file named in a document, relative to it."""
    return Path(path) if Path(path).is_absolute() else beside / path
