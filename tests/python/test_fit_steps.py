"""A step of the heat capacity before the exotherm: found, said with what to do, and not made up where there is none."""

import re
from dataclasses import replace

import numpy as np
import pytest
from calorimeter_chain import HEAT, LAWS, Faults, drawn, ramp_record, runs_of
from sampling_limits import least_hits
from scipy.signal import find_peaks
from test_fit_instrument import ramps, study_of

from libcure import fitting
from libcure.fitting.checks import peaks_above
from libcure.fitting.steps import capacity_step, step_findings

STEP = 500.0  # J/kg/K, as a glass transition makes at most; common practice, no source


def laboratory(law, seed, step, at=310.0):
    random = np.random.default_rng(seed)
    return runs_of(law, replace(drawn(random), step=step, step_at=at), random, holds={}, points=600)


def test_none_is_made_up_where_there_is_no_step():
    """Lags, masses and a heat capacity that changes with cure are drawn at random; 5 % of laboratories may be told of a step."""
    quiet = [not step_findings(laboratory(law, seed, 0.0)) for law in LAWS for seed in range(6000, 6010)]
    assert np.sum(quiet) >= least_hits(len(quiet), 0.95)


@pytest.mark.parametrize("law", LAWS)
@pytest.mark.parametrize("at", [300.0, 310.0, 325.0])
def test_a_step_is_found_where_it_is(law, at):
    runs = laboratory(law, 6100, STEP, at)
    (said,) = step_findings(runs)
    assert (said.code, said.severity) == ("capacity_step", "warning")
    found = [(run, step) for run in runs if (step := capacity_step(run)) is not None and run.id in said.message and abs(step.temperature - at) < 4.0]
    assert len(found) >= 2
    assert np.median([step.capacity for _, step in found]) == pytest.approx(STEP, rel=0.3)


@pytest.mark.parametrize("seed", range(20))
def test_peaks_are_those_of_another_search(seed):
    random = np.random.default_rng(seed)
    x = np.convolve(random.normal(size=400), np.ones(9) / 9, "valid") + 2.0 * np.exp(-((np.arange(392) - random.uniform(0, 392)) ** 2) / 900)
    for least in (0.2, 0.5, 1.0):
        assert peaks_above(x, least) == list(find_peaks(x, prominence=least)[0])


def test_a_step_down_is_none():
    """No glass transition lowers a heat capacity on heating."""
    assert not step_findings(laboratory("autocatalytic", 6200, -STEP))


def test_peaks_without_ramps_say_nothing_of_it():
    assert step_findings([]) == []


def test_what_is_said_helps():
    """The heat is nearer the truth with window and baseline as the finding says."""
    record = ramp_record("kamal-sourour", 20.0, Faults(step=STEP, step_at=300.0), np.random.default_rng(6300))
    asked = fitting.analyse(record, "20 K/min", heating_rate=20.0 / 60.0)
    (said,) = step_findings([asked])
    clear = float(said.message.split("Give baseline.left_C between ")[1].split(" °C")[0])
    heeded = fitting.analyse(record, "20 K/min", heating_rate=20.0 / 60.0, left=(clear + 273.15, clear + 273.15 + 20.0), baseline="linear")
    assert "with a linear baseline" in said.message
    assert abs(heeded.heat / HEAT - 1.0) < 0.5 * abs(asked.heat / HEAT - 1.0)
    assert not heeded.findings


def test_a_person_reads_it(tmp_path):
    study = study_of(tmp_path, ramps("autocatalytic", (5.0, 10.0, 20.0), Faults(step=STEP), np.random.default_rng(6400)), "autocatalytic")
    (said,) = [f for f in study.findings if f.code == "capacity_step"]
    assert re.search("near 4[5-9] °C", said.message) and "W/kg" in said.message and "heats may be off by" in said.message and "left_C" in said.message
