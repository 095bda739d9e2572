"""The page for a screen: no network, no foreign markup, months to the safe side."""

import re
from html.parser import HTMLParser

from small_chart import small

import libcure


class Page(HTMLParser):
    """Collects what a page would fetch, and whether its tags close."""

    def __init__(self):
        super().__init__()
        self.fetched, self.open, self.cells = [], [], 0

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        self.fetched += [v for k, v in attrs if k in ("src", "href", "action", "data")]
        self.cells += "data-release" in given
        if tag not in ("meta", "br", "i", "input"):
            self.open.append(tag)

    def handle_endtag(self, tag):
        if tag != "i":
            assert self.open.pop() == tag


def test_the_page_needs_no_network_and_is_well_formed(small_result, tmp_path):
    small_result.save(tmp_path)
    text = (tmp_path / "chart.html").read_text(encoding="utf-8")
    page = Page()
    page.feed(text)
    assert page.open == [] and page.fetched == [] and page.cells == 4
    assert not re.search(r"https?://|@import|url\(", text)
    for words in (
        "release criterion met",
        "Working time is decided at the",
        "By month",
        "Depth of the pipe",
        "Sobol",
        small_result.dominant,
    ):
        assert words in text
    for words in ("physics", "recommended", "safety factor"):
        assert words not in text.lower()


def test_titles_are_not_markup(tmp_path):
    result = libcure.chart(small(title="<script>alert('x')</script> $\\alpha$", axes__0__labels=["<b>a</b>", "&"]))
    result.save(tmp_path)
    text = (tmp_path / "chart.html").read_text(encoding="utf-8")
    assert "<script>alert" not in text and "<b>a</b>" not in text
    assert "<b>a</b>" not in result._repr_html_()
