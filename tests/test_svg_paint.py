"""Paint in SVG files, read back with ElementTree, Pillow and another renderer."""

from __future__ import annotations

import io
import re
import shutil
import subprocess
from base64 import b64decode
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from cupgeom.drawing import Affine, Clipped, Drawing, Gradient, Stroke, circle
from cupgeom.pages import Document, Page
from cupgeom.writers import svg

from .readback import SVG, image_pixels, svg_root
from .sample_artwork import (
    BLUE,
    DPI,
    PAPER,
    RED,
    SIDE,
    artwork,
    blocks,
    filled,
    jpeg,
    photograph,
    pictures,
    square,
    stops,
)

HREF = "{http://www.w3.org/1999/xlink}href"
GRADIENT = Gradient(
    kind="radial",
    stops=stops((0, RED), (1, BLUE, 0.25)),
    place=Affine(10, 2, -3, 8, 20, 15),
    focus=0.5 - 0.25j,
    spread="reflect",
)


def test_nothing_is_fetched_from_outside_and_every_reference_is_defined() -> None:
    root = svg_root(svg.render(artwork()))
    ids = [element.get("id") for element in root.iter() if element.get("id")]
    assert len(ids) == len(set(ids))
    used = set()
    for element in root.iter():
        for name, value in element.attrib.items():
            used |= set(re.findall(r"url\(#(.*?)\)", value))
            if name == HREF and element.tag == f"{SVG}use":
                used.add(value.removeprefix("#"))
            elif name == HREF:
                assert element.tag == f"{SVG}image" and re.match(r"data:image/(png|jpeg);base64,", value)
            else:
                assert "href" not in name and "//" not in value
    assert used and used <= set(ids)
    defined = {element.get("id") for element in root.find(f"{SVG}defs")}
    assert defined == used  # and nothing is defined in vain
    assert {re.sub(r"\d+", "", name) for name in defined} == {"clip-", "gradient-", "picture-"}


def test_a_gradient_is_written_in_the_units_of_the_page_with_y_turned_over() -> None:
    (element,) = svg_root(svg.render(square(filled(GRADIENT)))).iter(f"{SVG}radialGradient")
    assert element.get("gradientUnits") == "userSpaceOnUse" and element.get("spreadMethod") == "reflect"
    assert [element.get(key) for key in ("cx", "cy", "r", "fx", "fy")] == ["0", "0", "1", "0.5", "-0.25"]
    read = [float(part) for part in element.get("gradientTransform").removeprefix("matrix(").rstrip(")").split()]
    assert read == pytest.approx([10, -2, -3, -8, 20, SIDE - 15], abs=1e-9)
    found = [(stop.get("offset"), stop.get("stop-color"), stop.get("stop-opacity")) for stop in element]
    assert found == [("0", "#ff0000", None), ("1", "#0000ff", "0.25")]
    linear = replace(GRADIENT, kind="linear", spread="pad")
    (element,) = svg_root(svg.render(square(filled(linear)))).iter(f"{SVG}linearGradient")
    assert [element.get(key) for key in ("x1", "y1", "x2", "y2", "spreadMethod")] == ["0", "0", "1", "0", None]


def test_opacities_are_written_where_they_count_and_only_there() -> None:
    shape = filled(RED, PAPER, fill_opacity=0.25, stroke=Stroke(opacity=0.5))
    group = Clipped(items=(shape, blocks(Affine(9, 0, 0, 9, 0, 0), opacity=0.75)), opacity=0.125)
    root = svg_root(svg.render(square(group, filled(RED, stroke=Stroke()), blocks(Affine(9, 0, 0, 9, 0, 0)))))
    found = [(e.tag, n, v) for e in root.iter() for n, v in e.attrib.items() if n.endswith("opacity")]
    assert found == [
        (f"{SVG}g", "opacity", "0.125"),
        (f"{SVG}path", "fill-opacity", "0.25"),
        (f"{SVG}path", "stroke-opacity", "0.5"),
        (f"{SVG}use", "opacity", "0.75"),
    ]


def test_a_clip_says_its_rule_and_is_defined_once_for_each() -> None:
    rings = circle(25 + 25j, 20) + circle(25 + 25j, 10)
    groups = [Clipped(items=(filled(RED),), clip=rings, even_odd=rule) for rule in (True, False, True)]
    root = svg_root(svg.render(square(*groups, Clipped(items=(filled(RED),)))))
    assert [clip[0].get("clip-rule") for clip in root.iter(f"{SVG}clipPath")] == ["evenodd", None]
    used = [group.get("clip-path") for group in root.find(f"{SVG}g[@id='print']").iter(f"{SVG}g")]
    assert used == [None, "url(#clip-1)", "url(#clip-2)", "url(#clip-1)", None]


def test_a_picture_is_a_png_of_its_pixels_and_a_jpeg_is_passed_on_untouched() -> None:
    picture = blocks(Affine(9, 0, 0, 9, 1, 2), name="corners")
    root = svg_root(svg.render(square(picture, photograph(Affine(30, 0, 0, 20, 5, 15)))))
    first, second = root.iter(f"{SVG}image")
    kind, data = first.get(HREF).split(",")
    image = Image.open(io.BytesIO(b64decode(data)))
    assert kind == "data:image/png;base64" and image.convert("RGBA").tobytes() == picture.pixels
    assert second.get(HREF).split(",")[0] == "data:image/jpeg;base64"
    assert b64decode(second.get(HREF).split(",")[1]) == jpeg()
    assert [(e.get("width"), e.get("height")) for e in (first, second)] == [("160", "160"), ("48", "32")]
    assert {e.get("preserveAspectRatio") for e in (first, second)} == {"none"}
    assert [use.findtext(f"{SVG}title") for use in root.iter(f"{SVG}use")] == ["corners", None]


def test_what_occurs_often_is_defined_once() -> None:
    drawing = artwork().pages[0].drawing
    page = Page(width=SIDE, height=SIDE, drawing=drawing + drawing + drawing)
    once, thrice = (svg_root(svg.render(document)) for document in (artwork(), Document(title="", pages=(page,))))
    assert len(once.find(f"{SVG}defs")) == len(thrice.find(f"{SVG}defs"))
    assert len(list(thrice.iter(f"{SVG}use"))) == 3 * len(list(once.iter(f"{SVG}use"))) == 15
    repeated = Drawing(tuple(blocks(Affine(9, 0, 0, 9, 0, 0)).transformed(Affine.move(complex(x))) for x in range(40)))
    file = svg.render(square(*repeated.items))
    assert len(list(svg_root(file).iter(f"{SVG}image"))) == 1


@pytest.mark.skipif(shutil.which("rsvg-convert") is None, reason="rsvg-convert is not installed")
def test_librsvg_draws_artwork_as_resvg_does_and_says_nothing() -> None:
    command = ["rsvg-convert", f"--dpi-x={DPI}", f"--dpi-y={DPI}"]
    document = square(*artwork().pages[0].drawing.only(["print", "white", "guide"]).items)  # letters may differ
    done = subprocess.run(command, input=svg.render(document), capture_output=True, check=True)
    theirs, ours = image_pixels(done.stdout).astype(int), dict(pictures(document))["svg"].astype(int)
    spans = [np.roll(ours, (down, right), axis=(0, 1)) for down in (-1, 0, 1) for right in (-1, 0, 1)]
    off = (theirs < np.min(spans, axis=0) - 32) | (theirs > np.max(spans, axis=0) + 32)
    assert done.stderr == b"" and off.any(axis=2).mean() < 0.002
