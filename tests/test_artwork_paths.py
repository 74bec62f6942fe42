"""Path data, basic shapes: against svgpathtools, the standard's own numbers and the grammar."""

from __future__ import annotations

import cmath
import math
from xml.etree.ElementTree import Element

import pytest
import svgpathtools
from hypothesis import given
from hypothesis import strategies as st

from cupgeom.decor.artwork.numbers import parse_numbers
from cupgeom.decor.artwork.pathdata import arc_centre, parse_path, parse_points
from cupgeom.decor.artwork.shapes import outline
from cupgeom.drawing import Cubic, Line
from cupgeom.errors import CupgeomError

PATHS = (
    "M10 10 L20 30 l5-5 H40 h-3 V9 v2 Z",
    "M0,0C10,20,30,40,50,0S80-20,90 0s5 5 10 0",
    "M0 0Q10 20 20 0T40 0t20 0q5 5 10 0",
    "M10 80 A 30 50 0 0 1 60 80 A 30 50 20 1 0 90 20 a5 9 -45 1 1 3 4 a 1 1 0 0 0 5 0",
    "M1.5.5.25-3e0-4-5",
    "m5 5 10 0 0 10zm20 0 5 5 5-5z",
    "M600,350 l 50,-25 a25,25 -30 0,1 50,-25 l 50,-25 a25,50 -30 0,1 50,-25 l 50,-25 a25,75 -30 0,1 50,-25 l 50,-25",
    "M0 0a5 5 0 10 10 0a5 5 0 01-10 0",
)


@pytest.mark.parametrize("text", PATHS)
def test_agrees_with_svgpathtools(text: str) -> None:
    ours = list(parse_path(text).path.segments())
    for theirs in svgpathtools.parse_path(text):
        if isinstance(theirs, svgpathtools.Arc):
            count = math.ceil(abs(theirs.delta) / 45 - 1e-9)
            for index in range(count):
                piece = ours.pop(0)
                assert isinstance(piece, Cubic)
                assert abs(piece.end - theirs.point((index + 1) / count)) < 1e-9
                assert abs(piece.point(0.5) - theirs.point((index + 0.5) / count)) < 5e-6 * abs(theirs.radius)
        elif theirs.length():  # our closing line is left out where it has no length
            piece = ours.pop(0)
            assert isinstance(piece, Line if isinstance(theirs, svgpathtools.Line) else Cubic)
            for t in (0, 0.3, 0.7, 1):
                assert abs(piece.point(t) - theirs.point(t)) < 1e-12
    assert ours == []


@pytest.mark.parametrize(
    ("text", "centre", "start_deg", "sweep_deg", "length"),
    [  # SVG 1.1, figure "arcs01": its red and its yellow arc, by hand
        ("M150,200 a150,150 0 1,0 150,-150", 300 + 200j, 180, -270, 706.858347),
        ("M275,25 a150,150 0 0,0 -150,150", 275 + 175j, -90, -90, 235.619449),
    ],
)
def test_arcs_of_the_standard(text: str, centre: complex, start_deg: float, sweep_deg: float, length: float) -> None:
    start = complex(*parse_numbers(text[1 : text.index("a")])[0])
    _, _, _, large, sweep, x, y = parse_numbers(text[text.index("a") + 1 :])[0]
    arc = arc_centre(start, start + complex(x, y), (150, 150), 0.0, large == 1, sweep == 1)
    assert arc is not None
    assert abs(arc.centre - centre) < 1e-9
    assert math.degrees(arc.start) % 360 == pytest.approx(start_deg % 360)
    assert math.degrees(arc.sweep) == pytest.approx(sweep_deg)
    assert parse_path(text).path.length() == pytest.approx(length, rel=3e-6)


@given(
    st.complex_numbers(max_magnitude=100),
    st.complex_numbers(max_magnitude=100),
    st.tuples(st.floats(0.5, 100), st.floats(0.5, 100)),
    st.floats(-math.pi, math.pi),
    st.booleans(),
    st.booleans(),
)
def test_an_arc_runs_from_end_to_end_on_its_ellipse(start, end, radii, tilt, large, sweep) -> None:
    arc = arc_centre(start, end, radii, tilt, large, sweep)
    if arc is None:
        assert abs(end - start) <= 2e-7 * max(radii)
        return
    rx, ry = arc.radii
    assert rx / ry == pytest.approx(radii[0] / radii[1]) and rx >= radii[0] * (1 - 1e-12)
    for at, place in ((arc.start, start), (arc.start + arc.sweep, end)):
        found = arc.centre + complex(rx * math.cos(at), ry * math.sin(at)) * cmath.rect(1, tilt)
        assert abs(found - place) < 1e-6 * max(rx, ry)
    assert (arc.sweep > 0) == sweep
    assert (abs(arc.sweep) >= math.pi - 1e-6) if large else (abs(arc.sweep) <= math.pi + 1e-6)


@pytest.mark.parametrize(
    ("text", "kinds", "fault"),
    [
        ("", b"", ""),
        ("  M 1 2  ", b"M", ""),
        ("M1 2z", b"MZ", ""),
        ("M1 2 3 4 5 6z", b"MLLZ", ""),
        ("M1 1zL5 5", b"MZML", ""),
        ("L 1 2", b"", "has a fault in its path data at character 1 ('L 1 2')"),
        ("M 1 2 L 3", b"M", "has a fault in its path data at character 7 ('L 3')"),
        ("M 1 2 L 3 4 5", b"ML", "has a fault in its path data at character 7 ('L 3 4 5')"),
        ("M 1 2 L 3,,4", b"M", "has a fault in its path data at character 7 ('L 3,,4')"),
        ("M 1 2 L 3 4 x L 5 6", b"ML", "has a fault in its path data at character 7 ('L 3 4 x L 5')"),
        ("M 1 2 A 1 1 0 2 0 5 5", b"M", "has a fault in its path data at character 7 ('A 1 1 0 2 0')"),
        ("M 1 2 z 5", b"MZ", "has a fault in its path data at character 7 ('z 5')"),
    ],
)
def test_a_path_is_read_up_to_its_first_fault(text: str, kinds: bytes, fault: str) -> None:
    path, found, _ = parse_path(text)
    assert (path.kinds, found) == (kinds, fault)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("M NaN NaN L 10 10", "has NaN in its path data, which is no number"),
        ("M 0 0 L inf 10", "has inf in its path data, which is no number"),
        ("M 0 0 L 1e400 10", "has the number 1e400, which is beyond 1e+15"),
        ("M 0 0 A -1e16 5 0 0 0 9 9", "has the number -1e16, which is beyond 1e+15"),
    ],
)
def test_numbers_beyond_reckoning_are_refused(text: str, message: str) -> None:
    with pytest.raises(CupgeomError) as caught:
        parse_path(text)
    assert str(caught.value) == message


DIGITS = st.text("0123456789", min_size=1, max_size=4)
NUMBERS = st.builds(
    lambda sign, whole, fraction, power: sign + whole + fraction + power,
    st.sampled_from(("", "+", "-")),
    DIGITS,
    st.one_of(st.just(""), st.just("."), DIGITS.map(".".__add__)),
    st.one_of(
        st.just(""),
        st.builds(
            lambda e, s, d: e + s + d, st.sampled_from("eE"), st.sampled_from(("", "+", "-")), st.sampled_from("01239")
        ),
    ),
) | st.builds(lambda sign, fraction: f"{sign}.{fraction}", st.sampled_from(("", "+", "-")), DIGITS)


@given(st.lists(NUMBERS, max_size=12), st.randoms(use_true_random=False))
def test_numbers_may_be_packed_as_tight_as_they_stay_apart(texts: list[str], random) -> None:
    packed = ""
    for text in texts:
        mantissa = packed.replace("e", " ").replace("E", " ").replace("+", " ").replace("-", " ").replace(",", " ")
        last = (mantissa.split(" ") or [""])[-1]
        in_power = bool(packed) and any(c in "eE" for c in packed[-4:]) and packed[-1].isdigit()
        may_touch = text[0] in "+-" or (text[0] == "." and ("." in last or in_power))
        joints = ["", " ", ","] if may_touch else [" ", ",", " , ", "\n", "\t"]
        packed += (random.choice(joints) if packed else "") + text
    assert parse_numbers(packed) == ([float(text) for text in texts], False)


@given(st.text("MmLlHhVvCcSsQqTtAaZz0123456789.,-+ \n", max_size=60))
def test_what_is_not_drawn_of_any_text_is_a_fault(text: str) -> None:
    path, fault, _ = parse_path(text)
    assert (path.kinds + b"M").startswith(b"M")
    assert path.kinds != b"" or fault != "" or text.strip() == ""
    assert (fault == "") == (parse_path(f"M0 0 {text.strip()} L9 9").fault == "" and (text.strip() + "M")[0] in "Mm")


def shape(tag: str, **lengths: float) -> list[complex]:
    return [segment.start for segment in outline(Element(tag), lengths.get).path.segments()]


def test_basic_shapes_start_and_run_where_the_standard_says() -> None:
    assert shape("rect", x=1.0, y=2.0, width=4.0, height=3.0) == [1 + 2j, 5 + 2j, 5 + 5j, 1 + 5j]
    assert shape("circle", cx=1.0, cy=2.0, r=3.0)[::2] == pytest.approx(
        [4 + 2j, 1 + 5j, -2 + 2j, 1 - 1j]
    )  # to +y first
    rounded = shape("rect", width=10.0, height=8.0, rx=2.0, ry=1.0)
    assert rounded[:2] == [2 + 0j, 8 + 0j] and 10 + 1j in rounded and 0 + 1j in rounded


def test_a_radius_left_out_is_as_the_other_and_too_large_ones_are_cut() -> None:
    # SVG 1.1, 9.2: rx as ry, and at most half the side
    assert max(z.real for z in shape("rect", width=10.0, height=8.0, ry=99.0)[:1]) == 5
    assert shape("ellipse", rx=4.0)[2] == pytest.approx(4j)


@pytest.mark.parametrize(
    ("tag", "lengths", "fault"),
    [
        ("circle", {"r": 0.0}, ""),
        ("circle", {}, "has no size"),
        ("ellipse", {"rx": -1.0, "ry": -1.0}, "has no size"),
        ("rect", {"width": 5.0, "height": 0.0}, ""),
        ("rect", {"width": -5.0, "height": 3.0}, "has no size"),
    ],
)
def test_shapes_without_size_are_nothing(tag: str, lengths: dict[str, float], fault: str) -> None:
    assert outline(Element(tag), lengths.get) == (parse_path("").path, fault, frozenset())


def test_points_end_at_a_fault_and_drop_a_lone_number() -> None:
    assert parse_points("0,0 5,0 5,5 7", closed=True).path.kinds == b"MLLZ"
    assert parse_points("0,0 5,0 x 5,5", closed=False) == (
        parse_path("M0 0L5 0").path,
        "has a fault in its points",
        frozenset(),
    )
