"""Wrong readings are found, told and left out, and never bring the bladder out too early."""

import numpy as np
import pytest
from follow_synthetic import RANGES, Truth, readings
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import libcure

COLD, HOT = "cold_ground_winter", "groundwater_hot_water_fill"
FEW = {"samples": 64, "threads": 2}
THETA = {COLD: (0.5, -0.3, 1.0, 0.5, 1.0), HOT: (-0.4, 0.5, 0.6, -0.3, 0.4)}
UNTIL = {COLD: 170, HOT: 75}  # min; the cold wall shows its cure late
JOBS = {name: Truth(name, theta) for name, theta in THETA.items()}
LOGS = {name: job.log(UNTIL[name], 11) for name, job in JOBS.items()}


def follow(name, time, temperature, **more):
    return libcure.follow(JOBS[name].loaded, readings(time, temperature), **FEW, **more)


@pytest.fixture(scope="module")
def clean():
    found = {name: follow(name, *log) for name, log in LOGS.items()}
    assert all(result.relied_on and not result.faults for result in found.values())
    return found


def safe(result, name):
    """Not before the release that really is; and earlier than before the readings only with all checks passed."""
    assert result.release_min >= JOBS[name].release_min
    if result.release_min < result.before.wait_until_min:
        assert result.relied_on
        assert not result.reasons


def codes(statements):
    return {s.code: s.count for s in statements}


def test_blanks_are_no_matter(clean):
    time, T = LOGS[COLD]
    T = np.where(np.arange(T.size) % 3 == 0, np.nan, T)
    result = follow(COLD, time, T)
    assert codes(result.faults) == {"missing": np.isnan(T).sum()}
    assert result.relied_on
    assert result.release_min == pytest.approx(clean[COLD].release_min, rel=0.1)
    safe(result, COLD)


@pytest.mark.parametrize("broken", [1372.0, -270.0, np.inf])
def test_a_broken_wire_is_left_out(clean, broken):
    time, T = LOGS[COLD]
    T = np.where(np.arange(T.size) % 8 == 3, broken, T)
    result = follow(COLD, time, T)
    assert set(codes(result.faults)) == {"out_of_range" if np.isfinite(broken) else "missing"}
    assert result.relied_on
    assert result.release_min == pytest.approx(clean[COLD].release_min, rel=0.1)


@pytest.mark.parametrize(("name", "jump"), [(COLD, 8.0), (COLD, -8.0), (HOT, -8.0), (HOT, 40.0)])
def test_spikes_are_left_out(clean, name, jump):
    time, T = LOGS[name]
    T = T.copy()
    at = [7, 23, 24, 41]
    T[at] += jump
    result = follow(name, time, T)
    assert (result.readings.status[at] == "spike").all()
    assert codes(result.faults) == {"spike": 4}
    assert "faster than the wall can follow" in result.faults[0].text
    assert result.release_min == pytest.approx(clean[name].release_min, rel=0.1)
    safe(result, name)


def test_a_true_exotherm_is_no_spike():
    """The steepest log of the shipped cases, also when it is written only every 5 min."""
    job = Truth(HOT, (0.5, 0.0, 1.5, 1.0, 1.0))
    for every in (1.0, 5.0):
        result = libcure.follow(job.loaded, readings(*job.log(100, 12, every_min=every)), **FEW)
        assert not result.faults
        assert result.relied_on


def test_doubled_times(clean):
    time, T = LOGS[COLD]
    doubled = follow(COLD, np.concatenate([time, time[:6]]), np.concatenate([T, T[:6] + 5.0]))
    assert codes(doubled.faults)["doubled"] == 12
    repeated = follow(COLD, np.concatenate([time, time[:6]]), np.concatenate([T, T[:6]]))
    assert codes(repeated.faults)["repeated"] == 6
    assert repeated.after == clean[COLD].after
    for result in (doubled, repeated):
        safe(result, COLD)


def test_a_probe_that_got_stuck():
    time, T = LOGS[HOT]
    end = T.copy()
    end[time >= 45] = end[time >= 45][0]
    result = follow(HOT, time, end)
    assert codes(result.faults)["stuck"] >= 25
    assert [s.code for s in result.reasons] == ["gap"]
    safe(result, HOT)
    middle = T.copy()
    middle[(time >= 38) & (time < 58)] = middle[time >= 38][0]
    result = follow(HOT, time, middle)
    assert codes(result.faults)["stuck"] >= 19
    safe(result, HOT)


@pytest.mark.parametrize("since", [30, 60, 90, 110])
def test_a_stuck_probe_on_a_wall_that_hardly_warms_brings_nothing_forward(clean, since):
    """A cold wall moves by less than what tells a stuck probe."""
    time, T = LOGS[COLD]
    T = np.where(time >= since, T[time >= since][0], T)
    result = follow(COLD, time, T)
    assert result.release_min >= clean[COLD].release_min
    safe(result, COLD)


def test_a_wall_at_rest_is_not_stuck():
    job = Truth(COLD, (0.0, 0.0, 0.5, 0.0, 0.0))
    result = libcure.follow(job.loaded, readings(*job.log(400, 13, errors=False)), samples=256)
    assert "stuck" not in codes(result.faults)
    assert result.relied_on


@pytest.mark.parametrize("off_from", [30, 55])
def test_a_probe_that_came_off(off_from):
    time, T = LOGS[HOT]
    # The fill of the job as it is.
    medium = JOBS[HOT].job.medium(60.0 * time) - 273.15 + RANGES[-1].spread * THETA[HOT][-1]
    noise = np.random.default_rng(5).normal(scale=0.3, size=time.size)
    result = follow(HOT, time, np.where(time >= off_from, medium + noise, T))
    assert codes(result.faults)["fallen_off"] >= 15
    assert "come off" in " ".join(s.text for s in result.faults)
    assert not result.relied_on
    safe(result, HOT)


@pytest.mark.parametrize("wrong", [lambda T: 1.8 * T + 32.0, lambda T: (T - 32.0) / 1.8, lambda T: T + 273.15],
                         ids=["F as C", "C as F", "K as C"])  # fmt: skip
@pytest.mark.parametrize("name", [COLD, HOT])
def test_units_mixed_up(name, wrong):
    time, T = LOGS[name]
    result = follow(name, time, wrong(T))
    assert codes(result.faults) == {"unit": time.size}
    assert not result.relied_on
    assert result.after == result.before
    safe(result, name)


@pytest.mark.parametrize("name", [COLD, HOT])
def test_a_clock_started_when_the_liner_was_held(name):
    time, T = LOGS[name]
    result = follow(name, time - JOBS[name].job.held[0] / 60.0, T)
    assert "clock" in codes(result.reasons)
    assert not result.relied_on
    safe(result, name)


def test_readings_from_before_the_hold_are_no_clock_error():
    """A probe that hangs in the air, and one that lies in the wet liner, until the liner is held."""
    job = JOBS[COLD]
    time, T = job.log(UNTIL[COLD], 14, from_min=4.0)
    for early in (T, np.where(time < 14.0, 3.0 + 0.1 * np.sin(time), T)):
        result = follow(COLD, time, early)
        assert codes(result.faults) == {"before_held": (time < 16.0).sum()}
        assert result.relied_on


def test_a_log_that_stopped(clean):
    time, T = LOGS[COLD]
    result = follow(COLD, time[time < 45], T[time < 45], now_min=UNTIL[COLD])
    assert [s.code for s in result.reasons] == ["gap"]
    assert "old" in result.reasons[0].text
    safe(result, COLD)
    assert follow(COLD, time, T, now_min=UNTIL[COLD] + 10.0).after == clean[COLD].after


def test_few_readings_are_too_few():
    time, T = LOGS[COLD]
    for log in ((time[:5], T[:5]), (time[::20], T[::20]), (time[:12], T[:12])):
        result = follow(COLD, *log, now_min=UNTIL[COLD])
        assert "too_few" in codes(result.reasons)
        safe(result, COLD)


def test_a_wall_that_no_job_explains():
    time, T = LOGS[COLD]
    result = follow(COLD, time, 12.0 + 6.0 * np.sin(time / 2.0))
    assert "misfit" in codes(result.reasons)
    assert not result.relied_on
    safe(result, COLD)
    result = follow(COLD, time, T + 15.0)
    assert {"beyond_ranges", "misfit"} & set(codes(result.reasons))
    safe(result, COLD)


def test_readings_outside_the_job():
    time, T = LOGS[HOT]
    end = JOBS[HOT].job.held[1] / 60.0
    result = follow(HOT, np.concatenate([[-5.0], time, [end + 5.0, np.nan]]), np.concatenate([[8.0], T, [12.0, 9.0]]))
    assert codes(result.faults) == {"no_time": 1, "before_mixing": 1, "after_hold": 1}
    safe(result, HOT)


@settings(max_examples=8, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
@given(
    name=st.sampled_from([COLD, HOT]),
    stretch=st.floats(0.5, 1.3),
    rise=st.floats(-6.0, 6.0),
    begin=st.integers(0, 50),
    length=st.integers(0, 40),
    kind=st.sampled_from(["constant", "noise", "gone", "copied", "wild"]),
    seed=st.integers(0, 2**16),
)
def test_whatever_goes_wrong_the_release_is_not_too_early(name, stretch, rise, begin, length, kind, seed):
    time, T = LOGS[name]
    random = np.random.default_rng(seed)
    T = T[0] + stretch * (T - T[0]) + rise * (time - time[0]) / (time[-1] - time[0])
    part = slice(begin, begin + length)
    n = T[part].size
    T[part] = {"constant": T[begin], "noise": T[part] + random.normal(scale=5.0, size=n), "gone": np.nan,
               "copied": T[:n], "wild": random.uniform(-60.0, 400.0, size=n)}[kind]  # fmt: skip
    safe(follow(name, time, T), name)
