"""How far a prediction can be trusted: its ranges, what is said of them, and where there are none."""

import dataclasses
import json
import math
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.console import Console
from scipy.special import ndtri
from scipy.stats import qmc

import libcure
from libcure import ensemble, models, verdict_view
from libcure.ranges import MOST, per_hundred
from libcure.rounding import duration
from libcure.sampling import Band, Constants, UncertainInput

MODELS = Path(__file__).parents[2] / "models"
CASES, SEASONAL = MODELS / "cases", MODELS / "charts" / "seasonal.json"
COLD = libcure.load_case(CASES / "cold_ground_winter.json")
SHIPPED = sorted(CASES.glob("*.json"))
SECTION = CASES / "standing_water_invert.json"
# Their sampled jobs go wrong in different ways.
JOBS = {
    "cold": {},
    "sure": {"release.safety_factor": 4},
    "not held": {"resin": "epoxy-amine-slow"},
    "never": {"release.alpha_min": 0.825},
    "late": {"stages[1].duration_min": 35},
    "thick": {"liner.thickness_mm": 18},
    "blend": {"resin": "epoxy-amine-blend-60-40"},
}
TOO_THICK = [UncertainInput("thickness", "Thickness", ("liner.thickness_factor",), "uniform", 0.3)]


@pytest.fixture(scope="module")
def predictions():
    return {name: libcure.predict(COLD.replace(changes)) for name, changes in JOBS.items()}


def shown(prediction, width=80, uncertain=None):
    console = Console(width=width, file=open(os.devnull, "w"), record=True)
    console.print(verdict_view.VerdictView(prediction, uncertain))
    console.file.close()
    return console.export_text()


def command(*arguments, code=0, **environment):
    done = subprocess.run(
        [sys.executable, "-m", "libcure", "predict", *map(str, arguments)], capture_output=True, text=True, timeout=120,
        env={**os.environ, "COLUMNS": "80", **environment},
    )  # fmt: skip
    assert done.returncode == code, done.stderr
    return done


# Numbers


def times_and_bands(p, r):
    """Pairs of a point estimate (None: never) and its band."""
    t = p.times
    margin = [] if r.working_margin_min is None else [(t.working_margin_min, r.working_margin_min)]
    service = [] if r.service_min is None else [(t.service_min, r.service_min)]
    return [(t.working_min, r.working_min), (t.gel_first_min, r.gel_first_min), (t.gel_last_min, r.gel_last_min),
            (t.release_min, r.release_min), (t.release_recommended_min, r.release_recommended_min),
            (p.verdict["peak_temperature_C"], r.peak_temperature_C), *margin, *service]  # fmt: skip


@pytest.mark.parametrize("path", SHIPPED, ids=lambda p: p.stem)
def test_ranges_bracket_the_point_estimate(path):
    p = libcure.predict(path)
    r = p.ranges()
    for point, band in times_and_bands(p, r):
        assert band.p5 <= band.p50 <= band.p95
        assert band.p5 <= (math.inf if point is None else point) <= band.p95
    # The middle sample is near the case itself.
    assert r.working_min.p50 == pytest.approx(p.times.working_min, rel=0.1)


def test_same_seed_same_numbers_to_the_bit():
    first, second = (libcure.predict(COLD).ranges() for _ in range(2))
    assert first is not second and first == second
    assert libcure.predict(COLD).ranges(SEASONAL, 128) == dataclasses.replace(first, uncertain=_named(first, SEASONAL))


def _named(r, path):
    return r.uncertain.replace("libcure's seasonal chart", str(path))


def test_computed_once_and_the_verdict_stays_as_it_is(predictions):
    p = libcure.predict(COLD)
    before = json.dumps(p.verdict)
    assert p.ranges() is p.ranges()
    assert json.dumps(p.verdict) == before == json.dumps(predictions["cold"].verdict)


@pytest.fixture(scope="module")
def drawn():
    """The outcomes of the cold job, drawn here by SciPy and run by the ensemble."""
    stated = json.loads(SEASONAL.read_text(encoding="utf-8"))["uncertain"]
    n, seed = 128, stated["seed"]
    u = qmc.Sobol(len(stated["inputs"]), scramble=True, bits=30, seed=seed).random(n) + 2.0**-31
    columns = {}
    for j, entry in enumerate(stated["inputs"]):
        z = 2.0 * u[:, j] - 1.0 if entry["distribution"] == "uniform" else ndtri(u[:, j])
        change = entry.get("sd", entry.get("half_width")) * z
        factor = entry["moves"][0].endswith("_factor")
        values = np.exp(change) if entry["distribution"] == "lognormal" else change + factor
        columns |= dict.fromkeys(entry["moves"], values)
    path = MODELS / "resins" / f"{COLD.document['resin']}.json"
    constants = Constants.read(json.loads(path.read_text(encoding="utf-8")))
    points = qmc.Sobol(len(constants.parameters), scramble=True, bits=30, seed=seed + 1).random(n) + 2.0**-31
    resins = models.resin_samples(path, constants.values(ndtri(points)))
    return ensemble.simulate_many(COLD, columns, resins=resins, **ensemble.SAMPLE_TOLERANCES)


def test_percentiles_are_those_of_numpy_on_the_ensemble(drawn, predictions):
    p = predictions["cold"]
    r = p.ranges()
    assert (drawn.release_state == 0).all()  # nothing infinite here
    for values, band, method in (
        (drawn.working_time_s / 60.0, r.working_min, "lower"),
        ((drawn.working_time_s - drawn.held_from_s) / 60.0, r.working_margin_min, "lower"),
        (drawn.gel_time_first_s / 60.0, r.gel_first_min, "lower"),
        (drawn.gel_time_last_s / 60.0, r.gel_last_min, "higher"),
        (drawn.release_time_s / 60.0, r.release_min, "higher"),
        (drawn.release_time_recommended_s / 60.0, r.release_recommended_min, "higher"),
        (drawn.peak_temperature_K - 273.15, r.peak_temperature_C, "higher"),
    ):
        expected = np.percentile(values, [5, 50, 95], method=method)
        np.testing.assert_allclose(dataclasses.astuple(band), expected, rtol=1e-6)
    late = np.mean(drawn.release_time_s / 60.0 > p.times.release_recommended_min)
    assert r.later_than_recommended == late > 0.0
    assert r.shares == {"reached": 1.0, **dict.fromkeys(ensemble.RELEASE_STATES[1:], 0.0)}


@pytest.mark.parametrize(
    "one",
    [
        UncertainInput("rate", "Speed of cure", ("resin.rate_factor",), "lognormal", 0.05),
        UncertainInput("air", "Packer", ("initial_temperature.packer_offset_K",), "uniform", 0.5),
        UncertainInput("ground", "Ground", ("ground.temperature_offset_K", "initial_temperature.pipe_offset_K"), "normal", 0.4),
    ],
    ids=lambda one: one.name,
)
def test_more_spread_gives_a_band_that_contains_the_narrower(tmp_path, one):
    resin = json.loads((MODELS / "resins" / f"{COLD.document['resin']}.json").read_text(encoding="utf-8"))
    del resin["covariance"]
    (tmp_path / "mine.json").write_text(json.dumps(resin), encoding="utf-8")
    p = libcure.predict(libcure.Case.from_dict({**COLD.document, "resin": "./mine.json"}, beside=tmp_path))
    found = [p.ranges([dataclasses.replace(one, spread=k * one.spread)]) for k in (1, 2, 4)]
    assert not any(r.constants for r in found)
    for narrow, wide in zip(found, found[1:], strict=False):
        for (_, a), (_, b) in zip(times_and_bands(p, narrow), times_and_bands(p, wide), strict=True):
            assert b.p5 <= a.p5 and a.p95 <= b.p95
        assert wide.working_min.p5 < narrow.working_min.p5 and narrow.gel_last_min.p95 < wide.gel_last_min.p95
        assert wide.working_min.p50 == pytest.approx(narrow.working_min.p50, rel=0.01)


@pytest.mark.parametrize("factor", [1, 1.25, 2, 3, 4, 6])
@pytest.mark.parametrize("samples", [16, 32, 128])
def test_the_caution_and_the_95_percent_side_say_the_same(factor, samples):
    p = libcure.predict(COLD.replace({"release.safety_factor": factor}))
    r = p.ranges(samples=samples)
    late = r.release_min.p95 > p.times.release_recommended_min
    assert late == (r.later_than_recommended > MOST) == any(code.startswith("release_not") for code, _ in r.cautions)


def test_the_return_to_service_is_that_of_each_sample(predictions):
    """Ranks of times computed one by one elsewhere (test_ensemble.py); never sooner than the release."""
    r = predictions["cold"].ranges()
    assert r.service_min.p5 >= r.release_recommended_min.p5
    assert r.service_min.p50 >= r.release_recommended_min.p50
    assert r.service_min.p5 < predictions["cold"].times.service_min < r.service_min.p95
    short = libcure.predict(COLD.replace({"stages[3].duration_min": 600}))
    assert short.ranges().service_min.p95 == math.inf and math.isfinite(short.ranges().release_min.p95)
    assert "to LATER" in shown(short)
    document = COLD.document
    del document["stages"][3]
    bare = libcure.predict(libcure.Case.from_dict(document))
    assert bare.ranges().service_min is None and bare.ranges().to_json()["service_time_min"] is None


def test_few_samples_where_each_costs_a_whole_prediction(predictions):
    assert predictions["blend"].ranges().samples == 16
    assert predictions["cold"].ranges().samples == 128
    assert predictions["blend"].ranges(samples=32).samples == 32
    assert "So few that these are their lowest and highest" in " ".join(shown(predictions["blend"]).split())


def test_a_sample_that_cannot_be_computed_counts_to_the_safe_side(predictions):
    p = predictions["thick"]  # thicker by 12 %, and it does not fit into the pipe
    r = p.ranges(TOO_THICK)
    assert 0.05 < r.shares["failed"] < 0.5
    assert r.working_min.p5 == r.gel_first_min.p5 == 0.0 and r.working_margin_min.p5 == -p.times.held_from_min
    assert math.isinf(r.gel_last_min.p95) and math.isinf(r.release_min.p95) and math.isinf(r.peak_temperature_C.p95)
    words = shown(p, uncertain=TOO_THICK)
    said = f"{round(128 * r.shares['failed'])} of them could not be computed and count to the safe side."
    assert "to NO ANSWER" in words and "there is no answer" in " ".join(words.split()) and said in " ".join(words.split())


# What is said


def test_a_recommended_release_that_comes_too_soon_is_told(predictions):
    p = predictions["cold"]
    r = p.ranges()
    assert [code for code, _ in r.cautions] == ["release_not_covered"]
    wait, recommended = duration(r.release_recommended_min.p95, up=True), duration(p.times.release_recommended_min, up=True)
    words = " ".join(shown(p, width=110).split())
    assert f"KEEP THE BLADDER IN UNTIL {wait} after mixing, or measure the wall: see caution 1." in words
    assert f"TOO SOON in {per_hundred(r.later_than_recommended)} jobs" in words
    assert f"not ready by the recommended {recommended}: keep the bladder in until {wait}" in words
    s = verdict_view.summary(p, r)
    assert s.stop and s.cautions[0] == (r.cautions[0][1], True)
    assert next(line for line in s.lines if line.name == "RECOMMENDED RELEASE").mark == "bad"


def test_a_release_that_covers_what_is_not_known_is_good(predictions):
    p = predictions["sure"]
    r = p.ranges()
    assert r.cautions == () and 0.0 < r.later_than_recommended <= MOST
    s = verdict_view.summary(p, r)
    assert not s.stop and s.headline.startswith("Keep the bladder in until") and "stated" not in s.headline
    assert "TOO SOON" not in shown(p)


def test_jobs_that_are_not_released_are_counted(predictions):
    p = predictions["not held"]
    r = p.ranges()
    assert p.times.release_recommended_min is not None and 0.05 < r.shares["not_in_hold"] < 0.5
    assert math.isinf(r.release_min.p95) and math.isfinite(r.release_min.p50)
    words = shown(p)
    assert words.count("to NOT HELD") == 3 and "DO NOT RELY ON THESE TIMES: see caution 1." in words
    said = f"1. In {per_hundred(r.not_released)} jobs like it, with what is not known exactly, the release criterion is not met"
    assert said in " ".join(words.split()) and "measure the wall" in words


def test_never_is_shown_beside_never(predictions):
    p = predictions["never"]
    assert p.times.release_min is None and p.ranges().later_than_recommended is None
    assert "to NEVER" in shown(p)
    assert not any(code.startswith("release") for code, _ in p.ranges().cautions)  # the verdict says it


def test_a_liner_that_may_come_too_late_is_told(predictions):
    p = predictions["late"]
    r = p.ranges()
    assert p.times.working_margin_min > 0.0 and r.too_late > MOST and r.working_margin_min.p5 < 0.0
    assert f"In {per_hundred(r.too_late)} jobs like it" in dict(r.cautions)["working_time_not_sure"]
    assert "passes its working limit before the liner is held" in " ".join(shown(p).split())


def test_heat_that_may_pass_a_limit_is_told(predictions):
    r = predictions["late"].ranges()
    limit = models.limit_C(COLD.document, COLD.beside)
    assert predictions["late"].verdict["peak_temperature_C"] < limit < r.peak_temperature_C.p95
    assert f"passes {limit:g} °C" in dict(r.cautions)["heat_not_sure"]


def test_what_was_uncertain_is_told(predictions, tmp_path):
    words = " ".join(shown(predictions["cold"]).split())
    for entry in json.loads(SEASONAL.read_text(encoding="utf-8"))["uncertain"]["inputs"]:
        assert entry["title"][1:] in words
    assert "constants of the resin by its covariance" in words and "128 samples" in words
    assert "constants of the resin by its covariance" in " ".join(shown(predictions["blend"]).split())
    exact = json.loads((MODELS / "resins" / "epoxy-amine-fast.json").read_text(encoding="utf-8"))
    del exact["covariance"]
    (tmp_path / "exact.json").write_text(json.dumps(exact), encoding="utf-8")
    p = libcure.predict(COLD.replace({"resin": str(tmp_path / "exact.json")}))
    assert "count as exact" in " ".join(shown(p).split())


@pytest.mark.parametrize("width", [60, 75, 76, 80, 110])
@pytest.mark.parametrize("name", JOBS)
def test_every_width_holds_the_page(predictions, name, width):
    words = shown(predictions[name], width)
    assert max(map(len, words.splitlines())) <= width
    assert "…" not in words and verdict_view.LIKELY in words
    if width == 80:  # a row takes at most three lines
        table = words[words.index(" From mixing") : words.index(" Numerical error")]
        assert len(table.splitlines()) <= 1 + 3 * 8


@pytest.mark.parametrize("changes", [{}, {"resin": "epoxy-amine-slow"}], ids=str)
def test_a_terminal_without_unicode(tmp_path, changes):
    path = tmp_path / "case.json"
    path.write_text(json.dumps({**COLD.document, **changes, "title": "plain"}), encoding="utf-8")
    words = command(path, PYTHONIOENCODING="ascii", PYTHONUTF8="0").stdout
    assert words.isascii() and "?" not in words and verdict_view.LIKELY in words


def test_the_notebook_shows_the_same(predictions):
    page = predictions["not held"]._repr_html_()
    r = predictions["not held"].ranges()
    assert f">{verdict_view.LIKELY}</th>" in page and "to NOT HELD" in page
    assert r.cautions[0][1] in page and "<details open>" in page
    assert page.count("<td") == 8 * 4


minutes = st.floats(0.0, 1e5)


@given(minutes, minutes)
def test_a_span_is_rounded_outward(a, b):
    low, high = sorted((a, b))
    words = verdict_view._span(Band(low, low, high), "later").split(" to ")

    def value(text):
        hours, _, rest = text.removesuffix(" min").partition(" h")
        return 60.0 * float(hours) + float(rest or 0.0) if " h" in text else float(hours)

    first, last = value(words[0]), value(words[-1])
    assert low - 1.0 - 1e-5 <= first <= low + 1e-5 and high - 1e-5 <= last <= high + 1.0 + 1e-5


@pytest.mark.parametrize(
    ("band", "words"),
    [
        (Band(42.7, 50.0, 69.3), "42 min to 1 h 10"),
        (Band(28.7, 39.0, 55.3), "28 to 56 min"),
        (Band(6.64, 7.0, 8.01), "6.6 to 8.1 min"),
        (Band(-5.6, -4.0, -2.8), "-5.6 to -2.8 min"),
        (Band(-5.6, 4.0, 26.4), "-6 to 27 min"),
        (Band(60.0, 60.0, 60.0), "1 h"),
        (Band(855.0, 1000.0, math.inf), "14 h 15 to later"),
        (Band(math.inf, math.inf, math.inf), "later"),
    ],
)
def test_spans_in_words(band, words):
    assert verdict_view._span(band, "later") == words


@pytest.mark.parametrize(("share", "words"), [(0.0, "0 of 100"), (0.0547, "6 of 100"), (0.999, "99 of 100"), (1.0, "100 of 100"), (0.25, "25 of 100")])
def test_shares_are_rounded_up(share, words):
    assert per_hundred(share) == words


# Where there are none


def test_a_section_has_few_samples():
    p = libcure.predict(SECTION)
    assert p.ranges().samples == 16
    assert p.ranges().working_min.p5 < p.times.working_min < p.ranges().working_min.p95
    words = " ".join(shown(p, width=110).split())
    assert "measure the wall." in words and "libcure follow" not in words  # which takes no sections
    assert verdict_view.LIKELY in words and "So few that these are their lowest and highest" in words


@pytest.mark.parametrize("pooled", [True, False])
def test_a_sample_of_a_section_is_the_section_so_changed(pooled):
    """Its thickness table moves with the liner's thickness, or a thick invert would count as exact."""
    shipped = libcure.load_case(SECTION).document
    if not pooled:
        del shipped["section"]["liner_thickness_mm"]
    case = libcure.Case.from_dict(shipped)
    sampled = ensemble.simulate_many(case, {"liner.thickness_factor": [1.0, 1.2], "ground.temperature_offset_K": [0.0, -2.0]})
    document = case.document
    table = document["section"].get("liner_thickness_mm")
    by_hand = {"liner.thickness_mm": 1.2 * document["liner"]["thickness_mm"],
               "ground.temperature_C": document["ground"]["temperature_C"] - 2.0}  # fmt: skip
    if table is not None:
        by_hand["section.liner_thickness_mm"] = {**table, "value": [1.2 * t for t in table["value"]]}
    for row, changed in enumerate((case, case.replace(by_hand))):
        times = libcure.predict(changed, numerical_error=False).times
        assert sampled.working_time_s[row] / 60.0 == pytest.approx(times.working_min, rel=1e-9)
        assert sampled.release_time_s[row] / 60.0 == pytest.approx(times.release_min, rel=1e-9)


def test_a_section_that_a_sample_cannot_have_fails_alone():
    """The liner's 4 mm would still fit six times into the pipe, the 6 mm at its invert do not."""
    out = ensemble.simulate_many(libcure.load_case(SECTION), {"liner.thickness_factor": [1.0, 6.0]})
    assert out.release_state.tolist().count(ensemble.RELEASE_STATES.index("failed")) == 1
    assert "thickness" in out.messages[1]


def test_none_is_a_point_estimate(predictions):
    p = predictions["cold"]
    assert p.ranges("none") is None and p.why_no_ranges("none") == "no ranges were asked for"
    words = " ".join(shown(p, width=110, uncertain="none").split())
    assert "1 h 45 min (105 min)" in words and "if all is as stated" in words and verdict_view.LIKELY not in words


def test_stages_without_a_hold():
    stages = COLD.document["stages"]
    pouch = libcure.predict({**COLD.document, "stages": stages[:1]})
    r = pouch.ranges()
    assert r.working_margin_min is None and r.later_than_recommended is None and r.shares["no_held_stage"] == 1.0
    assert "NO HELD STAGE" in shown(pouch)
    after = libcure.predict({**COLD.document, "stages": stages[3:]})
    assert after.ranges() is None and "after release" in after.why_no_ranges()


# Documents and command


@pytest.mark.parametrize("path", SHIPPED, ids=lambda p: p.stem)
def test_json_has_the_verdict_and_beside_it_the_ranges(path):
    document = json.loads(command(path, "--json", "-").stdout)
    libcure.validate(document)
    ranges = document.pop("ranges")
    p = libcure.predict(path)
    assert document == p.verdict
    libcure.validate(document)  # a verdict without ranges, as before
    found = p.ranges()
    assert ranges == (None if found is None else found.to_json())


def test_what_is_infinite_is_null_in_json(predictions):
    r = predictions["not held"].ranges()
    assert r.to_json()["release_time_min"]["p95"] is None
    libcure.validate({**predictions["not held"].verdict, "ranges": r.to_json()})


@pytest.mark.parametrize(
    "changes",
    [{"working_time_min": 5}, {"too_late_share": 1.5}, {"more": 1}, {"samples": None}, {"release_time_min": {"p5": 1, "p50": 2}}],
    ids=str,
)
def test_the_schema_refuses_other_ranges(predictions, changes):
    p = predictions["cold"]
    with pytest.raises(libcure.CureError):
        libcure.validate({**p.verdict, "ranges": {**p.ranges().to_json(), **changes}})


def test_ranges_of_a_chart_document_are_taken(tmp_path):
    chart = json.loads(SEASONAL.read_text(encoding="utf-8"))
    chart["uncertain"] = {"seed": 3, "samples": 16, "constants": False, "inputs": chart["uncertain"]["inputs"][:1]}
    path = tmp_path / "mine.json"
    path.write_text(json.dumps(chart), encoding="utf-8")
    ranges = json.loads(command(CASES / "cold_ground_winter.json", "--uncertain", path, "--json", "-").stdout)["ranges"]
    assert ranges == libcure.predict(COLD).ranges(path).to_json()
    assert (ranges["seed"], ranges["samples"], ranges["resin_constants"]) == (3, 128, False)
    assert ranges["uncertain"] == f"the ranges of {path}: ground temperature ± 1 K"
    usual = libcure.predict(COLD).ranges()
    assert ranges["working_time_min"]["p5"] > usual.working_min.p5  # fewer things vary, and less


@pytest.mark.parametrize(
    ("text", "field"),
    [
        (None, "cannot be read"),
        ("{", "not JSON"),
        ('{"format": "libcure/case/1"}', 'format: "libcure/case/1"'),
        ('{"format": "libcure/chart/1"}', "uncertain: missing"),
        ('{"format": "libcure/chart/1", "uncertain": {"seed": 1, "samples": 16, "more": 1}}', "uncertain.more"),
        ('{"format": "libcure/chart/1", "uncertain": {"seed": 1, "samples": 16, "inputs": [{"name": "a", "moves": ["b"]}]}}',
         "uncertain.inputs[0].moves"),
    ],
)  # fmt: skip
def test_a_bad_document_is_one_clear_line(tmp_path, text, field):
    path = tmp_path / "chart.json"
    if text is not None:
        path.write_text(text, encoding="utf-8")
    target = tmp_path / "out.json"
    done = command(CASES / "cold_ground_winter.json", "--uncertain", path, "--json", target, code=2)
    assert done.stdout == "" and len(done.stderr.splitlines()) == 1
    assert field in done.stderr and str(path) in done.stderr and "allowed:" in done.stderr
    assert not target.exists() and "Traceback" not in done.stderr


@pytest.mark.parametrize("samples", [0, 8, 100, True, 2**17, 16.0])
def test_samples_are_checked(samples):
    with pytest.raises(libcure.CureError, match="a power of two, 16 to 65536"):
        libcure.predict(COLD).ranges(samples=samples)
