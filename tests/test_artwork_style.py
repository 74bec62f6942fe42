"""Colours, and the order in which attributes, style sheets and style attributes overrule each other."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import ImageColor

from cupgeom.decor.artwork import read_svg
from cupgeom.decor.artwork.colours import Current, Ink, Reference, parse_colour, parse_paint, parse_reference
from cupgeom.drawing import Shape

SVG = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 100">{}</svg>'


def of_bytes(colour: Ink | Current | None) -> tuple[float, ...]:
    assert isinstance(colour, Ink)
    return (*(255 * part for part in colour.colour), colour.opacity)


@pytest.mark.parametrize("name", sorted(ImageColor.colormap))
def test_names_of_colours(name: str) -> None:
    # Pillow's own table of CSS names
    assert of_bytes(parse_colour(name.upper())) == pytest.approx((*ImageColor.getrgb(name), 1))


@pytest.mark.parametrize(
    ("text", "colour"),
    [  # CSS Color 4: 5.2 hex, 5.1 rgb(), 4.2.1 alpha; the last as SVG 1.1 writes it
        ("#f80", (255, 136, 0, 1)),
        ("#f808", (255, 136, 0, 136 / 255)),
        ("#ff8800", (255, 136, 0, 1)),
        ("#FF880080", (255, 136, 0, 128 / 255)),
        ("rgb(255, 136, 0)", (255, 136, 0, 1)),
        ("rgb(255 136 0 / 50%)", (255, 136, 0, 0.5)),
        ("rgba(100%,50%,0%,.25)", (255, 127.5, 0, 0.25)),
        ("rgb(999,-5,0)", (255, 0, 0, 1)),
        ("hsl(120,100%,25%)", (0, 127.5, 0, 1)),
        ("hsl(120,300%,50%)", (0, 255, 0, 1)),
        ("hwb(0 50% 0%)", (255, 127.5, 127.5, 1)),
        ("transparent", (0, 0, 0, 0)),
        ("#fff icc-color(x, 0, 1)", (255, 255, 255, 1)),
    ],
)
def test_ways_to_write_a_colour(text: str, colour: tuple[float, ...]) -> None:
    assert of_bytes(parse_colour(text)) == pytest.approx(colour)


@given(st.integers(0, 359), st.integers(0, 100), st.integers(0, 100))
def test_hsl_by_the_standards_own_formula(hue: int, saturation: int, lightness: int) -> None:
    # CSS Color 4, 7.1, "hslToRgb"
    light, reach = lightness / 100, saturation / 100 * min(lightness / 100, 1 - lightness / 100)

    def part(n: int) -> float:
        k = (n + hue / 30) % 12
        return 255 * (light - reach * max(-1, min(k - 3, 9 - k, 1)))

    found = of_bytes(parse_colour(f"hsl({hue}, {saturation}%, {lightness}%)"))
    assert found == pytest.approx((part(0), part(8), part(4), 1), abs=1e-9)


@pytest.mark.parametrize(
    "text",
    ["", "nocolour", "#12", "#12345", "rgb(1,2)", "rgb(1,2,x)", "color()", "lab(50% 0 0)", "red blue", "(" * 300],
)
def test_what_is_no_colour(text: str) -> None:
    assert parse_colour(text) is None


def test_paint_may_be_an_element_with_a_second_choice() -> None:
    assert parse_paint("none") == (None,)
    assert parse_paint("url(#a)") == (Reference("#a"),)
    assert parse_paint("url( '#a b' ) none") == (Reference("#a b"),)
    assert parse_paint('url("#a") currentColor') == (Reference("#a", Current()),)
    assert parse_paint("url(#a) red") == (Reference("#a", Ink((1.0, 0.0, 0.0))),)
    assert parse_paint("red green") is None
    assert (parse_reference("none"), parse_reference("url(#c)"), parse_reference("circle(5px)")) == ("", "#c", None)


def fills(body: str) -> list[tuple[int, ...]]:
    shapes = [leaf for leaf in read_svg(SVG.format(body).encode()).drawing.leaves() if isinstance(leaf, Shape)]
    colours = [shape.fill for shape in shapes]
    assert all(isinstance(colour, tuple) for colour in colours)
    return [tuple(round(255 * part) for part in colour) for colour in colours]


RECT = '<rect width="9" height="9" {}/>'
RED, GREEN, BLUE, BLACK = (255, 0, 0), (0, 128, 0), (0, 0, 255), (0, 0, 0)


@pytest.mark.parametrize(
    ("sheet", "attributes", "colour"),
    [
        ("", 'fill="red"', RED),
        ("rect{fill:blue}", 'fill="red"', BLUE),
        ("rect{fill:blue}", 'style="fill:red"', RED),
        ("rect{fill:blue!important}", 'style="fill:red"', BLUE),
        ("rect{fill:blue!important}", 'style="fill:red!important"', RED),
        (".a{fill:blue} rect{fill:red}", 'class="b a"', BLUE),
        ("#i{fill:blue} .a{fill:red} rect{fill:red}", 'class="a" id="i"', BLUE),
        ("rect{fill:red} rect{fill:blue}", "", BLUE),
        ("svg > rect{fill:blue}", "", BLUE),
        ("g rect{fill:blue}", "", BLACK),
        ("rect:first-of-type{fill:blue} rect:not([class]){stroke:none}", "", BLUE),
        ("*{fill:red} rect:hover{fill:blue}", "", RED),
        ("rect{fill:blue;fill:nonsense}", "", BLUE),
        ("rect{FILL:BLUE}", "", BLUE),
        ("/* c */rect/**/{/*x*/fill:/*y*/blue/*z*/;}", "", BLUE),
        ("<!-- rect{fill:blue} -->", "", BLACK),  # an XML comment, as every XML parser takes it
        ("@media print{rect{fill:red}} rect{fill:blue}", "", BLUE),
        ("", 'fill="red" style="fill:nonsense"', RED),
        ("", 'style="fill:blue;;;:;stroke"', BLUE),
        ("", 'style="font-family:\'A;B\';fill:blue"', BLUE),
        ("", 'Fill="red"', BLACK),
    ],
)  # fmt: skip
def test_who_overrules_whom(sheet: str, attributes: str, colour: tuple[int, ...]) -> None:
    assert fills(f"<style>{sheet}</style>" + RECT.format(attributes)) == [colour]


def test_paint_is_handed_down_and_colour_is_looked_up_where_it_is_used() -> None:
    body = '<g fill="red" color="blue"><g>{}<g color="green" fill="currentColor">{}{}</g></g></g>{}'
    rects = (RECT.format(""), RECT.format(""), RECT.format('fill="initial"'), RECT.format('fill="inherit"'))
    assert fills(body.format(*rects)) == [RED, GREEN, BLACK, BLACK]


def test_a_copy_takes_its_paint_from_where_it_is_used() -> None:
    rect = RECT.format('id="r"')
    body = f'<g fill="red"><defs>{rect}</defs></g><use href="#r" fill="blue"/><use href="#r"/>'
    assert fills(body) == [BLUE, BLACK]


def test_what_is_not_understood_is_said() -> None:
    body = (
        "<style>@import 'x.css'; @media print{rect{fill:red}} rect:::x{fill:red} circle{fill:red}</style>"
        + RECT.format('id="r" fill="nocolour" style="stroke-width:-1"')
    )
    art = read_svg(SVG.format(body).encode(), "art.svg")
    assert [str(notice) for notice in art.notices] == [
        "art.svg: asks for a style sheet in another file, which is never read; "
        "put the style sheet into a style element",
        "art.svg: has style rules under @media, which are left out",
        "art.svg: has a style rule for 'rect:::x', which is not understood and left out",
        "art.svg, <rect id=\"r\">: has fill 'nocolour', which is not understood and left out",
        "art.svg, <rect id=\"r\">: has stroke-width '-1', which is not understood and left out",
    ]
