"""What a maker publishes: languages, name and mark, square code, booklet, poster, labels; and PDF files that say what they are."""

import html
import io
import itertools
import json
import re
import string
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
import segno
from matplotlib.image import imsave
from pypdf import PdfReader
from pypdf.generic import TextStringObject
from small_chart import SHIPPED, changed, command, sheet_texts, small

import libcure
from libcure.charting import words
from libcure.charting.result import Answer
from libcure.render import chart_canvas, chart_kit, chart_maker, chart_paper, chart_poster, chart_sheet
from libcure.render import chart_page as page
from libcure.render.chart_panel import PanelCanvas
from libcure.words import phrases
from libcure.words.page import USUAL

FRONT = Path(libcure.__file__).parent
OTHERS = [language for language in phrases.LANGUAGES if language != "en"]


def published(tmp_path=None, **publication):
    if tmp_path is not None:
        imsave(tmp_path / "mark.png", np.zeros((20, 60, 3)))
        publication["mark"] = "mark.png"
    return small(publication=publication)


def placeholders(text):
    return sorted({name for _, name, _, _ in string.Formatter().parse(text) if name})


@pytest.mark.parametrize("language", OTHERS)
def test_no_phrase_is_missing_in_any_language(language):
    english, other = phrases.catalogue("en"), phrases.catalogue(language)
    assert set(other) == set(english)
    for key, text in english.items():
        assert other[key].strip(), key
        assert placeholders(other[key]) == placeholders(text), key
        # What joins on keeps its space.
        assert other[key].startswith(" ") == text.startswith(" "), key


def test_every_phrase_that_is_asked_for_is_there_and_none_is_idle():
    # The page for phones, in web/, asks for its phrases in its own way: tests/web.
    sources = [p for p in FRONT.rglob("*") if p.suffix in (".py", ".html", ".js") and p.relative_to(FRONT).parts[0] != "web"]
    text = "\n".join(p.read_text(encoding="utf-8") for p in sources)
    asked = set(re.findall(r"""\bsay\(\s*["']([a-z_]+)["']""", text))
    keys = set(phrases.catalogue("en"))
    assert asked <= keys
    idle = {key for key in keys - asked if f'"{key}"' not in text and f"'{key}'" not in text}
    # Made of a code: cautions, loads and states of the core, places in the liner. The page for phones: tests/web.
    assert all(key.startswith(("caution_", "load_", "lost_", "place_", "web_", "core_")) for key in idle)
    assert {f"caution_{code}" for code in USUAL} <= keys


def test_the_cautions_that_were_translated_are_those_of_the_core():
    """A changed sentence of the core asks for new translations."""
    seen = {}
    for name in ("epoxy-amine-slow", "vinyl-ester-cold", "polyurethane-two-part", "unsaturated-polyester-cold"):
        if (libcure.models_folder() / "resins" / f"{name}.json").exists():
            verdict = libcure.predict(libcure.Case.from_dict(small(case__resin=name)["case"]), uncertain="none").verdict
            seen |= {c["code"]: c["text"] for c in verdict["cautions"] if c["code"] in USUAL}
    assert len(seen) >= 6
    for code, text in seen.items():
        assert phrases.phrase(f"caution_{code}") == text


@pytest.mark.parametrize("language", OTHERS)
def test_a_sheet_in_another_language_says_the_same_and_nothing_leaves_the_page(small_result, language):
    result = libcure.chart(published(language=language))
    for index in small_result.answers:
        assert result.answers[index] == small_result.answers[index]
    bad = {"peak_temperature_C": [20.0, 300.0, 999.0], "late": True, "criterion_met_min": [None] * 3}
    vitrified = result.records[0, 0]["states"] | {"reached": 0, "vitrified": 16}
    for shown in (result, changed(result, cell_0=bad, cell_1={"states": vitrified, "criterion_met_min": [None] * 3})):
        texts = sheet_texts(shown)
        for key in ("how_to_read", "month", "cautions", "legend_foot", "estimated"):
            assert shown.chart.say(key).split(".")[0].split(",")[0][:20] in texts, key
        english = phrases.catalogue("en")
        for key in ("do_not_use", "how_to_read", "legend_foot", "too_late", "pipe_wall", "estimated", "by_month"):
            assert english[key] == shown.chart.say(key) or english[key] not in texts, key
        figure = shown.draw()
        renderer = figure.canvas.get_renderer()
        for text in figure.axes[0].texts:
            box = text.get_window_extent(renderer)
            assert box.x0 >= 0 and box.y0 >= 0 and box.x1 <= figure.bbox.width and box.y1 <= figure.bbox.height, text.get_text()
    shown, english = " ".join(page.html(result).split()), phrases.catalogue("en")
    # No English sentence of the catalogue is left on the page.
    assert [key for key, text in english.items() if len(text) > 40 and "{" not in text and html.escape(text) in shown] == []
    assert f'<html lang="{language}">' in page.html(result) and result.chart.say("your_job") in page.html(result)


def test_codes_of_an_answer_are_words_of_the_language():
    chart = libcure.read_chart(published(language="de"))
    assert words.code_words(chart, "DO NOT USE: TOO LATE, TOO HOT 141 °C (95 %)") == "GESPERRT: ZU SPÄT, ZU HEISS 141 °C (95 %)"
    assert words.code_words(chart, "SHORT no limit met") == "KNAPP keine Grenze" and words.code_words(chart, "3 h 45") == "3 h 45"
    assert words.code_words(chart, "NOT IN 48 h") == "NICHT IN 48 h"
    assert phrases.month_name(3, "pl") == "mar" and phrases.month_name(7, "fr") == "juil"
    with pytest.raises(KeyError):
        phrases.phrase("no_such_phrase", "de")


def test_the_makers_name_mark_batch_date_and_code_are_on_the_sheet(tmp_path):
    document = published(tmp_path, maker="Invented Works", batch="B-7", valid_until="2027-03-31", check_at="example.org/charts")
    libcure.validate(document)
    result = libcure.chart(document, beside=tmp_path)
    texts = sheet_texts(result)
    for said in ("Invented Works", "Batch B-7", "Valid until 2027-03-31", "example.org/charts"):
        assert said in texts
    assert result.chart.inputs_hash in chart_maker.code_text(result) and len(result.chart.inputs_hash) == 64
    assert len(result.draw().axes[0].images) == 1
    markup = page.html(result)
    assert "data:image/png;base64," in markup and "Batch B-7" in markup and "Valid until 2027-03-31" in markup
    # Without a maker there is no code, and the sheet is as it was.
    assert "Square code" not in sheet_texts(libcure.chart(small()))


def test_the_drawn_code_is_the_code():
    """Each field of the drawing against the matrix, quiet zone of four fields and all."""
    text = "libcure/chart-result/1 0.1.0 inputs_hash " + "0123456789abcdef" * 4 + " chart.json"
    matrix = np.array([list(row) for row in segno.make(text, micro=False, error="m").matrix_iter(scale=1, border=4)])
    n = len(matrix)
    drawn = np.zeros((n, n), dtype=int)
    for x, y, w, h in chart_maker.code_squares(text, 10.0, 20.0, 24.0):
        field = 24.0 / n
        j, i = round((x - 10.0) / field), round((y - 20.0) / field)
        assert h == pytest.approx(field)
        drawn[i, j : j + round(w / field)] += 1
    np.testing.assert_array_equal(drawn, matrix)
    assert not matrix[:4].any() and 24.0 / n > 0.3  # [mm] a field, for a phone at arm's length


def booklet(**publication):
    liner = {"name": "liner", "title": "Liner", "unit": "mm", "sets": ["liner.thickness_mm"], "values": [3, 4]}
    document = small(layout={"pages": "liner", "panels": "hardener", "rows": "ground"}, publication=publication)
    document["axes"].insert(0, liner)
    return document


def test_a_booklet_has_an_index_and_a_page_for_each_value(tmp_path):
    document = booklet(maker="Invented Works", language="fr")
    libcure.validate(document)
    result = libcure.chart(document)
    assert [name for name, _ in result.pages] == ["Liner 3 mm", "Liner 4 mm"]
    # A page is the chart of its value alone, with the hash of the whole.
    for i, (_, one) in enumerate(result.pages):
        assert one.inputs_hash == result.inputs_hash
        for index in itertools.product(range(2), range(2)):
            assert one.records[index] is result.records[i, *index]
            assert one.chart.cases[index].document == result.chart.cases[i, *index].document
    files = result.save(tmp_path, kit=True)
    assert {f.name for f in files} == {"chart.pdf", "chart-1.svg", "chart-2.svg", "poster.pdf", "labels.pdf", "chart.html", "chart.csv", "chart.json"}
    reader = PdfReader(tmp_path / "chart.pdf")
    assert len(reader.pages) == 3
    assert [item.title for item in reader.outline] == ["Sommaire", "Liner 3 mm", "Liner 4 mm"]
    assert reader.metadata.title == document["title"] and reader.metadata.author == "Invented Works"
    assert reader.trailer["/Root"]["/Lang"] == "fr" and reader.trailer["/Root"]["/ViewerPreferences"]["/DisplayDocTitle"]
    first = reader.pages[0].extract_text()
    assert "page 2" in first and "page 3" in first and "Liner 4 mm" in first
    for i, (name, one) in enumerate(result.pages):
        text = reader.pages[i + 1].extract_text()
        assert name in text and all(a.release_text in text for a in one.answers.values() if a.use)
    # Two liners, two hardeners: four labels and four posters, on A2, whose sides are twice those of A4 (ISO 216).
    labels, poster = PdfReader(tmp_path / "labels.pdf"), PdfReader(tmp_path / "poster.pdf")
    assert len(labels.pages) == 4 and len(poster.pages) == 4
    assert float(poster.pages[1].mediabox.width) * 25.4 / 72 == pytest.approx(594.0, abs=0.1)
    assert float(labels.pages[0].mediabox.width) * 25.4 / 72 == pytest.approx(105.0, abs=0.1)
    markup = (tmp_path / "chart.html").read_text(encoding="utf-8")
    assert "Liner 3 mm, Hardener: slow" in markup and markup.count("<caption>") == 4


def test_a_booklet_may_go_by_what_the_crew_reads(tmp_path):
    """A page for each wall: the whole chart says so, and each page says its wall in large print."""
    wall = {"name": "wall", "title": "Wall", "unit": "°C", "sets": ["ground.temperature_C", "initial_temperature_C.pipe"], "values": [5, 15]}
    liner = {"name": "liner", "title": "Liner", "unit": "mm", "sets": ["liner.thickness_mm"], "values": [3, 4]}
    result = libcure.chart(small(axes=[wall, liner], layout={"pages": "wall", "rows": "liner"}))
    assert "PIPE WALL → pages" in page.html(result)
    for value, (_, one) in zip((5, 15), result.pages, strict=True):
        assert f"PIPE WALL {value} °C" in sheet_texts(one)
    result.save(tmp_path, kit=True)
    assert len(PdfReader(tmp_path / "chart.pdf").pages) == 3


def test_labels_say_what_the_sheet_says_and_nothing_leaves_them(small_result):
    result = changed(small_result, cell_0={"late": True}, cell_1={"peak_temperature_C": [20.0, 300.0, 999.0]})
    (_, figure), *others = chart_kit._labels(result)
    assert others == []
    texts = " ".join(t.get_text() for t in figure.axes[0].texts)
    for answer in result.answers.values():
        assert (answer.release_text if answer.use else answer.short_why[0]) in texts
    assert "ESTIMATED MODEL" in texts and result.inputs_hash in texts and "the less favourable neighbour" in texts
    renderer = figure.canvas.get_renderer()
    for text in figure.axes[0].texts:
        box = text.get_window_extent(renderer)
        assert box.x0 >= 0 and box.y0 >= 0 and box.x1 <= figure.bbox.width and box.y1 <= figure.bbox.height, text.get_text()


def spoken_by(reader):
    """What a screen reader finds of each page, from the root of the structure (ISO 32000-1, 14.7), and what the page's own drawing says of it."""
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"].value is True
    document = root["/StructTreeRoot"]["/K"]
    assert document["/S"] == "/Document"
    told = []
    for number, (sheet, part) in enumerate(zip(reader.pages, document["/K"], strict=True)):
        figure = part.get_object()
        assert figure["/S"] == "/Figure" and figure["/Pg"] == sheet and figure["/P"] == document and figure["/K"] == 0
        assert sheet["/StructParents"] == number and root["/StructTreeRoot"]["/ParentTree"]["/Nums"][2 * number + 1][0].get_object() == figure
        drawing = sheet.get_contents().get_data()
        # Everything that is drawn stands within the mark.
        assert drawing.startswith(b"/Figure <</MCID 0>> BDC") and drawing.rstrip().endswith(b"EMC") and drawing.count(b"BDC") == 1
        # A name would be cut off by readers, and is not spoken.
        assert isinstance(figure["/Alt"], TextStringObject) and not figure["/Alt"].startswith("/")
        told.append(figure["/Alt"])
    return told


def test_each_page_of_a_pdf_says_in_words_what_it_shows(tmp_path):
    """A screen reader hears the cells of the sheet, of each label and each poster; a booklet its contents."""
    result = libcure.chart(booklet(language="de"))
    bad = changed(result, cell_0={"late": True})
    bad.save(tmp_path, kit=True)
    index, *sheets = spoken_by(PdfReader(tmp_path / "chart.pdf"))
    assert "Liner 3 mm: Seite 2." in index and "Liner 4 mm: Seite 3." in index
    labels, posters = (spoken_by(PdfReader(tmp_path / f"{name}.pdf")) for name in ("labels", "poster"))
    assert len(labels) == len(posters) == 4 and labels == posters
    for told, (_, page_) in zip(sheets, bad.pages, strict=True):
        for index, answer in page_.answers.items():
            said = words.code_words(page_.chart, answer.release_text)
            assert f"{page_.where(index)}: {said}." in told if not answer.use else f"Wartezeit {said}." in told
        assert all(bad.chart.say(key) in told for key in ("cautions", "estimated", "rests_on"))
        assert words.headline(page_.chart) in told and words.trace(page_) in told
    one = chart_sheet.draw(bad)
    chart_sheet.save(one, tmp_path / "one.pdf", ".pdf")
    assert spoken_by(PdfReader(tmp_path / "one.pdf")) == sheets[:1]


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("language", phrases.LANGUAGES)
def test_why_a_cell_must_not_be_used_is_read_in_narrow_cells(language, paper):
    """Twelve columns, whatever the reason: letters hardly smaller than those of a newspaper's text, 6 points (common practice, no source)."""
    document = json.loads(SHIPPED.read_text(encoding="utf-8")) | {"publication": {"language": language}}
    document["layout"] |= {"paper": paper}
    chart = libcure.read_chart(document)
    (w, h), canvas = chart_paper.paper_of(chart).cell, chart_canvas.Canvas(chart, 10.0, 10.0)
    for late, release, hot in [("TOO LATE", "", "TOO HOT 151 °C (95 %)"), *(("", word, hot) for word in ("NEVER", "NOT IN 48 h", "NOT KNOWN") for hot in
                               ("TOO HOT 151 °C (95 %)", "")), ("", "SETS TOO SOON", ""), ("", "NO ANSWER", "")]:  # fmt: skip
        answer = Answer((0, 0), 1.0, 1.0, np.inf, late, release, hot)
        strips = canvas._why_not(answer, w, h)
        assert canvas.letters([answer], w, h, 1.0).stop >= 5.8, strips
        assert " ".join(strips) == " ".join(words.code_words(chart, word) for word in ("DO NOT USE", *answer.short_why))


def cell_texts(figure, width):
    """Texts right of the rows' names, their sizes and heights [mm from above]."""
    return [(t.get_text(), t.get_fontsize()) for t in figure.axes[0].texts if t.get_position()[0] > width]


@pytest.mark.parametrize("layout", [{}, {"page": "portrait"}, {"paper": "Letter"}])
def test_a_poster_has_few_words_and_numbers_to_be_read_at_two_metres(layout):
    """Of the shipped chart: a panel a page, each number that a crew needs, in letters of at least 10 mm, all of one size."""
    document = json.loads(SHIPPED.read_text(encoding="utf-8")) | {"sensitivity": {"cells": "none"}}
    document["layout"] |= layout
    document["uncertain"]["samples"] = 16
    if layout.get("paper"):
        document["axes"][0]["labels"] = ["slow, white pail", "medium, white pail", "fast, white pail"]
    if layout.get("page") == "portrait":
        document["axes"][0] |= {"values": ["epoxy-amine-medium"], "labels": ["medium"]}
    result = libcure.chart(document)
    posters = chart_poster.posters(result)
    assert len(posters) == result.chart.shape[0]
    for p, (name, figure) in enumerate(posters):
        told = cell_texts(figure, 75.0)
        texts, all_texts = [words for words, _ in told], [t.get_text() for t in figure.axes[0].texts]
        assert name in all_texts and result.inputs_hash in " ".join(all_texts) and "ESTIMATED MODEL" in " ".join(all_texts)
        assert sum(len(words.split()) for words in set(all_texts) if not words[:1].isdigit()) < 80
        sizes = {"time": set(), "release": set()}
        for index, answer in result.answers.items():
            if index[0] != p:
                continue
            if not answer.use:
                assert {"DO NOT USE", *answer.short_why} <= set(texts)
                continue
            for kind, said in (("time", answer.in_place_text), ("release", answer.release_text)):
                found = [size for words, size in told if words == said and size >= chart_poster.READABLE]
                assert found, said
                sizes[kind].update(found)
        assert len(sizes["time"] | sizes["release"]) <= 2
        renderer = figure.canvas.get_renderer()
        extents = {text.get_text(): text.get_window_extent(renderer) for text in figure.axes[0].texts}
        for said, box in extents.items():
            assert box.x0 >= 0 and box.y0 >= 0 and box.x1 <= figure.bbox.width and box.y1 <= figure.bbox.height, said
            # The badge, whose words are in the middle of its frame, covers none.
            badge, half = extents["ESTIMATED MODEL: NO REAL JOBS"], 0.5 * chart_poster.BADGE / 25.4 * figure.dpi
            assert said.startswith("ESTIMATED") or box.x1 < badge.x0 or box.y1 < 0.5 * (badge.y0 + badge.y1) - half, said


def test_cells_of_a_label_and_a_sheet_have_letters_of_one_size(small_result):
    result = changed(small_result, cell_0={"release_bound_min": 725.0}, cell_1={"release_bound_min": 5.0, "working_bound_min": 400.0})
    for figure in (chart_kit._labels(result)[0][1], result.draw()):
        used = [answer for answer in result.answers.values() if answer.use]
        assert len({len(answer.release_text) for answer in used}) > 1
        for wanted in ([answer.release_text for answer in used], [f"work {answer.working_text}" for answer in used if not answer.working_word]):
            assert len({t.get_fontsize() for t in figure.axes[0].texts if t.get_text() in wanted}) == 1


@pytest.mark.parametrize("language", ["en", "de", "es", "fr", "pl"])
def test_the_latest_moment_in_place_is_about_as_large_as_the_release(language):
    """In a cell as large as those of the shipped chart [mm]."""
    canvas = chart_canvas.Canvas(libcure.read_chart(small(publication={"language": language})), 297.0, 210.0)
    answer = Answer((0, 0), 45.0, 135.0, 675.0, "", "", "")
    letters = canvas.letters([answer], 20.4, 9.6, 1.0)
    assert letters.place >= 0.8 * letters.release
    assert letters.place > letters.work


def test_the_same_chart_gives_the_same_files(tmp_path):
    result = libcure.chart(booklet(maker="x"))
    one, two = (chart_kit.files(result, True) for _ in range(2))
    for name in one:
        assert one[name]() == two[name]()


def test_a_chart_too_large_for_labels_says_so_before_anything_is_written(tmp_path):
    result = libcure.chart(small(axes__0={"name": "wide", "sets": ["liner.thickness_mm"], "values": [2, 2.5, 3, 3.5, 4, 4.5, 5, 5.5]}, layout__columns="wide"))
    with pytest.raises(libcure.CureError, match="8 columns on a label"):
        result.save(tmp_path, kit=True)
    assert list(tmp_path.iterdir()) == []
    result.save(tmp_path)


@pytest.mark.parametrize(("paper", "size"), [("A4", (297.0, 210.0)), ("Letter", (279.4, 215.9))])
def test_a_sheet_has_the_size_of_its_paper(paper, size):
    """ISO 216, and 11 by 8.5 inches (ANSI/ASME Y14.1)."""
    result = libcure.chart(small(layout__paper=paper))
    reader = PdfReader(io.BytesIO(chart_kit.files(result, False)["chart.pdf"]()))
    box = reader.pages[0].mediabox
    assert [float(v) * 25.4 / 72.0 for v in (box.width, box.height)] == pytest.approx(size, abs=0.01)
    assert chart_paper.PAPERS[paper] == size


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"language": "tlh"}, "en, de, es, fr, pl"),
        ({"valid_until": "31.3.2027"}, "YYYY-MM-DD"),
        ({"mark": "nowhere.png"}, "a file that is there"),
        ({"makers": "x"}, "did you mean"),
    ],
)
def test_a_bad_publication_is_refused(given, says):
    with pytest.raises(libcure.CureError) as caught:
        libcure.read_chart(small(publication=given))
    assert caught.value.field.startswith("publication") and says in caught.value.allowed


def test_what_cannot_be_printed_is_refused_before_anything_is_computed(tmp_path):
    """A mark that is no picture, by check too; a kit whose labels cannot be read."""
    (tmp_path / "mark.png").write_text("no picture", encoding="utf-8")
    path = tmp_path / "chart.json"
    path.write_text(json.dumps(small(publication={"mark": "mark.png"})), encoding="utf-8")
    wide = tmp_path / "wide.json"
    thickness = {"name": "wide", "sets": ["liner.thickness_mm"], "values": [2, 2.5, 3, 3.5, 4, 4.5, 5, 5.5]}
    wide.write_text(json.dumps(small(axes__0=thickness, layout__columns="wide")), encoding="utf-8")
    out = str(tmp_path / "out")
    for arguments, says in (
        (["check", path], "a PNG or SVG picture"),
        (["chart", path, "--out", out], "a PNG or SVG picture"),
        (["chart", wide, "--out", out, "--kit"], "8 columns on a label"),
    ):
        done = command(*arguments, code=2)
        assert says in done.stderr and done.stderr.count("\n") == 1
    assert not (tmp_path / "out").exists()


def test_numbers_in_phrases_have_the_decimal_sign_of_the_language():
    from libcure.words.phrases import phrase

    assert "5,5 °C" in phrase("between_example", "de", value="5.5 °C", low="4", high="7")
    assert "5.5 °C" in phrase("between_example", "en", value="5.5 °C", low="4", high="7")
    for stays in ("libcure 0.1.0", "f1.2a", "https://example.org/1.5/x", "2.5.1"):
        assert stays in phrase("between_example", "fr", value=stays, low="4", high="7")


def test_a_panel_has_its_answers_row_by_row():
    axes = [SimpleNamespace(name=name) for name in ("column", "panel", "row")]
    chart = SimpleNamespace(axes=axes, panels="panel", rows="row", columns="column")
    answers = {(c, p, r): (c, p, r) for c in range(2) for p in range(2) for r in range(3)}
    panel = SimpleNamespace(chart=chart, shape=(3, 2), panel=1, result=SimpleNamespace(answers=answers))
    assert PanelCanvas.answers.fget(panel) == [[(c, 1, r) for c in range(2)] for r in range(3)]
