"""DXF files read back with ezdxf: no audit errors, every coordinate where it belongs, a layer a role."""

from __future__ import annotations

import io
import math
import subprocess
import sys
from itertools import pairwise

import ezdxf
import pytest
import shapely
from ezdxf.lldxf.encoding import decode_dxf_unicode
from ezdxf.math import Vec2
from hypothesis import given, settings
from hypothesis import strategies as st

from cupgeom.drawing import Affine, Box, Clipped, Path, Pen, Shape, Stroke, Text, circle, path_of, polyline
from cupgeom.errors import CupgeomError
from cupgeom.pages import Correction
from cupgeom.writers.dxf import render

from .sample_document import arc, page_of, sector


def cut(path: Path, role: str = "cut") -> Shape:
    return Shape(path=path, role=role, stroke=Stroke())  # type: ignore[arg-type]


def entities(*items: Shape | Text | Clipped, **page: object) -> list[ezdxf.entities.DXFEntity]:
    """What a file holds, once the auditor has found nothing wrong with it."""
    document = ezdxf.read(io.StringIO(render(page_of(*items, **page)).decode("ascii")))
    assert document.dxfversion == "AC1009"  # R12
    assert document.audit().errors == []
    return list(document.modelspace())


def ends(entity: ezdxf.entities.DXFEntity) -> tuple[complex, complex]:
    points = (
        (entity.dxf.start, entity.dxf.end) if entity.dxftype() == "LINE" else (entity.start_point, entity.end_point)
    )
    first, last = (complex(point.x, point.y) for point in points)
    return first, last


def test_a_wraps_outline_is_two_true_arcs_and_two_lines():
    """CENTRE 105 + 20i, radii 200 and 130, from 60° to 120°."""
    found = entities(cut(sector()))
    assert [entity.dxftype() for entity in found] == ["ARC", "LINE", "ARC", "LINE"]
    for entity, radius in zip(found[::2], (200, 130), strict=True):
        assert entity.dxf.center.isclose((105, 20, 0), abs_tol=1e-6)
        assert entity.dxf.radius == pytest.approx(radius, abs=1e-6)
        assert (entity.dxf.start_angle, entity.dxf.end_angle) == pytest.approx((60, 120), abs=1e-6)
    for line, angle in zip(found[1::2], (120, 60), strict=True):
        for end in ends(line):
            assert math.degrees(math.atan2(end.imag - 20, end.real - 105)) == pytest.approx(angle, abs=1e-5)


def test_outlines_of_straight_sides_are_closed_polylines():
    (found,) = entities(cut(Box(10.25, 20.5, 110.125, 220.0).outline()))
    assert (found.dxftype(), found.is_closed) == ("POLYLINE", True)
    corners = [complex(*point.dxf.location.vec2) for point in found.vertices]
    assert corners == [10.25 + 20.5j, 110.125 + 20.5j, 110.125 + 220j, 10.25 + 220j]


def test_open_runs_stay_open():
    line, run = entities(cut(polyline([0j, 10 + 5j])), cut(polyline([0j, 10j, 5 + 5j])))
    assert (line.dxftype(), ends(line)) == ("LINE", (0j, 10 + 5j))
    assert (run.dxftype(), run.is_closed, len(run.vertices)) == ("POLYLINE", False, 3)


def test_a_circle_is_two_arcs_that_make_it_whole():
    found = entities(cut(circle(50 + 60j, 12.5)))
    assert [(entity.dxf.start_angle, entity.dxf.end_angle) for entity in found] == [(0, 180), (180, 0)]
    assert {entity.dxf.radius for entity in found} == {12.5}


POINTS = st.complex_numbers(max_magnitude=120, allow_nan=False, allow_infinity=False)


@given(st.lists(POINTS, min_size=4, max_size=4))
@settings(max_examples=40)
def test_polylines_stay_within_five_thousandths_of_their_cubics(points):
    pen = Pen(points[0]).cubic(*points[1:])
    (found,) = entities(cut(pen.path())) or [None]
    if found is None:
        assert max(abs(point - points[0]) for point in points) < 1e-5
        return
    chain = [points[0], points[-1]]
    if found.dxftype() == "POLYLINE":
        chain = [complex(*vertex.dxf.location.vec2) for vertex in found.vertices]
    line = shapely.LineString([(p.real, p.imag) for p in chain])
    # de Casteljau's polynomial, point by point
    for step in range(101):
        t, row = step / 100, points
        while len(row) > 1:
            row = [a + (b - a) * t for a, b in pairwise(row)]
        assert line.distance(shapely.Point(row[0].real, row[0].imag)) <= 0.005 + 2e-6


@given(st.floats(0.01, 359), st.sampled_from([1, -1]), st.floats(0.5, 2000), st.floats(-180, 180))
@settings(max_examples=40)
def test_arcs_of_any_sweep_run_through_their_middle(sweep, way, radius, start):
    drawn = arc(100 + 100j, radius, start, way * sweep)
    (found,) = entities(cut(path_of([drawn])))
    if found.dxftype() == "LINE":
        assert radius * math.radians(sweep) < 0.01
        return
    turn = math.radians(found.dxf.start_angle + ((found.dxf.end_angle - found.dxf.start_angle) % 360) / 2)
    centre = complex(*found.dxf.center.vec2)
    middle = centre + found.dxf.radius * complex(math.cos(turn), math.sin(turn))
    first, last = sorted(ends(found), key=lambda end: abs(end - drawn.start))
    for point, expected in ((middle, drawn.middle), (first, drawn.start), (last, drawn.end)):
        assert abs(point - expected) < 1e-4


def test_an_arc_flatter_than_the_files_angles_can_tell_is_a_polyline():
    drawn = arc(0j, 3e5, 0, 0.05)  # 262 mm of it
    (found,) = entities(cut(path_of([drawn])))
    assert found.dxftype() == "POLYLINE"
    assert all(abs(abs(complex(*vertex.dxf.location.vec2)) - 3e5) < 0.005 for vertex in found.vertices)


def test_each_role_has_its_layer():
    roles = ("white", "print", "cut", "guide", "note")
    items = [cut(polyline([0j, complex(index + 1)]), role) for index, role in enumerate(roles)]
    found = entities(*reversed(items))
    assert [(entity.dxf.layer, entity.dxf.end.x) for entity in found] == [
        (role, index + 1) for index, role in enumerate(roles)
    ]


def test_text_stays_text_in_ascii():
    (found,) = entities(Text(text="Ørn 30°\nنجمة", at=20 + 30j, size=4, angle_deg=90, anchor="end"))
    assert decode_dxf_unicode(found.dxf.text) == "Ørn 30° نجمة"
    assert (found.dxf.height, found.dxf.rotation, found.dxf.layer) == (4, 90, "note")
    assert Vec2(found.dxf.insert).x == pytest.approx(20)


def test_a_printers_correction_moves_every_point():
    box = Box(10, 10, 50, 90)
    (found,) = entities(cut(box.outline()), correction=Correction(across=1.01, along=0.98))
    expected = Affine(1.01, 0, 0, 0.98, -0.01 * 105, 0.02 * 148.5)(10 + 10j)  # about the middle of A4
    assert abs(complex(*found.vertices[0].dxf.location.vec2) - expected) < 1e-6
    (ring,) = entities(cut(circle(60 + 60j, 20)), correction=Correction(across=1.01))
    reach = [vertex.dxf.location.x for vertex in ring.vertices]
    assert max(reach) - min(reach) == pytest.approx(40 * 1.01, abs=0.01)


def test_groups_are_opened_and_windows_refused():
    square = cut(Box(0, 0, 5, 5).outline())
    (found,) = entities(Clipped(items=(Clipped(items=(square,)),)))
    assert found.dxftype() == "POLYLINE"
    with pytest.raises(CupgeomError) as caught:
        render(page_of(Clipped(clip=Box(0, 0, 3, 3).outline(), items=(square,))))
    assert str(caught.value) == "drawing: holds lines cut to a window, which a blade would follow beyond it"


def test_an_empty_page_is_a_file_without_entities():
    assert entities() == []
    assert entities(cut(Path()), cut(polyline([1 + 1j]))) == []


def test_more_pages_than_one_are_refused():
    document = page_of(cut(sector()))
    twice = type(document)(title="two", pages=document.pages * 2)
    with pytest.raises(CupgeomError) as caught:
        render(twice)
    assert str(caught.value) == "pages: are 2, but one DXF holds one page; write one for each page"


def test_the_same_page_gives_the_same_bytes():
    work = (
        "import sys; from cupgeom.drawing import *; from cupgeom.pages import *;"
        "from cupgeom.writers.dxf import render;"
        "shape = Shape(path=circle(5 + 5j, 3), role='cut', stroke=Stroke());"
        "page = Page(width=10, height=10, drawing=Drawing((shape,)));"
        "sys.stdout.buffer.write(render(Document(title='sample', pages=(page,))))"
    )
    one, two = (
        subprocess.run(
            [sys.executable, "-c", work], capture_output=True, check=True, env={"PYTHONHASHSEED": seed}
        ).stdout
        for seed in ("1", "2")
    )
    assert one == two
    assert b"ARC" in one


def test_without_the_extra_the_message_says_what_to_install(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setitem(sys.modules, "ezdxf.addons.r12writer", None)
    with pytest.raises(CupgeomError) as caught:
        render(page_of(cut(sector())))
    assert str(caught.value) == "dxf: needs ezdxf; install cupgeom with the extra dxf"
