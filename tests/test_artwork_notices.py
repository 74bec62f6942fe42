"""Nothing is lost in silence: what is not drawn, or not as it should be, is named."""

from __future__ import annotations

import base64
import io
import tomllib
from pathlib import Path

import pytest
from PIL import Image

from cupgeom.decor.artwork import read_svg
from cupgeom.errors import CupgeomError

SVG = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 100">{}<rect id="there" width="9" height="9"/></svg>'
CASES = tomllib.loads((Path(__file__).parent / "artwork_notices.toml").read_text("utf-8"))["case"]


@pytest.mark.parametrize("case", CASES, ids=[case["svg"][:30] for case in CASES])
def test_what_is_left_out_is_named(case: dict) -> None:
    found = [str(notice) for notice in read_svg(SVG.format(case["svg"]).encode(), "art").notices]
    assert found == [f"art, {notice}" for notice in case["says"]]


def test_a_style_sheet_in_another_file_is_named() -> None:
    text = '<?xml-stylesheet href="x.css"?>' + SVG.format("")
    assert [str(notice) for notice in read_svg(text.encode(), "art").notices] == [
        'art: asks for a style sheet in another file (href="x.css"), which is never read; '
        "put the style sheet into a style element"
    ]


def test_one_doubt_about_many_elements_is_one_notice() -> None:
    body = "".join(f'<text id="t{i}"/>' for i in range(7))
    (notice,) = read_svg(SVG.format(body).encode(), "art").notices
    assert notice.where == 'art, <text id="t0">, <text id="t1">, <text id="t2"> and 4 more'


def test_files_without_the_namespace_are_read_with_a_notice() -> None:
    art = read_svg(b'<svg viewBox="0 0 9 9"><rect width="5" height="5"/></svg>', "old.svg")
    assert art.drawing
    assert [str(notice) for notice in art.notices] == [
        'old.svg: does not say that it is SVG, and is read as SVG all the same; add xmlns="http://www.w3.org/2000/svg"'
    ]


def test_the_names_of_other_vocabularies_do_not_matter() -> None:
    inside = '<s:rect width="5" height="5"/><rect width="9" height="9"/>'
    text = f'<s:svg xmlns:s="http://www.w3.org/2000/svg" viewBox="0 0 9 9">{inside}</s:svg>'
    art = read_svg(text.encode(), "art")
    assert (len(art.drawing.items), art.notices) == (1, ())


def test_a_file_that_shows_nothing_is_an_error_that_says_why() -> None:
    with pytest.raises(CupgeomError) as caught:
        read_svg(b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><text id="t">x</text></svg>', "art")
    assert str(caught.value) == 'art: shows nothing (art, <text id="t"> is text, which is not drawn)'


def test_a_picture_inside_keeps_its_jpeg() -> None:
    file = io.BytesIO()
    Image.new("RGB", (6, 4), (200, 30, 30)).save(file, "JPEG")
    data = base64.b64encode(file.getvalue()).decode()
    body = f'<image href="data:image/jpeg;base64,{data}" width="60" height="40"/>'
    (picture,) = read_svg(SVG.format(body).encode()).pictures()
    assert (picture.columns, picture.rows, picture.jpeg) == (6, 4, file.getvalue())
    px = 25.4 / 96
    assert picture.corners() == pytest.approx([60j * px, (60 + 60j) * px, (60 + 100j) * px, 100j * px])
