"""The answer on a job, and how far its times can be trusted: one number everywhere, and what is said of it."""

import dataclasses
import io
import json
import math
from pathlib import Path

import numpy as np
import pytest
from forked_command import run
from rich.console import Console
from scipy.special import ndtri
from scipy.stats import binom

import libcure
from libcure import _core, ensemble, models
from libcure.render import page_look, verdict_view
from libcure.sampling import UncertainInput, unit_points
from libcure.sampling.uncertainty import StatedRanges, read_ranges
from libcure.words.rounding import duration

MODELS = Path(__file__).parents[2] / "models"
CASES, SEASONAL = MODELS / "cases", MODELS / "charts" / "seasonal.json"
COLD = libcure.load_case(CASES / "cold_ground_winter.json")
SHIPPED = sorted(CASES.glob("*.json"))
SECTION = CASES / "standing_water_invert.json"
# Their sampled jobs go wrong in different ways.
JOBS = {
    "cold": {},
    "short hold": {"stages[2].duration_min": 45},
    "never": {"release.alpha_min": 0.9},
    "late": {"stages[1].duration_min": 64},
    "thick": {"liner.thickness_mm": 18},
    "blend": {"resin": "epoxy-amine-blend-60-40"},
}
LIKELY = "9 samples in 10"
TOO_THICK = [UncertainInput("thickness", "Thickness", ("liner.thickness_factor",), "uniform", 0.3)]


@pytest.fixture(scope="module")
def predictions():
    return {name: libcure.predict(COLD.replace(changes)) for name, changes in JOBS.items()}


def shown(prediction, width=80):
    console = Console(width=width, file=io.StringIO(), record=True)
    console.print(verdict_view.VerdictView(prediction))
    return console.export_text()


def command(*arguments, code=0, **environment):
    return run("predict", *arguments, code=code, **environment)


# One answer everywhere


@pytest.mark.parametrize("path", SHIPPED, ids=lambda p: p.stem)
def test_page_html_json_and_python_give_the_same_release(path, tmp_path):
    p = libcure.predict(path)
    page = " ".join(command(path, "--json", tmp_path / "v.json").stdout.replace("│", " ").split())
    document = json.loads((tmp_path / "v.json").read_text(encoding="utf-8"))
    assert document["answer"] == p.verdict["answer"]
    libcure.validate(document)
    notebook = p._repr_html_()
    assert p.answer.headline in page and p.answer.headline in notebook
    assert p.page.headline == p.answer.headline and p.page.reasons == p.answer.reasons
    line = next(row for row in p.page.rows if row.name == "BLADDER OUT")
    if p.answer.stop:
        assert p.answer.release_min is None and line.time == "NOT TO BE PLANNED"
        assert "Keep the bladder in" not in page and "DO NOT" in page
    else:
        words = duration(p.answer.release_min, up=True)
        assert line.time == words.partition(" (")[0] and f"until {words} after mixing" in page
    # The one other time that is about the release says what it is.
    assert "recommended" not in json.dumps(document) and "Recommended" not in page


@pytest.mark.parametrize("path", SHIPPED, ids=lambda p: p.stem)
def test_the_picture_says_what_the_page_says(path):
    p = libcure.predict(path)
    texts = p.plot().texts
    words = [t.get_text() for t in texts]
    headline = texts[words.index(p.answer.headline)]
    assert headline.get_color() == page_look.HTML_COLOURS[p.answer.status]
    # With every reason, so that it may be sent alone.
    all_words = " ".join(" ".join(words).split())
    for number, reason in enumerate(p.answer.reasons, 1):
        assert f"{number}. {reason.text}" in all_words
    out = [w for w in words if w.startswith("BLADDER OUT")]
    assert out == ([] if p.answer.stop else [f"BLADDER OUT {duration(p.answer.release_min, up=True).partition(' (')[0]}"])


@pytest.mark.parametrize("path", SHIPPED, ids=lambda p: p.stem)
def test_a_liner_placed_at_the_latest_moment_is_just_in_time(path):
    """Held against the plan's own margin, with the wet-out as long as it then is."""
    case = libcure.load_case(path)
    p = libcure.predict(case)
    latest, before = p.answer.latest_in_place_min, p.verdict["held_from_min"]
    wet_out = next(s["duration_min"] for s in case.document["stages"] if s["kind"] == "wet_out")
    assert latest <= p.ranges.latest_in_place_min.p5 and latest <= p.answer.working_until_min

    def placed(minutes):
        plan = case.replace({"stages[1].duration_min": wet_out + minutes - before})
        return libcure.predict(plan, samples=256, numerical_error=False).ranges

    share = placed(latest).too_late
    assert share <= 0.05
    if latest < p.answer.working_until_min:
        # The bound lies beyond the 5 % side by its sampling error, 95 % of 256 samples.
        assert share >= 0.005
        assert placed(1.25 * latest).too_late > 0.05


def test_what_begins_with_the_hold_has_no_latest_moment_in_place():
    held = COLD.replace({"stages": [COLD.document["stages"][2]]})
    p = libcure.predict(held)
    assert p.answer.latest_in_place_min is None and p.ranges.latest_in_place_min is None


@pytest.mark.parametrize("name", JOBS)
def test_the_release_covers_the_bound_of_the_95_percent_side(predictions, name):
    p = predictions[name]
    r = p.ranges
    assert (p.answer.release_min is None) == (p.answer.status == "stop")
    if p.answer.release_min is None:
        return
    assert p.answer.release_min >= r.release_bound_min >= r.criterion_met_min.p95
    assert p.answer.release_min % 5.0 == 0.0
    # Not twice: the next 5 min beyond the bound and the numerical error.
    error = p.verdict["numerical_error"]["criterion_met_min"]
    if error is not None:  # of a hold that ends too soon there is none
        assert p.answer.release_min < r.release_bound_min + error + 5.0 + 1e-6
    assert p.answer.working_until_min <= r.working_min.p5


def test_a_job_that_must_not_be_done_gives_no_number(predictions):
    for name in ("never", "late"):
        p = predictions[name]
        assert p.answer.status == "stop" and p.answer.release_min is None
        assert any(reason.status == "stop" for reason in p.answer.reasons)
        assert p.answer.headline.startswith("DO NOT")


def test_a_hold_that_is_too_short_is_told_how_long(predictions):
    p = predictions["short hold"]
    assert p.answer.status == "wait"
    reason = next(r for r in p.answer.reasons if r.code == "hold_longer")
    assert duration(p.answer.release_min, up=True) in reason.text


def test_numbers_for_people_are_the_answer_first(predictions):
    p = predictions["cold"]
    assert f"release_min={p.answer.release_min:g}" in repr(p)
    assert p.cautions[: len(p.answer.reasons)] == [r.text for r in p.answer.reasons]


# Numbers


def times_and_bands(p, r):
    """Pairs of a point estimate (None: never) and its band."""
    t = p.times
    margin = [] if r.working_margin_min is None else [(t.working_margin_min, r.working_margin_min)]
    service = [] if r.service_min is None else [(t.service_min, r.service_min)]
    return [(t.working_min, r.working_min), (t.gel_first_min, r.gel_first_min), (t.gel_last_min, r.gel_last_min),
            (p.verdict["peak_temperature_C"], r.peak_temperature_C), *margin, *service]  # fmt: skip


@pytest.mark.parametrize("path", SHIPPED, ids=lambda p: p.stem)
def test_ranges_bracket_the_point_estimate(path):
    p = libcure.predict(path)
    r = p.ranges
    for point, band in times_and_bands(p, r):
        assert band.p5 <= band.p50 <= band.p95
        assert band.p5 <= (math.inf if point is None else point) <= band.p95
    # The middle sample is near the case itself.
    assert r.working_min.p50 == pytest.approx(p.times.working_min, rel=0.1)


def test_same_seed_same_numbers_to_the_bit():
    first, second = (libcure.predict(COLD) for _ in range(2))
    assert first.verdict == second.verdict
    named = libcure.predict(COLD, uncertain=SEASONAL).ranges
    assert named == dataclasses.replace(first.ranges, uncertain=first.ranges.uncertain.replace("the usual ranges", f"the ranges of {SEASONAL}"))


def test_the_usual_ranges_are_those_of_the_shipped_chart():
    usual, chart = StatedRanges.usual(), read_ranges(SEASONAL)
    assert (usual.inputs, usual.seed, usual.constants) == (chart.inputs, chart.seed, chart.constants)


@pytest.fixture(scope="module")
def drawn():
    """The outcomes of the cold job, its inputs drawn here from the points, and run by the ensemble."""
    stated = json.loads(SEASONAL.read_text(encoding="utf-8"))["uncertain"]
    n, seed = 256, stated["seed"]
    path = MODELS / "resins" / f"{COLD.document['resin']}.json"
    text = path.read_text(encoding="utf-8")
    u = unit_points(len(stated["inputs"]) + len(json.loads(text)["covariance"]["parameters"]), n, seed)
    columns = {}
    for j, entry in enumerate(stated["inputs"]):
        z = 2.0 * u[:, j] - 1.0 if entry["distribution"] == "uniform" else ndtri(u[:, j])
        change = entry.get("sd", entry.get("half_width")) * z
        factor = entry["moves"][0].endswith("_factor")
        values = np.exp(change) if entry["distribution"] == "lognormal" else change + factor
        columns |= dict.fromkeys(entry["moves"], values)
    resins = models.resin_samples(path, _core.drawn_constants(text, str(path), ndtri(u[:, len(stated["inputs"]) :])))
    return ensemble.simulate_many(COLD, columns, resins=resins)


def test_percentiles_are_those_of_numpy_on_the_ensemble(drawn):
    r = libcure.predict(COLD, samples=256).ranges
    for values, band, method in (
        (drawn.working_time_s / 60.0, r.working_min, "lower"),
        ((drawn.working_time_s - drawn.held_from_s) / 60.0, r.working_margin_min, "lower"),
        (drawn.gel_time_first_s / 60.0, r.gel_first_min, "lower"),
        (drawn.gel_time_last_s / 60.0, r.gel_last_min, "higher"),
        (drawn.peak_temperature_K - 273.15, r.peak_temperature_C, "higher"),
    ):
        expected = np.percentile(values, [5, 50, 95], method=method)
        np.testing.assert_allclose(dataclasses.astuple(band), expected, rtol=1e-4)
    # The bound is the order statistic that SciPy's binomial names.
    release = np.sort(np.where(np.isnan(drawn.release_time_s), np.inf, drawn.release_time_s))
    rank = int(np.argmax(binom.cdf(np.arange(257) - 1, 256, 0.95) >= 0.95))
    assert r.release_bound_min == pytest.approx(release[rank - 1] / 60.0, rel=1e-3)


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
    case = libcure.Case.from_dict({**COLD.document, "resin": "./mine.json"}, beside=tmp_path)
    found = [libcure.predict(case, uncertain=[dataclasses.replace(one, spread=k * one.spread)]) for k in (1, 2, 4)]
    assert not any(p.ranges.constants for p in found)
    for narrow, wide in zip(found, found[1:], strict=False):
        for (_, a), (_, b) in zip(times_and_bands(narrow, narrow.ranges), times_and_bands(wide, wide.ranges), strict=True):
            assert b.p5 <= a.p5 + 1e-6 and a.p95 <= b.p95 + 1e-6
        assert narrow.answer.release_min is None or wide.answer.release_min is None or narrow.answer.release_min <= wide.answer.release_min


def test_the_return_to_service_is_never_sooner_than_the_release(predictions):
    p = predictions["cold"]
    assert p.answer.release_min is None or p.ranges.service_min.p5 >= p.answer.release_min - 5.0
    document = COLD.document
    del document["stages"][3]
    bare = libcure.predict(libcure.Case.from_dict(document))
    assert bare.ranges.service_min is None and bare.verdict["ranges"]["service_time_min"] is None


def test_few_samples_where_each_costs_a_whole_prediction(predictions):
    assert predictions["blend"].ranges.samples == 128
    assert predictions["cold"].ranges.samples >= 256
    assert libcure.predict(predictions["blend"].case, samples=32).ranges.samples == 32


def test_a_sample_that_cannot_be_computed_counts_to_the_conservative_side(predictions):
    # Thicker by 12 %, and it does not fit into the pipe.
    p = libcure.predict(predictions["thick"].case, uncertain=TOO_THICK)
    r = p.ranges
    assert 0.05 < r.shares["failed"] < 0.5
    assert r.working_min.p5 == r.gel_first_min.p5 == 0.0 and r.working_margin_min.p5 == -p.times.held_from_min
    assert math.isinf(r.gel_last_min.p95) and math.isinf(r.criterion_met_min.p95) and math.isinf(r.peak_temperature_C.p95)
    words = " ".join(shown(p).split())
    said = f"{round(r.samples * r.shares['failed'])} of them could not be computed and count to the conservative side."
    assert "to NO ANSWER" in words and said in words and p.answer.status == "stop"


# What is said


def test_never_is_shown_beside_never(predictions):
    p = predictions["never"]
    assert p.times.criterion_met_min is None
    assert "NEVER" in shown(p) or "LATER" in shown(p)


def test_a_liner_that_may_come_too_late_is_told(predictions):
    p = predictions["late"]
    assert p.ranges.too_late > 0.05 and p.ranges.working_margin_min.p5 < 0.0
    assert "passes its working limit" in " ".join(shown(p).split())


def test_what_was_uncertain_is_told(predictions, tmp_path):
    words = " ".join(shown(predictions["cold"]).split())
    for entry in json.loads(SEASONAL.read_text(encoding="utf-8"))["uncertain"]["inputs"]:
        assert entry["title"][1:] in words
    assert "constants of the resin by its covariance" in words and f"{predictions['cold'].ranges.samples} samples" in words
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
    assert "…" not in words and LIKELY in words
    if width == 80:  # a row takes at most three lines
        table = words[words.index(" From mixing") : words.index(" Numerical error")]
        assert len(table.splitlines()) <= 1 + 3 * 9


@pytest.mark.parametrize("changes", [{}, {"resin": "epoxy-amine-slow"}], ids=str)
def test_a_terminal_without_unicode(tmp_path, changes):
    path = tmp_path / "case.json"
    path.write_text(json.dumps({**COLD.document, **changes, "title": "plain"}), encoding="utf-8")
    words = command(path, PYTHONIOENCODING="ascii", PYTHONUTF8="0").stdout
    assert words.isascii() and "?" not in words and LIKELY in words


# Sections, and where there are no ranges


def test_a_section_has_enough_samples():
    p = libcure.predict(SECTION)
    assert p.ranges.samples == 128
    assert p.ranges.working_min.p5 < p.times.working_min < p.ranges.working_min.p95
    assert not any(reason.code == "few_samples" for reason in p.answer.reasons)
    words = " ".join(shown(p, width=110).split())
    assert "libcure follow" not in words  # which takes no sections


@pytest.mark.parametrize("pooled", [True, False])
def test_a_sample_of_a_section_is_the_section_so_changed(pooled):
    """Its thickness table moves with the liner's thickness, or a thick invert would count as exact."""
    shipped = libcure.load_case(SECTION).document
    if not pooled:
        del shipped["section"]["liner_thickness_mm"]
    case = libcure.Case.from_dict(shipped)
    as_predict: ensemble.Tolerances = {"temperature_tolerance_K": 5e-3, "alpha_tolerance": 5e-6}
    moved = {"liner.thickness_factor": [1.0, 1.2], "ground.temperature_offset_K": [0.0, -2.0]}
    sampled = ensemble.simulate_many(case, moved, **as_predict)
    document = case.document
    table = document["section"].get("liner_thickness_mm")
    by_hand = {"liner.thickness_mm": 1.2 * document["liner"]["thickness_mm"],
               "ground.temperature_C": document["ground"]["temperature_C"] - 2.0}  # fmt: skip
    if table is not None:
        by_hand["section.liner_thickness_mm"] = {**table, "value": [1.2 * t for t in table["value"]]}
    for row, changed in enumerate((case, case.replace(by_hand))):
        times = libcure.predict(changed, numerical_error=False, uncertain="none").times
        assert sampled.working_time_s[row] / 60.0 == pytest.approx(times.working_min, rel=1e-9)
        assert sampled.release_time_s[row] / 60.0 == pytest.approx(times.criterion_met_min, rel=1e-9)


def test_a_section_that_a_sample_cannot_have_fails_alone():
    """The liner's 4 mm would still fit six times into the pipe, the 6 mm at its invert do not."""
    out = ensemble.simulate_many(libcure.load_case(SECTION), {"liner.thickness_factor": [1.0, 6.0]})
    assert out.release_state.tolist().count(ensemble.RELEASE_STATES.index("failed")) == 1
    assert "thickness" in out.messages[1]


def test_none_is_a_point_estimate_times_the_factor():
    p = libcure.predict(COLD, uncertain="none")
    assert p.ranges is None and p.why_no_ranges == "no ranges were asked for"
    error = p.verdict["numerical_error"]["criterion_met_min"]
    factor = p.verdict["criterion"]["safety_factor"]
    assert p.answer.release_min == 5.0 * math.ceil((p.times.criterion_met_min + error) * factor / 5.0 - 1e-9)
    words = " ".join(shown(p, width=110).split())
    assert "if all is as stated" in words and LIKELY not in words


def test_stages_without_a_hold():
    stages = COLD.document["stages"]
    pouch = libcure.predict({**COLD.document, "stages": stages[:1]})
    assert pouch.ranges.working_margin_min is None and pouch.ranges.shares["no_held_stage"] == 1.0
    assert pouch.answer.release_min is None and "NO HELD STAGE" in shown(pouch)
    after = libcure.predict({**COLD.document, "stages": stages[3:]})
    assert after.ranges is None and "after release" in after.why_no_ranges


# A model that does not know the cold


def test_a_model_without_diffusion_control_gives_no_release_in_the_cold(tmp_path):
    """As fitted from gel times or ramps alone: its law goes on as if the resin never turned to glass."""
    resin = json.loads((MODELS / "resins" / "epoxy-amine-medium.json").read_text(encoding="utf-8"))
    del resin["covariance"]
    resin["diffusion"] = {"form": "none"}
    (tmp_path / "mine.json").write_text(json.dumps(resin), encoding="utf-8")
    document = {**COLD.document, "resin": "./mine.json"}
    p = libcure.predict(libcure.Case.from_dict(document, beside=tmp_path))
    assert p.answer.status == "stop" and p.answer.release_min is None
    assert p.verdict["release_state"] == "outside_model" and p.times.criterion_met_min is None
    assert p.ranges.shares["outside_model"] > 0.9
    first = shown(p)
    assert "DO NOT RELY ON THESE TIMES" in first and "says nothing about setting in the cold" in " ".join(first.split())
    # Evidence that the law still holds where the release is decided lifts that.
    resin["validity"]["Tg_margin_max"] = {"value": 60, "unit": "K", "basis": "assumption", "source": "none", "where": "test", "note": "test"}
    (tmp_path / "mine.json").write_text(json.dumps(resin), encoding="utf-8")
    assert libcure.predict(libcure.Case.from_dict(document, beside=tmp_path)).times.criterion_met_min is not None


# Documents and command


def test_what_is_infinite_is_null_in_json(predictions):
    r = predictions["never"].verdict["ranges"]
    assert r["criterion_met_min"]["p95"] is None and r["release_side"]["bound_min"] is None


@pytest.mark.parametrize(
    "changes",
    [{"working_time_min": 5}, {"too_late_share": 1.5}, {"more": 1}, {"samples": None}, {"criterion_met_min": {"p5": 1, "p50": 2}}],
    ids=str,
)
def test_the_schema_refuses_other_ranges(predictions, changes):
    p = predictions["cold"]
    with pytest.raises(libcure.CureError):
        libcure.validate({**p.verdict, "ranges": {**p.verdict["ranges"], **changes}})


def test_ranges_of_a_chart_document_are_taken(tmp_path):
    chart = json.loads(SEASONAL.read_text(encoding="utf-8"))
    chart["uncertain"] = {"seed": 3, "samples": 16, "constants": False, "inputs": chart["uncertain"]["inputs"][:1]}
    path = tmp_path / "mine.json"
    path.write_text(json.dumps(chart), encoding="utf-8")
    ranges = json.loads(command(CASES / "cold_ground_winter.json", "--uncertain", path, "--json", "-").stdout)["ranges"]
    assert ranges == libcure.predict(COLD, uncertain=path).verdict["ranges"]
    assert (ranges["seed"], ranges["resin_constants"]) == (3, False)
    assert ranges["uncertain"] == f"the ranges of {path}: ground temperature (sd 1 K)"
    assert ranges["working_time_min"]["p5"] > libcure.predict(COLD).ranges.working_min.p5  # fewer things vary, and less


@pytest.mark.parametrize(
    ("text", "field"),
    [
        (None, "cannot be read"),
        ("{", "not JSON"),
        ('{"format": "libcure/case/1"}', 'format: "libcure/case/1"'),
        ('{"format": "libcure/chart/1"}', "uncertain: missing"),
        ('{"format": "libcure/chart/1", "uncertain": {"seed": 1, "samples": 16, "more": 1}}', "uncertain.more"),
        ('{"format": "libcure/chart/1", "uncertain": {"seed": 1, "samples": 16, "inputs": [{"name": "a", "moves": ["b"], "distribution": "normal", "sd": 1}]}}',
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


@pytest.mark.parametrize("odd", [{"seed": 3}, ["air"], [1.0]])
def test_something_else_than_ranges_is_one_line(odd):
    with pytest.raises(libcure.CureError, match="uncertain: .*; allowed: a path of a chart document"):
        libcure.predict(COLD, uncertain=odd)


@pytest.mark.parametrize("samples", [0, 8, 100, True, 2**17, 16.0])
def test_samples_are_checked(samples):
    with pytest.raises(libcure.CureError, match="a power of two, 16 to 65536"):
        libcure.predict(COLD, samples=samples)


@pytest.mark.parametrize("change", [{}, {"resin": 18.0}, {"resin": 4.0, "packer": 2.0}], ids=str)
def test_samples_that_are_foretold_move_nothing(change):
    case = COLD.replace({f"initial_temperature_C.{part}": celsius for part, celsius in change.items()})
    some = libcure.predict(case).ranges
    every = libcure.predict(case, samples=some.samples).ranges
    assert some.samples > 512 and every.simulated == every.samples
    assert 512 < some.simulated < 0.8 * some.samples
    # Shares count samples near their limits, all of which are simulated.
    assert (some.shares, some.too_late, some.too_hot) == (every.shares, every.too_late, every.too_hot)
    assert some.working_min.p5 == pytest.approx(every.working_min.p5, rel=0.002)
    assert some.release_bound_min == pytest.approx(every.release_bound_min, rel=0.01)
    for name in ("working_min", "gel_first_min", "gel_last_min", "criterion_met_min", "peak_temperature_C"):
        np.testing.assert_allclose(dataclasses.astuple(getattr(some, name)), dataclasses.astuple(getattr(every, name)), rtol=0.015)
