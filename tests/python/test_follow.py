"""Readings of a probe bring the release near what it really is, and say how sure it is."""

import csv
import html as markup
import io
import json

import jsonschema
import numpy as np
import pytest
from follow_synthetic import CASES, RANGES, Truth, job_of, readings, row_of
from sampling_limits import least_hits, most_hits

import libcure
from libcure.documents import models_folder
from libcure.following import Readings, read_readings, view
from libcure.following.figure import draw
from libcure.sampling import UncertainInput

COLD = "cold_ground_winter"
EXAMPLE = CASES.parents[1] / "notebooks" / "data" / "follow" / "cold_ground.csv"
FEW = {"samples": 64, "threads": 2}  # rows enough for a test


@pytest.fixture(scope="module")
def slow_job():
    """Ground 1.5 K colder than the case says, cure 0.84 times as fast, fill 1.5 K warmer."""
    return Truth(COLD, (-1.5, -0.5, -1.5, 0.3, 1.0))


@pytest.fixture(scope="module")
def slow_result(slow_job):
    return libcure.follow(slow_job.loaded, readings(*slow_job.log(240, 3)), threads=2)


def test_a_slow_job_is_recognised(slow_job, slow_result):
    before, after = slow_result.before.criterion_met_min, slow_result.after.criterion_met_min
    assert slow_result.relied_on
    assert after.p5 <= slow_job.release_min <= after.p95
    assert after.p5 > 1.15 * before.p5
    assert slow_result.release_min == slow_result.after.wait_until_min
    assert slow_result.release_min >= after.p95
    # Later than it was before them, too.
    assert slow_result.release_min > slow_result.before.wait_until_min


def test_its_picture_is_in_minutes_and_degrees_and_its_page_says_what_it_rests_on(slow_result):
    axes, r = draw(slow_result).axes[0], slow_result
    for line, band in zip(axes.lines, (r.band_before, r.band_after), strict=False):
        np.testing.assert_allclose(line.get_xdata(), band.time / 60.0)
        np.testing.assert_allclose(line.get_ydata(), band.p50 - 273.15)
    shown = np.asarray(axes.collections[2].get_offsets())
    used = r.readings.used
    np.testing.assert_allclose(shown, np.column_stack([r.readings.time[used] / 60.0, r.readings.temperature[used] - 273.15]))
    first, last = r.readings.time[used][[0, -1]] / 60.0
    assert f"from {first:.0f} to {last:.0f} min, worth {r.effective_readings:.1f} independent ones" in dict(view.page(r).facts)["Readings"]


def test_it_is_said_what_moved(slow_result):
    ground = next(u for u in slow_result.unknowns if u.name == "ground")
    speed = next(u for u in slow_result.unknowns if u.name == "resin_speed")
    assert ground.after.p5 < -1.5 < ground.after.p95
    assert speed.after.p5 < np.exp(-0.18) < speed.after.p95
    assert speed.kept < 0.8
    assert [u.name for u in slow_result.unknowns][-3:] == ["probe", "fill_share", "clock"]


def test_a_fast_job_may_be_released_earlier():
    job = Truth(COLD, (1.0, 0.0, 1.5, 1.0, 0.5))
    result = libcure.follow(job.loaded, readings(*job.log(170, 2)))
    assert result.relied_on
    assert job.release_min <= result.after.criterion_met_min.p95 < 1.5 * job.release_min
    assert result.release_min < 0.9 * result.before.wait_until_min


@pytest.mark.parametrize("resin", ["epoxy-amine-mechanistic", "blend"])
def test_resins_that_the_packed_solver_does_not_take(resin):
    parts = [{"resin": "epoxy-amine-fast", "share": 0.6}, {"resin": "epoxy-amine-slow", "share": 0.4}]
    case = libcure.load_case(CASES / f"{COLD}.json").replace(
        {"resin": resin if resin != "blend" else {"components": parts}}
    )
    job, minutes = job_of(case), np.arange(17.0, 240.0, 2.0)
    theta = row_of(job, (0.3, 0.2, 0.5, 0.1, 1.0))
    truth = job.release_times(theta)[0] / 60.0
    result = libcure.follow(case, readings(minutes, job.traces(theta, 60.0 * minutes)[0] - 273.15), **FEW)
    assert result.relied_on
    assert result.after.criterion_met_min.p5 <= truth <= result.after.criterion_met_min.p95


@pytest.mark.parametrize("at", ["liner inner face", "liner middle"])
def test_a_probe_may_lie_elsewhere(at):
    job = Truth("groundwater_hot_water_fill", (0.5, 0.8, -0.8, 0.0, 0.5), at)
    result = libcure.follow(job.loaded, readings(*job.log(75, 3)), at=at, **FEW)
    assert result.relied_on
    assert result.after.criterion_met_min.p5 <= job.release_min <= result.after.criterion_met_min.p95


@pytest.mark.trials
@pytest.mark.parametrize(("case", "until"), [(COLD, 180), ("groundwater_hot_water_fill", 100)])
def test_bands_cover_the_truth(case, until):
    """Over jobs drawn from the assumed ranges, with all errors as assumed: 40 in all."""
    inside = above = narrower = relied = 0
    for seed in range(20):
        job = Truth(case, tuple(np.random.default_rng(7000 + seed).standard_normal(len(RANGES))))
        result = libcure.follow(job.loaded, readings(*job.log(until, seed)), **FEW)
        after = result.after.criterion_met_min
        inside += after.p5 <= job.release_min <= after.p95
        above += job.release_min > after.p95
        gel = [band.p95 / band.p5 for band in (result.after.gel_last_min, result.before.gel_last_min)]
        narrower += gel[0] < gel[1]
        relied += result.relied_on
        assert result.release_min >= job.release_min
    assert inside >= least_hits(20, 0.9)
    assert above <= most_hits(20, 0.05)
    assert narrower >= 18
    assert relied >= 14


def test_no_readings_change_nothing(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text("time_min,temperature_C\n")
    result = libcure.follow(CASES / f"{COLD}.json", path, **FEW)
    assert result.after == result.before
    assert not result.relied_on
    assert [s.code for s in result.reasons] == ["none"]
    assert result.release_min == result.before.wait_until_min


@pytest.mark.parametrize("case", [COLD, "groundwater_hot_water_fill", "hot_packer_summer"])
@pytest.mark.parametrize("uncertain", [None, CASES.parent / "charts" / "seasonal.json", RANGES[:2]])
def test_before_the_readings_all_is_as_predict_says(case, uncertain):
    result = libcure.follow(CASES / f"{case}.json", Readings.from_arrays([], []), uncertain=uncertain, **FEW)
    p = libcure.predict(CASES / f"{case}.json", uncertain=uncertain)
    if p.answer.release_min is not None:
        assert result.release_min == result.before.wait_until_min == p.answer.release_min
    else:
        assert result.release_min >= p.ranges.release_bound_min
    assert result.before.working_min == p.ranges.working_min
    assert result.before.gel_last_min == p.ranges.gel_last_min
    assert result.before.criterion_met_min == p.ranges.criterion_met_min


def test_a_hold_that_is_planned_too_short_is_told(slow_job, slow_result):
    """The release is looked for as long as predict does, not only to the end of the hold."""
    short = slow_job.loaded.replace({"stages[2].duration_min": 250, "stages[2].ends": "at_duration"})
    result = libcure.follow(short, readings(*slow_job.log(240, 3)), threads=2)
    assert result.relied_on
    assert result.release_min == slow_result.release_min > 264.0
    assert result.cautions[-1].startswith("The hold is planned to end at 4 h 24 min (264 min): hold until ")
    assert f"({result.release_min:.0f} min)" in result.cautions[-1]


def test_each_row_has_the_temperatures_of_its_own_resin():
    job = job_of(libcure.load_case(CASES / f"{COLD}.json"))
    theta = np.random.default_rng(2).standard_normal((3, job.unknowns))
    theta[:, : len(RANGES)] = 0.0
    times = 60.0 * np.arange(20.0, 200.0, 20.0)
    together, nominal = job.traces(theta, times), job.traces(np.zeros((1, job.unknowns)), times)[0]
    for row, T in zip(theta, together, strict=True):
        np.testing.assert_array_equal(job.traces(row[None], times)[0], T)
    assert np.abs(together - nominal).max() > 0.1


def test_constants_that_no_resin_may_have_are_a_row_that_cannot_be():
    """One such draw stops no other."""
    job = job_of(libcure.load_case(CASES / f"{COLD}.json"))
    theta = np.zeros((2, job.unknowns))
    theta[1, len(RANGES) :] = 1e3
    traces = job.traces(theta, np.array([1200.0, 2400.0]))
    assert np.isfinite(traces[0]).all()
    assert np.isnan(traces[1]).all()


def numbers(result):
    document = result.to_json()
    return {key: document[key] for key in ("release_min", "before", "after", "unknowns", "relied_on")}


def test_neither_order_nor_threads_matter():
    job = Truth(COLD, (0.2, -0.5, 0.4, 0.0, 0.6))
    time, T = job.log(70, 4)
    T[[5, 20]] = 30.0, np.nan
    first = libcure.follow(job.loaded, readings(time, T), samples=64, threads=1)
    order = np.random.default_rng(1).permutation(time.size)
    mixed = libcure.follow(job.loaded, readings(time[order], T[order]), samples=64, threads=2)
    assert numbers(first) == numbers(mixed)
    assert {s.code for s in mixed.faults} - {s.code for s in first.faults} == {"unsorted"}
    other = libcure.follow(job.loaded, readings(time, T), samples=64, seed=5)
    assert numbers(other) != numbers(first)


def test_own_ranges_take_the_place_of_the_assumed():
    job = Truth(COLD, (0.0, 0.0, 1.0, 0.0, 0.0))
    own = (UncertainInput("speed", "Speed", ("resin.rate_factor",), "uniform", 0.5),)
    result = libcure.follow(job.loaded, readings(*job.log(70, 6)), uncertain=own, **FEW)
    speed = result.unknowns[0]
    assert [u.name for u in result.unknowns] == ["speed", "resin_speed", "probe", "fill_share", "clock"]
    assert speed.source == "given"
    assert speed.after.p5 < np.exp(0.12) < speed.after.p95
    assert result.after.criterion_met_min.p5 <= job.release_min <= result.after.criterion_met_min.p95


def test_a_resin_without_a_covariance_has_an_unknown_speed_of_cure():
    """Else the model's speed would count as exact, and a slow batch be released too soon."""
    case = libcure.load_case(CASES / "groundwater_hot_water_fill.json").replace({"resin": "dcpd-grubbs-goli-2018"})
    ground, own = RANGES[0], UncertainInput("batch", "Batch", ("resin.rate_factor",), "lognormal", 0.1)
    for given, names in (((ground,), ["ground", "rate"]), ((own,), ["batch"])):
        result = libcure.follow(case, Readings.from_arrays([], []), uncertain=given, **FEW)
        assert [u.name for u in result.unknowns if u.name not in ("probe", "fill_share", "clock")] == names


def test_a_lost_job_stays_lost():
    result = libcure.follow(CASES / "hot_packer_summer.json", Readings.from_arrays([], []), **FEW)
    assert np.isinf(result.release_min)
    assert not result.passed
    assert result.before.never["gelled_before_held"] > 0.9
    assert "working limit" in result.cautions[0]
    assert result.to_json()["release_min"] is None


def test_every_followed_job_shows_the_usual_cautions(slow_result):
    """They matter most when the readings have brought the release forward."""
    from rich.console import Console

    from libcure.following.view import FollowView, html

    assert slow_result.case.resin.estimated
    console = Console(width=500, file=io.StringIO())
    console.print(FollowView(slow_result))
    text = " ".join(console.file.getvalue().split())
    verdict = {c["code"]: c["text"] for c in libcure.predict(slow_result.case).verdict["cautions"]}
    for code in ("model_estimated", "criterion_is_assumed", "mixed_mass", "amine", "confined_space", "stored_air"):
        assert verdict[code] in text, code
        assert markup.escape(verdict[code]) in html(slow_result), code
        assert verdict[code] in slow_result.to_json()["usual_cautions"], code
    assert "one place" in text


def test_when_the_release_has_passed_it_says_so():
    job = Truth(COLD, (0.0, 0.0, 0.0, 0.0, 0.0))
    result = libcure.follow(job.loaded, readings(*job.log(500, 6)), **FEW)
    assert result.passed
    assert result.relied_on
    assert result.status == "may_come_out"


def test_the_document_fits_its_schema(slow_result):
    schema = json.loads((models_folder() / "schema" / "follow.schema.json").read_text())
    jsonschema.Draft202012Validator.check_schema(schema)
    libcure.validate(slow_result.to_json())
    spoiled = {**slow_result.to_json(), "release_min": "soon"}
    with pytest.raises(libcure.CureError, match="release_min"):
        libcure.validate(spoiled)


def test_the_example_is_what_its_script_draws():
    import runpy

    script = runpy.run_path(str(EXAMPLE.parents[1] / "make_follow.py"))
    with EXAMPLE.open(encoding="utf-8") as file:
        note, *lines = file.read().splitlines()
    assert "INVENTED" in note
    rows = list(csv.DictReader(lines))
    assert [float(row["time_min"]) for row in rows] == script["MINUTES"].tolist()
    result = libcure.follow(CASES / f"{COLD}.json", EXAMPLE)
    job = job_of(libcure.load_case(CASES / f"{COLD}.json"), ranges=script["OFF"])
    truth = float(job.release_times(row_of(job, script["TRUTH"]))[0]) / 60.0
    assert result.relied_on
    assert {s.code: s.count for s in result.faults} == {"missing": 2, "before_held": 1, "out_of_range": 1, "spike": 2}
    assert result.after.criterion_met_min.p5 <= truth <= result.after.criterion_met_min.p95
    assert truth <= result.release_min < 0.85 * result.before.wait_until_min


@pytest.mark.parametrize("text", [
    "time_min,temperature_C\n20,7.5\n21,\n22,8\n",
    "Zeit;time [min];Temp. (°C)\n0;20;7,5\n0;21;---\n0;22;8,0\n",
    "# a note\n\ntime_s\ttemperature_F\n1200\t45,5\n1260\tOL\n1320\t46,4\n",
    "TIME (h),Temperature/K\n0.3333333333333333,280.65\n0.35,NaN\n0.36666666666666664,281.15\n",
])  # fmt: skip
def test_readings_in_the_units_of_their_heading(tmp_path, text):
    path = tmp_path / "log.csv"
    path.write_text(text, encoding="utf-8")
    found = read_readings(path)
    np.testing.assert_allclose(found.time, [1200.0, 1260.0, 1320.0], rtol=1e-12)
    np.testing.assert_allclose(found.temperature, [280.65, np.nan, 281.15], rtol=1e-12)


@pytest.mark.parametrize(("text", "field", "value"), [
    ("", "file", "empty"),
    ("time_min,pressure\n1,2\n", "heading, temperature", "no column for it"),
    ("time_min,temperature_R\n1,2\n", 'column "temperature_R"', 'unit "R"'),
    ("time,temperature_C\n1,2\n", 'column "time"', 'unit ""'),
    ("time_min,temperature_C,temp_C\n1,2,3\n", "heading, temperature", "2 columns"),
    ("time_min,temperature_C\n1,warm\n2,\n", "rows", "2 without a number"),
])  # fmt: skip
def test_a_bad_file_is_one_clear_error(tmp_path, text, field, value):
    path = tmp_path / "log.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(libcure.CureError) as caught:
        libcure.follow(CASES / f"{COLD}.json", path)
    assert (caught.value.field, caught.value.file) == (field, str(path))
    assert value in caught.value.value
    assert caught.value.allowed
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(("arguments", "field"), [
    ({"at": "pipe"}, "at"),
    ({"at": 3}, "at"),
    ({"samples": 100}, "samples"),
    ({"samples": 32}, "samples"),
    ({"samples": 64.5}, "samples"),
    ({"samples": True}, "samples"),
    ({"samples": 2**70}, "samples"),
    ({"seed": -1}, "seed"),
    ({"seed": True}, "seed"),
    ({"seed": 2**70}, "seed"),
    ({"threads": 0}, "threads"),
    ({"now_min": 10.0}, "now_min"),
    ({"now_min": float("nan")}, "now_min"),
    ({"uncertain": "none"}, "uncertain"),
    ({"uncertain": (UncertainInput("a", "A", ("luck_factor",), "normal", 0.1),)}, "uncertain.a.moves"),
    ({"uncertain": (UncertainInput("a", "A", ("contact_factor", "ambient_offset_K"), "normal", 0.1),)}, "uncertain.a.moves"),
    ({"uncertain": (UncertainInput("a", "A", ("ambient_offset_K",), "lognormal", 0.1),)}, "uncertain.a.distribution"),
    ({"uncertain": (UncertainInput("a", "A", ("ambient_offset_K",), "normal", float("nan")),)}, "uncertain.a.sd"),
    ({"uncertain": (UncertainInput("clock", "C", ("ambient_offset_K",), "normal", 1.0),)}, "uncertain.clock"),
])  # fmt: skip
def test_a_bad_argument_is_one_clear_error(arguments, field):
    with pytest.raises(libcure.CureError) as caught:
        libcure.follow(CASES / f"{COLD}.json", Readings.from_arrays([20.0, 21.0], [6.0, 6.0]), **arguments)
    assert caught.value.field == field


def test_cases_that_cannot_be_followed():
    with pytest.raises(libcure.CureError, match="section"):
        libcure.follow(CASES / "standing_water_invert.json", EXAMPLE)
    case = libcure.load_case(CASES / f"{COLD}.json")
    document = case.document
    document["stages"] = document["stages"][:2]
    with pytest.raises(libcure.CureError, match="no held stage"):
        libcure.follow(document, EXAMPLE)
    with pytest.raises(libcure.CureError, match="one list of each"):
        Readings.from_arrays([1.0, 2.0], [3.0])
