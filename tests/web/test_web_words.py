"""What the page says: from the catalogues of libcure, in every language, with nothing missing and nothing idle."""

import json
import re
from pathlib import Path

import pytest
from page_kit import ANSWERED, WHOLE, ask, link

from libcure.render.web_page import CHART_WORDS, PHRASES, SHARED, page_phrases
from libcure.words.phrases import LANGUAGES, catalogue

PAGE = Path(__file__).parents[2] / "bindings" / "web" / "page"
# Of a code or a list of the page.
MADE_OF = ("status_", "event_", "record_", "group_", "inner", "middle", "outer", "solid", "dashed", "dotted", "metric", "us", "refining", "first_point")


def said():
    """Keys that the page asks for in so many words."""
    text = "\n".join(p.read_text(encoding="utf-8") for p in [*PAGE.glob("*.js"), PAGE / "index.html"])
    return set(re.findall(r"""(?:\bsay\("|data-say=")(\w+)"[),}>]""", text)) - {key for key in MADE_OF if key.endswith("_")}


def test_every_phrase_of_the_page_is_there_in_every_language_and_none_is_idle():
    own = {key.removeprefix("web_") for key in catalogue("en") if key.startswith("web_")}
    assert said() <= own | set(SHARED) | set(CHART_WORDS)
    assert all(key.startswith(MADE_OF) for key in own - said()), sorted(own - said())
    for language in LANGUAGES:
        assert all(page_phrases()[language][key].strip() for key in page_phrases()["en"]), language
    assert set(PHRASES) == {"web_", "core_", "caution_"}


def test_what_the_engine_asks_and_tells_is_translated(engine):
    """A changed word of the core asks for new translations."""
    english = set(page_phrases()["en"].values())
    asked = ask(engine, {"call": "questions"})
    words = {p["title"] for p in asked["places"]} | {f["question"] for f in asked["facts"]}
    words |= {c for f in asked["facts"] if f["key"] != "like" for c in f["choices"]}
    words |= {f["help"] for f in asked["facts"] if not f["choices"] and f["kind"] != "resin"}
    assert words <= english, words - english
    told = json.loads(engine.evaluate("JSON.stringify(latest.moments.map((m) => m.name))"))
    assert set(told) <= english


@pytest.mark.parametrize("language", [language for language in LANGUAGES if language != "en"])
def test_the_page_speaks(browser, page, language):
    browser.open(link(page), ANSWERED)
    english = browser.evaluate("[...document.querySelectorAll('label, legend, h1, h2, option, button, td, th')].map((e) => e.textContent.trim())")
    browser.evaluate(f"$('language').value = '{language}'; $('language').dispatchEvent(new Event('change'))")
    browser.wait(WHOLE + f" && document.documentElement.lang === '{language}'")
    here = browser.evaluate("[...document.querySelectorAll('label, legend, h1, h2, option, button, td, th')].map((e) => e.textContent.trim())")
    en, other = page_phrases()["en"], page_phrases()[language]
    differ = {en[key] for key in en if en[key] != other[key]}
    # None is left in English that has been translated; models keep their titles.
    assert {words for words in here if words in differ and words not in other.values()} == set()
    assert len(set(here) - set(english)) > 60
    headline = browser.evaluate("document.querySelector('.headline').textContent")
    assert headline.startswith(other["core_keep_until_clock"].split("{")[0])
    assert browser.console == []
