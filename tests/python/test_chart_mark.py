"""A maker's mark as SVG: a drawing goes on sheet and page as a picture; what is more than a drawing is refused by its name."""

import io

import numpy as np
import pytest
from matplotlib.image import imread
from small_chart import small

import libcure
from libcure.render import chart_mark, chart_page, chart_paper

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" viewBox="0 0 60 20">'
DRAWING = HEAD + '<defs><path id="p" d="M0 0h20v20H0z"/></defs><rect width="60" height="20" fill="#0000ff"/><use href="#p" fill="#ff0000"/></svg>'


def mark(folder, text):
    path = folder / "mark.svg"
    path.write_text(text, encoding="utf-8")
    return path


def chart(folder, text):
    mark(folder, text)
    return libcure.read_chart(small(publication={"mark": "mark.svg", "maker": "Brass & Clay"}), beside=folder)


def test_a_drawing_becomes_a_picture_of_its_proportions(tmp_path):
    picture = np.asarray(imread(io.BytesIO(chart_mark.mark_png(mark(tmp_path, DRAWING))), format="png"))
    assert picture.shape[1] == pytest.approx(3 * picture.shape[0], abs=2)
    tall, wide = picture.shape[:2]
    assert picture[tall // 2, wide // 6][:3] == pytest.approx([1, 0, 0]) and picture[tall // 2, wide // 2][:3] == pytest.approx([0, 0, 1])


def test_sheet_and_page_carry_it_as_a_picture_only(tmp_path):
    document = chart(tmp_path, DRAWING)
    chart_paper.paper_of(document)
    markup = chart_page.html(libcure.chart(document))
    assert "data:image/png;base64," in markup and 'alt="Brass &amp; Clay"' in markup and "svg+xml" not in markup


@pytest.mark.parametrize(
    ("inside", "says"),
    [
        ("<script>alert(1)</script>", "an element script"),
        ("<foreignObject/>", "an element foreignObject"),
        ("<text>Name</text>", "an element text"),
        ('<rect onload="x()"/>', "an attribute onload"),
        ('<image href="http://example.org/a.png"/>', "href=http://example.org/a.png"),
        ('<image xlink:href="file:///etc/passwd"/>', "href=file:///etc/passwd"),
        ('<image href="a.png"/>', "href=a.png"),
        ('<image href="data:image/svg+xml;base64,AA=="/>', "href=data:image/svg+xml"),
        ('<a href="javascript:x()"><path d="M0 0"/></a>', "href=javascript:x()"),
        ('<use xlink:href="other.svg#a"/>', "href=other.svg#a"),
        ('<rect fill="url(http://example.org/#a)"/>', "url(http://example.org/#a"),
        ('<rect style="fill:url( \'x.svg#a\' )"/>', "in style"),
        ("<style>@import 'x.css';</style>", "@import"),
        ("<style>rect{fill:url(x.svg#a)}</style>", "url(x.svg#a"),
        ("<style>rect{fill:u\\72l(x)}</style>", "in style"),
        ('<?xml-stylesheet href="x.css"?>', "a processing instruction xml-stylesheet"),
        ('<use href="#a"/>' * 17, "more than 16 elements use"),
        ("<g>" * 101 + "</g>" * 101, "100 deep"),
    ],
)
def test_more_than_a_drawing_is_refused_by_its_name(tmp_path, inside, says):
    with pytest.raises(libcure.CureError) as caught:
        chart_paper.paper_of(chart(tmp_path, f"{HEAD}{inside}</svg>"))
    assert caught.value.field == "publication.mark" and says in caught.value.value and "mark.svg" in caught.value.value


@pytest.mark.parametrize(
    "text",
    [
        '<!DOCTYPE svg [<!ENTITY a "b">]>' + DRAWING,
        DRAWING.replace("0 0 60 20", "0 0 1 100000"),
        DRAWING.replace("<svg ", '<svg width="1" height="100000" '),
        DRAWING.replace('viewBox="0 0 60 20"', ""),
        DRAWING.replace("<svg ", '<svg width="100%" '),
        "<html/>",
        "no picture",
        DRAWING[:-8],
        "",
    ],
)
def test_what_is_no_picture_is_refused(tmp_path, text):
    with pytest.raises(libcure.CureError) as caught:
        chart_mark.mark_png(mark(tmp_path, text))
    assert caught.value.field == "publication.mark"


def test_a_large_file_is_refused(tmp_path):
    with pytest.raises(libcure.CureError, match="at most 2000000 bytes"):
        chart_mark.mark_png(mark(tmp_path, DRAWING + " " * chart_mark.MOST_BYTES))
