"""Nothing on a page runs into anything else: every text is checked against every other text and against the lines."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from cupgeom import Cup, CupgeomError, Foot, Handle, Ring, Span, Template
from cupgeom.drawing import Clipped, Drawing, Path, Shape, Text
from cupgeom.pages import Page, parse_paper, read_bars
from cupgeom.template import document

MUG = Handle(feet=(Foot(width=14, top=15, bottom=30), Foot(width=14, top=65, bottom=80)))
LONG_FOOT = Handle(feet=(Foot(width=14, top=10, bottom=85),))
ONE_LONG_WORD = "Comet-night-order-of-the-astronomy-club-" * 5
MANY_WORDS = (
    "Comet night of a little town's astronomy club, second order of the year, in matt black with a silver rim " * 2
)
MAY_BE_CROSSED = {
    "rim band (advisory)",
    "bare lip (keep-out)",
    "quarter line",
    "tile edge",
}  # faint lines below the words


def shown(drawing: Drawing, window: shapely.Geometry | None = None) -> Iterator[tuple[Shape | Text, shapely.Geometry]]:
    """Each shape's stroke and each text's box as it shows through its clips."""
    for item in drawing.items:
        if isinstance(item, Clipped):
            clip = filled(item.clip)
            yield from shown(Drawing(item.items), clip if window is None else window.intersection(clip))
            continue
        area = filled(item.outline()) if isinstance(item, Text) else stroked(item)
        area = area if window is None else area.intersection(window)
        if not area.is_empty:
            yield item, area


def filled(path: Path) -> shapely.Geometry:
    return shapely.union_all([shapely.Polygon([(p.real, p.imag) for p in ring]) for ring in path.flattened(0.02)])


def stroked(shape: Shape) -> shapely.Geometry:
    lines = [shapely.LineString([(p.real, p.imag) for p in ring]) for ring in shape.path.flattened(0.02)]
    return shapely.MultiLineString(lines).buffer(shape.stroke.width / 2 if shape.stroke else 0.01)


def collisions(page: Page, margin: float = 5.0) -> list[str]:
    """What runs into what on a page, in words; empty where all is well."""
    found, items = [], list(shown(page.drawing))
    texts = [(item, area) for item, area in items if isinstance(item, Text)]
    lines = [(item, area) for item, area in items if isinstance(item, Shape) and item.name not in MAY_BE_CROSSED]
    for index, (text, area) in enumerate(texts):
        for other, its_area in texts[:index]:
            if shapely.intersection(area, its_area).area > 1e-6:
                found.append(f"{text.text!r} and {other.text!r}")
        for line, its_area in lines:
            if line.name.startswith("page map"):
                box = filled(line.path)
                if area.intersects(box) and not box.contains(area):
                    found.append(f"{text.text!r} and the edge of the {line.name}")
            elif area.intersects(its_area):
                found.append(f"{text.text!r} and the {line.name}")
    notes = shapely.union_all([area for item, area in items if item.role == "note"])
    if notes.intersects(content(page)):
        found.append("notes and content")
    paper = shapely.box(margin, margin, page.width - margin, page.height - margin).buffer(0.16)
    found += [f"{item} and the margin" for item, area in items if not paper.contains(area)]
    return found


def content(page: Page) -> shapely.Geometry:
    """The tile's window, or all that is drawn of the piece, its outline filled."""
    if re.search("[A-Z]", page.name):
        assert isinstance(page.drawing.items[0], Clipped)
        return filled(page.drawing.items[0].clip)
    parts = [(item, area) for item, area in shown(page.drawing) if item.role != "note"]
    return shapely.union_all([filled(i.path) if i.role == "cut" else area for i, area in parts])


def two_walls() -> Cup:
    rings = (Ring(diameter=90, height=150), Ring(diameter=84, height=80), Ring(diameter=60, height=0))
    return Cup(rings=rings, name="two walls")


CASES = {
    "wide taper": (Template(cup=Cup.frustum(110, 60, 120, name="wide")), "a3", {}),
    "slight taper": (Template(cup=Cup.frustum(88, 86, 120, name="slight")), "a3", {}),
    "tumbler, made to fit": (Template(cup=Cup.frustum(88, 70, 170, name="tumbler")), "fit", {}),
    "cylinder": (Template(cup=Cup.frustum(73, 73, 150)), "fit", {}),
    "upside down": (Template(cup=Cup.frustum(60, 95, 130)), "fit", {}),
    "steeply upside down": (Template(cup=Cup.frustum(24, 90, 50), safe=1), "fit", {}),
    "saucer": (Template(cup=Cup.frustum(140, 70, 30), seam="continued"), "a3", {}),
    "mug, open": (Template(cup=Cup.frustum(82, 82, 95, handle=MUG)), "a4", {}),
    "mug, closed": (Template(cup=Cup.frustum(82, 78, 95, handle=MUG), closed=True), "a3", {}),
    "mug, continued tab": (Template(cup=Cup.frustum(90, 70, 95, handle=MUG), closed=True, seam="continued"), "a3", {}),
    "mug with one long foot": (Template(cup=Cup.frustum(90, 70, 95, handle=LONG_FOOT), closed=True), "a3", {}),
    "bare lip": (Template(cup=Cup.frustum(88, 70, 100, bare_lip=9), trim=Span(top=0, bottom=100)), "a3", {}),
    "tiled a4": (Template(cup=Cup.frustum(88, 70, 170, name="tumbler")), "a4", {}),
    "tiled letter in inches": (Template(cup=Cup.frustum(88.9, 69.85, 171.45)), "letter", {"inches": True}),
    "many tiles on a5": (Template(cup=Cup.frustum(140, 120, 260, name=MANY_WORDS)), "a5", {}),
    "film in two panels": (Template(cup=Cup.frustum(88, 70, 170)), "a4", {"purpose": "film"}),
    "film in five panels": (Template(cup=Cup.frustum(88, 70, 170), splits_deg=(-108, -36, 36, 108)), "a4", {}),
    "splits beside the quarters": (Template(cup=Cup.frustum(88, 70, 120), splits_deg=(-85, 5, 95)), "a4", {}),
    "long name": (Template(cup=Cup.frustum(73, 73, 80, name=MANY_WORDS)), "a4", {}),
    "long name, narrow paper": (Template(cup=Cup.frustum(26, 26, 60, name=MANY_WORDS)), "110 x 200mm", {}),
    "long word": (Template(cup=Cup.frustum(60, 50, 70, name=ONE_LONG_WORD)), "a5", {}),
    "espresso on a5": (Template(cup=Cup.frustum(60, 50, 70, name="espresso")), "a5", {}),
    "narrow roll": (Template(cup=Cup.frustum(60, 50, 70, name="espresso")), "roll 125mm", {}),
    "wide roll": (Template(cup=Cup.frustum(88, 70, 170)), "roll 610mm", {}),
    "thimble": (Template(cup=Cup.frustum(26, 20, 18), safe=1), "fit", {}),
    "needle": (Template(cup=Cup.frustum(10, 9, 40), overlap=3, bleed=1, safe=1), "fit", {}),
    "low ring": (Template(cup=Cup.frustum(80, 80, 10), bleed=2, safe=1), "fit", {"inches": True}),
    "no bleed": (Template(cup=Cup.frustum(88, 70, 170), bleed=0, seam="butt"), "a3", {}),
    "gap": (Template(cup=Cup.frustum(88, 70, 170), gap=20), "a3", {}),
    "wide tab": (Template(cup=Cup.frustum(88, 70, 170), overlap=25, bleed=6), "a3", {}),
    "corrected": (Template(cup=Cup.frustum(60, 60, 70)), "a4", {"correction": read_bars("99.2 x 100.4")}),
    "lower of two walls": (Template(cup=two_walls(), wall_index=1), "fit", {}),
}


@pytest.mark.parametrize("name", CASES)
def test_no_text_runs_into_text_lines_or_the_edge(name):
    template, paper, options = CASES[name]
    for page in document(template, parse_paper(paper), **options).pages:
        assert collisions(page) == []


@given(
    st.tuples(st.floats(15, 140), st.floats(15, 140), st.floats(12, 200)),
    st.sampled_from(["fit", "a3", "a4", "a5", "letter", "roll 610mm"]),
    st.sampled_from(["blank", "continued", "butt"]),
    st.lists(st.floats(-150, 150), max_size=2),
    st.booleans(),
)
@settings(max_examples=15)
def test_nothing_collides_on_any_cup_and_paper(size, paper, seam, splits, inches):
    try:
        template = Template(
            cup=Cup.frustum(*size, name="any cup"),
            seam=seam,
            overlap=4,
            bleed=2,
            safe=1,
            splits_deg=tuple(round(split) for split in splits),
        )
        pages = document(template, parse_paper(paper), inches=inches).pages
    except CupgeomError:
        return
    for page in pages:
        assert collisions(page) == []


def test_the_checker_finds_collisions():
    (page,) = document(Template(cup=Cup.frustum(60, 60, 70)), parse_paper("a4")).pages
    (cut,) = (leaf for leaf in page.drawing.leaves() if leaf.role == "cut")
    words = Text(text="across the cut line", at=cut.path.bounds().centre - 20, size=70.0)
    bad = Page(width=page.width, height=page.height, drawing=page.drawing + Drawing((words,)))
    assert {"'across the cut line' and the trim", "notes and content"} <= set(collisions(bad))
