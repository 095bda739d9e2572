"""All that is printed or shown of a chart says words of its language and names of its document alone: no English is left."""

import html
import io
import json
import re
from html.parser import HTMLParser

import numpy as np
import pytest
from babel.dates import get_month_names
from matplotlib.image import imsave
from pypdf import PdfReader
from small_chart import changed, sheet_texts, small

import libcure
from libcure.charting import sanity, words
from libcure.render import chart_kit
from libcure.render import chart_page as page
from libcure.words import phrases

OTHERS = [language for language in phrases.LANGUAGES if language != "en"]
LETTERS = re.compile(r"[^\W\d_]+")
# Names that the test's document gives: of no language, so that none hides a word.
NAMES = "qorvel qorvelith vandura brakol brakul sundiro merkoti mertola mekulta firmox lomuka"
# Units, and what names the file of the numbers and the code.
EVERYWHERE = "min h d mm in m s k c f kj mol mpa m² mm² tg i libcure chart json html"


def document(language):
    """Cells for each word that a cell can say, and one that says none of them."""
    return small(
        title="Qorvel", note="Qorvelith.",
        publication={"language": language, "maker": "Firmox", "mark": "mark.png", "batch": "7", "valid_until": "2027-03-31", "check_at": "lomuka"},
        axes__0__name="brakul", axes__1__name="sundiro", layout={"columns": "brakul", "rows": "sundiro"},
        axes__0__title="Vandura", axes__0__labels=["brakol", "brakul"], axes__1__title="Sundiro", axes__1__values=[5, 8, 12, 15],
        uncertain__inputs__0__title="Merkoti", uncertain__inputs__1__title="Mertola", uncertain__inputs__2__title="Mekulta",
        sensitivity={"cells": "corners", "samples": 16},
        # The month of February has frost, so that a range cannot have a dash.
        climate={"annual_mean_C": 4, "amplitude_K": 12, "day_of_minimum": 30, "diffusivity_mm2_s": 0.7, "depth_m": 0.5,
                 "air": {"annual_mean_C": 4, "amplitude_K": 12, "day_of_minimum": 20, "day_swing_K": 5},
                 "stores": {"lag_days": 3, "above_air_K": 4, "at_least_C": 1, "at_most_C": 28}},
    )  # fmt: skip


class _Shown(HTMLParser):
    """What a page shows or a screen reader says: texts, the attributes that are words, and texts in the data of scripts."""

    def __init__(self):
        super().__init__()
        self.texts, self.inside = [], ""

    def handle_starttag(self, tag, attributes):
        given = dict(attributes)
        self.texts += [given[name] for name in ("title", "alt", "aria-label", "placeholder", "data-release", "data-column") if given.get(name)]
        self.inside = {"style": "skip", "script": "data" if given.get("type") == "application/json" else "skip"}.get(tag, "")

    def handle_endtag(self, tag):
        self.inside = ""

    def handle_data(self, data):
        if self.inside == "data":
            self._strings(json.loads(data))
        elif not self.inside:
            self.texts.append(data)

    def _strings(self, value):
        if isinstance(value, str):
            self.texts.append(re.sub(r"\{\w+\}", " ", value))
        elif isinstance(value, list | dict):
            for one in value.values() if isinstance(value, dict) else value:
                self._strings(one)


def shown_by(markup):
    reader = _Shown()
    reader.feed(markup)
    return html.unescape(" ".join(reader.texts))


def printed_in(pdf):
    reader = PdfReader(io.BytesIO(pdf))
    bookmarks = [item.title for item in reader.outline]
    spoken = [figure.get_object()["/Alt"] for figure in reader.trailer["/Root"]["/StructTreeRoot"]["/K"]["/K"]]
    return " ".join([*(each.extract_text() for each in reader.pages), *bookmarks, *spoken, reader.metadata.title])


def known_to(result):
    """Words that the catalogue of the language has, and the names of the document, models and materials."""
    language = result.chart.publication.language
    months = get_month_names("abbreviated", "format", language).values()
    cases = result.chart.case_documents.values()
    names = {case.resin.id for case in result.chart.cases.values()} | {d[k]["material"] for d in cases for k in ("pipe", "ground")}
    catalogue = (re.sub(r"\{\w+\}", " ", text) for text in phrases.catalogue(language).values())
    return {word.lower() for text in (*catalogue, *months, NAMES, EVERYWHERE) for word in LETTERS.findall(text)} | names


def strange(text, known):
    # Hashes and versions have letters; a model's name is one word.
    text = re.sub(r"\b[0-9a-f]{10,64}\b|\b\d+\.\d+\.\d+\w*", " ", text)
    text = re.sub(r"[a-z0-9]+(-[a-z0-9]+)+", lambda found: " " if found[0] in known else found[0], text)
    return sorted({word for word in LETTERS.findall(text) if word.lower() not in known})


@pytest.fixture(scope="module")
def beside(tmp_path_factory):
    folder = tmp_path_factory.mktemp("mark")
    imsave(folder / "mark.png", np.zeros((20, 60, 3)))
    return folder


def shown_everywhere(result):
    found = {"page": shown_by(page.html(result)), "notebook": shown_by(page.fragment(result))}
    found |= {name: printed_in(make()) for name, make in chart_kit.files(result, True).items() if name.endswith(".pdf")}
    return found


def all_words(result):
    """The chart, with cells that say each word that a cell can say, and that contradict each other."""
    states = dict.fromkeys(next(iter(result.records.values()))["states"], 0)
    reasons = ("vitrified", "gelled_before_held", "outside_model", "not_in_hold", "failed")
    lost = {f"cell_{i}": {"criterion_met_min": [None] * 3, "states": states | {reason: 16}} for i, reason in enumerate(reasons)}
    short = {"working_min": [20.0, 25.0, 30.0], "gel_first_min": [900.0, 901.0, 902.0], "in_place_bound_min": 20.0}
    hot = {"peak_temperature_C": [20.0, 300.0, 999.0], "late": True}
    found = changed(result, **lost, cell_5=short, cell_6=hot)
    assert {word.split(" in ")[0] for answer in found.answers.values() for word in (*answer.short_why, answer.working_word)} == {
        "NEVER", "SETS TOO SOON", "NOT KNOWN", "TOO SLOW", "NO ANSWER", "SHORT", "TOO LATE", "TOO HOT", ""
    }  # fmt: skip
    return found


@pytest.mark.parametrize("language", OTHERS)
def test_no_english_is_left_on_sheet_booklet_poster_label_and_page(language, beside):
    result = libcure.chart(document(language), beside=beside)
    known, worst = known_to(result), all_words(result)
    assert result.sensitivities and result.chart.say("measure_log") in page.html(result) and worst.violations
    for one in (result, worst):
        for place, text in shown_everywhere(one).items():
            assert len(LETTERS.findall(text)) > 50 or place == "labels.pdf"
            assert strange(text, known) == [], place


@pytest.mark.parametrize("language", OTHERS)
def test_a_booklet_by_season_has_no_english_left_nor_a_decimal_point(language, beside):
    season = {"name": "sundiro", "title": "Sundiro", "seasons": ["winter", "summer"]}
    liner = {"name": "vandura", "title": "Vandura", "unit": "mm", "sets": ["liner.thickness_mm"], "values": [3.5, 4.25]}
    given = document(language) | {"axes": [liner, season], "layout": {"pages": "vandura", "rows": "sundiro"}}
    result = libcure.chart(given, beside=beside)
    for place, text in shown_everywhere(result).items():
        assert strange(text, known_to(result)) == [], place
        assert "3,5" in text and re.findall(r"(?<![\w.])\d+\.\d+(?![\w.])", text) == [], place


def test_numbers_of_axes_and_of_what_they_leave_have_a_comma_where_the_language_has_it():
    """Names of rows, other units of them, and the temperatures in the headline."""
    wall = {"name": "wall", "title": "Wall", "unit": "°C", "sets": ["ground.temperature_C", "initial_temperature_C.pipe"], "values": [5.5, 15]}
    liner = {"name": "liner", "title": "Liner", "unit": "mm", "sets": ["liner.thickness_mm"], "values": [3.5, 4.25]}
    for language, sign in (("pl", ","), ("en", ".")):
        given = small(
            axes=[wall, liner], layout={"rows": "wall", "columns": "liner", "length": "in"}, publication={"language": language},
            case__initial_temperature_C__resin=16.5,
        )  # fmt: skip
        texts = sheet_texts(libcure.chart(given))
        assert all(number.replace(".", sign) in texts for number in ("5.5 °C", "0.138 in", "0.167 in", "16.5 °C"))


def test_the_words_that_are_looked_for_are_seen():
    """An English word that a page says by itself is found, whatever way it says it."""
    result = libcure.chart(small(publication={"language": "de"}))
    known = known_to(result)
    assert {"Hardener", "Ground", "slow"} <= set(strange(shown_by(page.html(result)), known))
    assert "Hardener" in strange(printed_in(chart_kit.files(result, True)["labels.pdf"]()), known)
    for markup in ('<img alt="mark">', "<p>mark</p>", '<td title="mark">', '<script type="application/json">{"a": ["mark"]}</script>'):
        assert strange(shown_by(markup), known) == ["mark"]


@pytest.mark.parametrize("language", OTHERS)
def test_expectations_and_contradictions_are_told_in_each_language(language):
    """Each reason that any axis can have; none as the English catalogue has it."""
    reasons = [key for key in phrases.catalogue("en") if key.startswith("why_")]
    assert len(reasons) == 8
    for why in reasons:
        for rises, quantity in ((True, "criterion_met_min"), (False, "working_min"), (False, "gel_first_min"), (False, "")):
            check = sanity.Check("x", quantity, rises, why)
            english, other = check.text(), check.text(language)
            assert phrases.phrase(why, language) in other and phrases.phrase(why) in english
            assert not set(LETTERS.findall(english)) - {"x", "liner", "Tg"} <= set(LETTERS.findall(other))
    told = sanity.Violation("criterion_met_min", 95, (0,), (1,), (None, 12.5), ("a", "b"), "why_wall")
    assert phrases.phrase("check_no_time", language) in told.text(language) and "12,5 min" in told.text(language)
    assert "a time not to be used (a) to 12.5 min (b)" in told.text()


@pytest.mark.parametrize("language", OTHERS)
def test_what_the_core_says_of_sections_and_resins_is_told_in_each_language(language):
    """Sections as the core words them; the two things that nobody may have measured of a resin."""
    chart = libcure.read_chart(small(publication={"language": language}))
    known = known_to(libcure.chart(chart)) | {"x"}
    sections = (
        "around the pipe: liner 3 to 6 mm, water 30 mm deep at the invert, 9.5 °C, ground warmer by -1 to 2 K",
        "along the pipe: 500 mm of liner, 100 mm of bare pipe before it, no liner from 20 to 40.5 mm, no pipe wall from 1 to 2 mm",
        "along the pipe, nothing differs",
        "how it sets in the cold, and how it heats itself in bulk",
    )
    for said in sections:
        assert strange(words._of_core(chart, said), known) == []
    standing = json.loads((libcure.models_folder() / "cases" / "standing_water_invert.json").read_text(encoding="utf-8"))
    said = libcure.Case.from_dict(standing).core.section_words
    assert "deep at the invert" in said and strange(words._of_core(chart, said), known) == []
