"""The sheet to print: what it says, its size, its colours in grey."""

import io
import re

import numpy as np
import pytest
from small_chart import changed, sheet_texts, small

import libcure
from libcure.charting import cells
from libcure.charting.result import ChartResult
from libcure.render import chart_look as look
from libcure.render import chart_sheet as sheet


def test_the_sheet_says_all_that_a_crew_needs(small_result, monkeypatch):
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1700000000")
    texts = " ".join(sheet_texts(small_result).split())
    for answer in small_result.answers.values():
        for words in answer.why_not or (answer.release_text, answer.working_text):
            assert words in texts
    for words in (
        "5 °C",
        "41 °F",
        "59 °F",
        "slow Hardener",
        "PIPE WALL → rows RESIN 16 °C (61 °F) PACKER 14 °C (57 °F)",
        "in place ",
        "latest moment in place",
        "(10 °C: rows 5 and 15)",
        "ESTIMATED MODEL",
        "2023-11-14",
        small_result.inputs_hash,
        libcure.__version__,
        "epoxy-amine-fast",
        "confined spaces",
        "95 % high side",
        "5 % low side",
        "Jan",
        "Release: 95 % high side, rounded up",
        "this library's own assumption",
    ):
        assert words in texts
    for words in ("physics", "recommended", "factor"):
        assert words not in texts.lower()


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (5.6, 8.2, "6-8 °C, 42-47 °F"),
        (-2.4, 1.3, "-2 to 1 °C, 28-34 °F"),
        (-20.0, -18.6, "-20 to -19 °C, -4 to -1 °F"),
        (10.1, 10.2, "10 °C, 50 °F"),
    ],
)
def test_a_month_says_its_ground_in_both_degrees(low, high, words):
    """°F = 1.8 °C + 32."""
    assert look.both_ranges(low, high) == words


@pytest.mark.parametrize(("page", "box"), [("landscape", (297.0, 210.0)), ("portrait", (210.0, 297.0))])
def test_the_pdf_is_one_a4_page(small_result, page, box):
    other = libcure.chart(small(layout__page=page), store=None) if page == "portrait" else small_result
    buffer = io.BytesIO()
    sheet.save(other.draw(), buffer, ".pdf")
    data = buffer.getvalue()
    assert data.count(b"/Type /Page ") + data.count(b"/Type /Page\n") + data.count(b"/Type /Page/") == 1
    media = re.search(rb"/MediaBox \[ 0 0 ([\d.]+) ([\d.]+) \]", data)
    # Points of 1/72 inch; A4 is 210 mm by 297 mm (ISO 216).
    assert [float(v) * 25.4 / 72.0 for v in media.groups()] == pytest.approx(box, abs=0.01)


def worst(result):
    """All cells too hot and late, and contradicting each other: the longest words that a sheet can have."""
    bad = {"peak_temperature_C": [20.0, 300.0, 999.0], "late": True, "criterion_met_min": [None] * 3}
    return changed(result, cell_0=bad, cell_1={**bad, "gel_first_min": [9e4] * 3}, cell_2=bad, cell_3=bad)


def test_nothing_on_the_sheet_leaves_the_page_or_its_cell(small_result):
    portrait = libcure.chart(small(layout__page="portrait"))
    for chart_result in (small_result, portrait, worst(small_result), worst(portrait)):
        figure = chart_result.draw()
        renderer = figure.canvas.get_renderer()
        for text in figure.axes[0].texts:
            box = text.get_window_extent(renderer)
            assert box.x0 >= 0 and box.y0 >= 0
            assert box.x1 <= figure.bbox.width and box.y1 <= figure.bbox.height, text.get_text()
        # Words of the cells do not run into each other.
        cell_texts = [t for t in figure.axes[0].texts if t.get_fontweight() == "bold" and " h" in t.get_text()]
        boxes = [t.get_window_extent(renderer) for t in cell_texts]
        for i, a in enumerate(boxes):
            assert not any(a.overlaps(b) for b in boxes[i + 1 :])


def linear(color):
    """Red, green and blue in proportion to light (WCAG 2.1, definition of relative luminance)."""
    parts = [int(color[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    return [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]


def luminance(color):
    """Relative luminance (WCAG 2.1)."""
    return float(np.dot(linear(color), [0.2126, 0.7152, 0.0722]))


def test_colours_keep_their_order_in_grey_and_words_their_contrast():
    """WCAG 2.1 asks for a contrast of 4.5 of text (success criterion 1.4.3), 7 for the strict level."""
    shades = [luminance(band.color) for band in look.RELEASE_COLOURS]
    assert all(a > b + 0.08 for a, b in zip(shades, shades[1:], strict=False))
    for color in (*(band.color for band in look.RELEASE_COLOURS), look.SHORT_BACK, look.NEVER_BACK):
        assert (luminance(color) + 0.05) / (luminance(look.INK) + 0.05) > 6.5


# Linear red, green and blue as seen without one kind of cone: G.M. Machado, M.M. Oliveira, L.A.F. Fernandes, IEEE Trans. Vis. Comput. Graph. 15,
# 1291 (2009), severity 1.0; from memory. Rows sum to one: white stays white.
PROTANOPIA = [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
DEUTERANOPIA = [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]


@pytest.mark.parametrize("seen", [PROTANOPIA, DEUTERANOPIA])
def test_colours_keep_their_order_to_those_who_confuse_red_and_green(seen):
    """The waits get darker; what is short, and what must not be used, has a word and a hatching beside."""
    assert np.sum(seen, axis=1) == pytest.approx(1.0, abs=2e-6)

    def shade(color):
        return float(np.clip(np.array(seen) @ linear(color), 0.0, 1.0) @ [0.2126, 0.7152, 0.0722])

    shades = [shade(band.color) for band in look.RELEASE_COLOURS]
    assert all(a > b + 0.08 for a, b in zip(shades, shades[1:], strict=False))
    for color in (*(band.color for band in look.RELEASE_COLOURS), look.SHORT_BACK, look.NEVER_BACK):
        assert (shade(color) + 0.05) / (shade(look.INK) + 0.05) > 6.5


def test_a_chart_too_large_for_the_page_is_refused(small_result, tmp_path):
    document = small(axes__1__values=list(range(1, 30)))
    chart = libcure.read_chart(document)
    tasks = cells.tasks_of(chart)
    large = ChartResult(chart, tasks, [small_result.records[0, 0]] * len(tasks), 0)
    with pytest.raises(libcure.CureError, match="29 rows") as caught:
        large.save(tmp_path)
    assert caught.value.field == "layout"
    assert list(tmp_path.iterdir()) == []


def test_cells_that_contradict_each_other_are_told_on_top(small_result):
    texts = worst(small_result).draw().axes[0].texts
    (alarm,) = (t for t in texts if t.get_text().startswith("CHECK BEFORE USE: in "))
    cell = next(t for t in texts if t.get_text() == "DO NOT USE")
    assert alarm.get_position()[1] < cell.get_position()[1] and alarm.get_fontsize() > 7.0
    assert "CHECK BEFORE USE" not in " ".join(t.get_text() for t in small_result.draw().axes[0].texts)


def test_white_words_stand_on_black(small_result):
    """Of the picture: around each word, just outside its box, the paper is black where the word is white."""
    figure = worst(small_result).draw()
    figure.canvas.draw()
    picture = np.asarray(figure.canvas.buffer_rgba())
    white = [t for t in figure.axes[0].texts if t.get_color() == "#ffffff"]
    assert sum(t.get_text().startswith("TOO HOT") for t in white) == 5
    assert sum(t.get_text().startswith("CHECK BEFORE USE") for t in white) == 1
    for text in white:
        box = text.get_window_extent()
        row = picture.shape[0] - round(0.5 * (box.y0 + box.y1))
        for x in (round(box.x0) - 1, round(box.x1) + 1):
            assert picture[row - 2 : row + 3, x, :3].mean() < 128.0
