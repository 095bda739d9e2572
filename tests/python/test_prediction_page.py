"""The page of a prediction in words, as HTML and as a picture."""

import io
import pickle
import re
import time
from pathlib import Path

import pytest
from forked_command import run
from rich.console import Console

import libcure
from libcure import rendering
from libcure.render import verdict_view
from libcure.words.page import USUAL
from libcure.words.rounding import duration

CASES = Path(__file__).parents[2] / "models" / "cases"
COLD, HOT = CASES / "cold_ground_winter.json", CASES / "hot_packer_summer.json"


def shown(prediction, width=100):
    console = Console(width=width, file=io.StringIO(), record=True)
    console.print(verdict_view.VerdictView(prediction))
    return console.export_text()


# Words


@pytest.mark.parametrize(
    ("minutes", "up", "words"),
    [
        (18.9, False, "18 min"),
        (18.1, True, "19 min"),
        (6.66, False, "6.6 min"),
        (6.61, True, "6.7 min"),
        (5.0, True, "5 min"),
        (105.0, True, "1 h 45 min (105 min)"),
        (119.2, True, "2 h (120 min)"),
        (59.5, True, "1 h (60 min)"),
        (1531.7, False, "25 h 31 min"),
        (599.0, True, "9 h 59 min (599 min)"),
        (-7.36, False, "-7.4 min"),
        (-12.5, False, "-13 min"),
        (200.0000000001, True, "3 h 20 min (200 min)"),
        (199.9999999999, False, "3 h 20 min (200 min)"),
    ],
)
def test_durations_round_to_the_safe_side(minutes, up, words):
    assert duration(minutes, up=up) == words


def test_good_verdict_in_words(result):
    words = shown(result)
    assert "Keep the bladder in until" in words
    assert "DO NOT" not in words
    assert "ESTIMATED MODEL" in words
    assert "NEVER" not in words


def test_late_verdict_in_words():
    late = libcure.load_case(COLD).replace({"stages[1].duration_min": 90})
    prediction = libcure.predict(late)
    assert prediction.times.working_margin_min < 0
    words = shown(prediction)
    assert "DO NOT DO THIS JOB AS PLANNED: see caution" in words
    assert "TOO LATE" in words
    assert re.search(r"1\. The resin passes its working limit", words)


def test_never_in_words(case):
    never = libcure.predict(case.replace({"release.alpha_min": 0.97}))
    assert never.times.criterion_met_min is None
    words = shown(never)
    assert "NEVER: vitrified" in words and "NOT TO BE PLANNED" in words
    assert "Keep the bladder" not in words
    assert "NEVER" in never._repr_html_()


def test_short_hold_in_words(case):
    short = libcure.predict(case.replace({"stages[2].duration_min": 30}))
    words = " ".join(shown(short).split())
    assert "NOT WHILE HELD" in words and f"hold until {duration(short.answer.release_min, up=True)}" in words


def test_reasons_come_first_and_are_counted():
    p = libcure.predict(HOT)
    s = p.page
    stops = [reason.status for reason in s.reasons].count("stop")
    assert [reason.status for reason in s.reasons][:stops] == ["stop"] * stops and stops > 1
    assert s.reasons == p.answer.reasons
    assert len(s.reasons) + len(s.cautions) + len(s.usual) == len(p.cautions)
    assert f"cautions 1 to {stops}" in s.headline


def test_a_pickled_prediction_keeps_its_page():
    p = libcure.predict(COLD, uncertain="none", numerical_error=False)
    again = pickle.loads(pickle.dumps(p))
    assert again.page == p.page and shown(again) == shown(p) and again._repr_html_() == p._repr_html_()


def test_what_was_changed_stands_on_the_page(case):
    facts = {fact.name: fact.value for fact in libcure.predict(case.replace({"liner.thickness_mm": 4}), uncertain="none").page.facts}
    assert facts["Changed"] == "liner.thickness_mm = 4" and facts["Wall"].startswith("liner 4 mm, pipe pvc 100 mm bore")


@pytest.mark.parametrize(
    ("environment", "coloured", "width"),
    [
        ({}, False, 80),
        ({"COLUMNS": "100"}, False, 100),
        ({"COLUMNS": "30"}, False, 60),
        ({"COLUMNS": "400"}, False, 110),
        ({"FORCE_COLOR": "1"}, True, 80),
        ({"PYTHONIOENCODING": "ascii"}, False, 80),
    ],
)
def test_the_page_is_as_the_terminal_bears_it(environment, coloured, width):
    done = run("predict", COLD, **environment)
    words = re.sub(r"\x1b\[[0-9;]*m", "", done.stdout)
    assert (words != done.stdout) == coloured
    assert max(map(len, words.splitlines())) == width
    assert words.isascii() == ("PYTHONIOENCODING" in environment)
    assert libcure.predict(COLD).answer.headline.split(" after")[0] in words


def test_python_rich_and_the_command_lay_out_the_same_page():
    p = libcure.predict(COLD)
    assert p.text(80) == run("predict", COLD).stdout
    assert [line.rstrip() for line in shown(p, 80).splitlines()] == p.text(80).splitlines()
    with pytest.raises(libcure.CureError, match="width: 59; allowed: 60 to 1000 columns"):
        p.text(59)


def test_codes_that_stop_a_job_exist():
    folder = CASES.parents[1] / "libcure/include/cure"
    source = "".join(path.read_text(encoding="utf-8") for path in (folder / "process").glob("caution*.hpp"))
    decision = (folder / "decide/decision.hpp").read_text(encoding="utf-8")
    for name in ("stopping", "to_mind"):
        codes = re.search(name + r"\{(.*?)\}", decision, re.DOTALL)[1]
        assert set(re.findall(r'"([a-z_]+)"', codes)) <= set(re.findall(r'"([a-z_A-Z]+)"', source))
    assert set(USUAL) <= set(re.findall(r'"([a-z_A-Z]+)"', source))


def test_html_is_escaped(case):
    page = libcure.predict(case.replace({"title": "<script>alert(1)</script> & more"}))._repr_html_()
    assert "<script" not in page
    assert "&lt;script&gt;" in page
    for caution in libcure.predict(case).cautions[:2]:
        assert caution.split(":")[0].split("'")[0] in page


# Pictures


def test_figure_is_independent_of_pyplot(result):
    import matplotlib.pyplot as plt

    before = plt.get_fignums()
    figure = result.plot()
    assert plt.get_fignums() == before
    assert figure._repr_png_().startswith(b"\x89PNG")


@pytest.mark.parametrize("suffix", ["png", "svg", "pdf"])
@pytest.mark.parametrize("epoch", [None, "1700000000"])
def test_same_picture_same_bytes(result, tmp_path, suffix, epoch, monkeypatch):
    monkeypatch.delenv("SOURCE_DATE_EPOCH", raising=False)
    if epoch is not None:
        monkeypatch.setenv("SOURCE_DATE_EPOCH", epoch)
    files = []
    for name in "ab":
        result.plot(tmp_path / f"{name}.{suffix}")
        files.append((tmp_path / f"{name}.{suffix}").read_bytes())
        if suffix != "png" and epoch is None and name == "a":
            time.sleep(1.1)  # a date in the file would differ
    assert files[0] == files[1]
    date = {"png": b"2023-11-14", "svg": b"2023-11-14", "pdf": b"D:20231114"}[suffix]
    assert (date in files[0]) == (epoch is not None and suffix != "png")


def test_picture_ignores_the_users_settings(result, tmp_path):
    import matplotlib as mpl

    result.plot(tmp_path / "a.png")
    with mpl.rc_context({"font.size": 30, "axes.facecolor": "red", "text.usetex": False, "lines.linewidth": 9}):
        result.plot(tmp_path / "b.png")
    assert (tmp_path / "a.png").read_bytes() == (tmp_path / "b.png").read_bytes()


def label_boxes(figure):
    renderer = figure.canvas.get_renderer()
    texts = [t for t in figure.texts if re.search(r" (\d|NEVER)", t.get_text()) and t.get_position()[1] < 0.96]
    return {t.get_text(): t.get_window_extent(renderer) for t in texts}


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"stages[1].duration_min": 60},
        {"resin": "epoxy-amine-slow"},
        {"resin": "vinyl-ester-cold"},
        {"initial_temperature_C.packer": 60},
        {"stages[2].duration_min": 100000},
        {"release.alpha_min": 0.5, "service.temperature_C": -20},
    ],
    ids=str,
)
@pytest.mark.parametrize("path", [COLD, HOT], ids=lambda p: p.stem)
def test_labels_of_times_never_collide(path, changes):
    figure = libcure.predict(libcure.load_case(path).replace(changes)).plot()
    figure.canvas.draw()
    boxes = list(label_boxes(figure).items())
    for i, (name, box) in enumerate(boxes):
        assert box.x0 >= 0 and box.x1 <= figure.bbox.width, name
        for other, second in boxes[i + 1 :]:
            assert not box.overlaps(second), (name, other)


def test_every_time_has_its_label(result):
    labels = " ".join(label_boxes(result.plot()))
    for name in ("working time ends", "first gel", "last gel", "criterion met", "BLADDER OUT"):
        assert name in labels


def test_plot_needs_a_known_ending(result, tmp_path):
    with pytest.raises(libcure.CureError, match=r"\.png or \.svg or \.pdf"):
        result.plot(tmp_path / "x.bmp")
    assert rendering.PICTURES == (".png", ".svg", ".pdf")
