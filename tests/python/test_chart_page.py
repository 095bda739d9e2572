"""The page for a screen: no network, no foreign markup, months to the safe side."""

import html
import json
import re
import shutil
import subprocess
from html.parser import HTMLParser

import pytest
from small_chart import SHIPPED, changed, small

import libcure
from libcure.render import chart_page as page
from libcure.words.phrases import LANGUAGES

BROWSER = shutil.which("chromium")


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


def asked(result, folder, *answers):
    """What the page says to answers typed into it: {field: value} each; the last word of the list of told lines."""
    result.save(folder)
    text = (folder / "chart.html").read_text(encoding="utf-8")
    script = f"""<script>const out = [];
for (const given of {json.dumps(answers)}) {{
  for (const [name, value] of Object.entries(given)) form.elements[name].value = value;
  form.dispatchEvent(new Event("input"));
  out.push([...told.querySelectorAll("p")].map(p => [...p.children].map(c => c.textContent)));
}}
document.body.insertAdjacentHTML("beforeend", "<pre id=out></pre>");
document.getElementById("out").textContent = JSON.stringify(out);</script></body>"""
    (folder / "asked.html").write_text(text.replace("</body>", script), encoding="utf-8")
    done = subprocess.run(
        [BROWSER, "--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={folder}/profile", "--dump-dom", f"file://{folder}/asked.html"],
        capture_output=True, text=True, timeout=120, check=True,
    )  # fmt: skip
    return json.loads(html.unescape(re.search(r'<pre id="out">(.*?)</pre>', done.stdout, re.DOTALL)[1]))


@pytest.mark.skipif(BROWSER is None, reason="no browser here")
def test_the_page_answers_for_a_job(small_result, tmp_path):
    """Times of day, the worst of both neighbours, nothing outside, nothing of a cell that must not be used."""
    slow, fast = (small_result.answers[i, 0] for i in (0, 1))
    warm = small_result.answers[1, 1]
    told = asked(
        small_result, tmp_path,
        {"ask-0": "1", "ask-1": "5", "ask-start": "09:12"}, {"ask-1": "9"}, {"ask-1": "22"}, {"ask-1": "x"},
        {"ask-0": "0", "ask-1": "5", "ask-start": ""},
    )  # fmt: skip

    def clock(minutes):
        t = 9 * 60 + 12 + int(minutes)
        return f"{t // 60 % 24:02d}:{t % 60:02d}" + (f" (+{t // 1440} day)" if t >= 1440 else "")

    first = {line[0]: line[1:] for line in told[0]}
    assert first["In place by"] == [clock(fast.in_place_min), fast.in_place_text]
    assert first["Release at"] == [clock(fast.release_min), fast.release_text]
    assert "Read at hardener fast, ground 5 °C. Working time is decided at the liner" in first["Why"][1]
    between = {line[0]: line[1:] for line in told[1]}
    assert between["In place by"][0] == clock(min(fast.in_place_min, warm.in_place_min))
    assert between["Release at"][0] == clock(max(fast.release_min, warm.release_min))
    assert "ground 5 °C and 15 °C: the worst of 2 cells." in between["Why"][1]
    assert told[2] == [["Ground", "No answer", "The chart goes from 5 to 15 °C."]]
    assert told[3][0][:2] == ["Ground", "?"]
    last = {line[0]: line[1:] for line in told[4]}
    assert last["Release at"][0] == slow.release_text
    stopped = asked(changed(small_result, cell_2={"late": True}), tmp_path, {"ask-0": "1", "ask-1": "9", "ask-start": "09:12"})
    assert stopped[0][0] == ["", "DO NOT USE", "TOO LATE"] and len(stopped[0]) == 2


@pytest.fixture(scope="module")
def pages(tmp_path_factory):
    """A folder with the shipped chart's page in each language, of the same kept cells."""
    folder = tmp_path_factory.mktemp("pages")
    for language in LANGUAGES:
        document = json.loads(SHIPPED.read_text(encoding="utf-8")) | {"publication": {"language": language}}
        result = libcure.chart(document, samples=16, store=folder / "cells")
        (folder / f"{language}.html").write_text(page.html(result), encoding="utf-8")
    return folder


@pytest.mark.skipif(BROWSER is None, reason="no browser here")
def test_what_is_touched_is_large_and_the_page_is_as_wide_as_its_screen(pages):
    """Targets of 48 px (common practice for gloves, no source); at 360 and 1280 px no scrolling sideways, and no words that leave their cell."""
    script = """<script>addEventListener("load", () => {
for (const frame of document.querySelectorAll("iframe")) {
  const f = frame.contentDocument, w = frame.contentWindow, box = e => e.getBoundingClientRect();
  f.querySelectorAll(".months button")[6].click();
  const small = [...f.querySelectorAll("input, select, button, td[tabindex]")].map(box).filter(b => b.width && (b.height < 48 || b.width < 48)).length;
  const out = [...f.querySelectorAll("td > span, td > .w span, td > .r")].filter(e => {
    const a = box(e), b = box(e.closest("td"));
    return a.left < b.left - 1 || a.right > b.right + 1;
  }).map(e => e.textContent);
  const told = [f.documentElement.lang, small, f.documentElement.scrollWidth, w.innerWidth, out.length, out[0] || ""].join("|");
  document.body.insertAdjacentHTML("beforeend", `<pre class=out>${told}</pre>`);
} });</script>"""
    sizes = [(language, width) for language in LANGUAGES for width in (360, 1280)]
    frames = "".join(f'<iframe src="{language}.html" style="width:{width}px;height:900px;border:0"></iframe>' for language, width in sizes)
    (pages / "frame.html").write_text(f'<body style="margin:0">{frames}{script}</body>', encoding="utf-8")
    done = subprocess.run(
        [BROWSER, "--headless", "--no-sandbox", "--disable-gpu", "--allow-file-access-from-files", f"--user-data-dir={pages}/profile",
         "--virtual-time-budget=5000", "--dump-dom", f"file://{pages}/frame.html"],
        capture_output=True, text=True, timeout=120, check=True,
    )  # fmt: skip
    found = [line.split("|") for line in re.findall(r'<pre class="out">(.*?)</pre>', done.stdout)]
    assert [(line[0], int(line[3])) for line in found] == sizes
    for language, small_targets, wide, window, *out in found:
        assert small_targets == "0" or window == "1280", language
        assert int(wide) <= int(window) and out == ["0", ""], (language, window, wide, out)


@pytest.mark.skipif(BROWSER is None, reason="no browser here")
@pytest.mark.parametrize("language", LANGUAGES)
def test_the_page_prints_on_one_sheet(pages, language):
    printed = pages / f"{language}.pdf"
    subprocess.run(
        [BROWSER, "--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={pages}/profile", f"--print-to-pdf={printed}",
         f"file://{pages}/{language}.html"],
        capture_output=True, timeout=120, check=True,
    )  # fmt: skip
    assert len(re.findall(rb"/Type /Page\b", printed.read_bytes())) == 1


def test_the_page_has_no_time_of_a_cell_that_must_not_be_used(small_result, tmp_path):
    changed(small_result, cell_2={"late": True}).save(tmp_path)
    text = (tmp_path / "chart.html").read_text(encoding="utf-8")
    data = json.loads(re.search(r'id="ask-data">(.*?)</script>', text)[1])
    assert data["cells"][2] == {"why": ["TOO LATE"]} and data["shape"] == [2, 2]
    assert data["cells"][0]["release"] == small_result.answers[0, 0].release_min
    assert data["axes"][1]["numbers"] == [5, 15] and data["axes"][0]["numbers"] == []
