"""Paint in PDF files, read back with pikepdf: shadings by the rules of ISO 32000-1, images, groups, states."""

from __future__ import annotations

import io
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pikepdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from cupgeom.drawing import Affine, Box, Clipped, Drawing, Gradient, Pen, Shape, Stop, Stroke, Text, circle
from cupgeom.pages import Document, Page
from cupgeom.writers import pdf, png, svg

from .readback import dark, image_pixels
from .sample_artwork import (
    BLUE,
    DPI,
    GREEN,
    RED,
    SIDE,
    YELLOW,
    artwork,
    blocks,
    colours,
    filled,
    jpeg,
    photograph,
    pictures,
    square,
    stops,
)

SHARES = st.floats(min_value=0, max_value=1)


def opened(document: Document) -> pikepdf.Pdf:
    return pikepdf.open(io.BytesIO(pdf.render(document)))


def value(function: Any, x: float) -> np.ndarray:
    """A function of type 2 or 3 at x (ISO 32000-1, 7.10.3 and 7.10.4)."""
    x = min(max(x, float(function.Domain[0])), float(function.Domain[1]))
    if function.FunctionType == 2:
        low, high = (np.array([float(part) for part in end]) for end in (function.C0, function.C1))
        return low + x ** float(function.N) * (high - low)
    bounds = [float(bound) for bound in function.Bounds]
    edges = [float(function.Domain[0]), *bounds, float(function.Domain[1])]
    assert edges == sorted(edges)
    index = int(sum(x >= bound for bound in bounds))
    first, last = (float(end) for end in function.Encode[2 * index : 2 * index + 2])
    return value(
        function.Functions[index], first + (x - edges[index]) / (edges[index + 1] - edges[index]) * (last - first)
    )


def place_along(shading: Any, x: float, y: float) -> float | None:
    """The parameter that colours a point, 0 to 1 between the ends; None where nothing is painted (8.7.4.5.3, .4)."""
    numbers = [float(number) for number in shading.Coords]
    before, after = (bool(end) for end in shading.Extend)
    if shading.ShadingType == 2:
        x0, y0, x1, y1 = numbers
        candidates = [((x1 - x0) * (x - x0) + (y1 - y0) * (y - y0)) / ((x1 - x0) ** 2 + (y1 - y0) ** 2)]
    else:
        x0, y0, r0, x1, y1, r1 = numbers  # |p - c(s)| = r(s), the circle painted last of those through the point
        dx, dy, dr = x1 - x0, y1 - y0, r1 - r0
        a, b = dx * dx + dy * dy - dr * dr, (x - x0) * dx + (y - y0) * dy + r0 * dr
        roots = np.roots([a, -2 * b, (x - x0) ** 2 + (y - y0) ** 2 - r0 * r0])
        candidates = sorted((root.real for root in roots if r0 + root.real * dr >= 0), reverse=True)
    for s in candidates:
        if (s >= 0 or before) and (s <= 1 or after):
            return s
    return None


def shown(resources: Any, instructions: Any, point: complex) -> np.ndarray:
    """What the `sh` operators of a stream leave at a point of its space; later ones hide earlier ones."""
    matrix, stack, colour = Affine(), [], None
    for operands, operator in instructions:
        name = str(operator)
        if name == "cm" and not abs(float(operands[0]) - 72 / 25.4) < 1e-9:  # mm, not points
            matrix = matrix @ Affine(*map(float, operands))
        elif name == "q":
            stack.append(matrix)
        elif name == "Q":
            matrix = stack.pop()
        elif name == "sh":
            shading = resources.Shading[str(operands[0])]
            a, b, c, d, e, f = matrix
            x, y = np.linalg.solve([[a, c], [b, d]], [point.real - e, point.imag - f])
            s = place_along(shading, x, y)
            if s is not None:
                colour = value(shading.Function, s)
    assert colour is not None
    return colour


@st.composite
def gradients(draw: st.DrawFn) -> Gradient:
    offsets = sorted(draw(st.lists(st.sampled_from([0.0, 0.1, 0.25, 0.5, 0.8, 1.0]), min_size=1, max_size=5)))
    turn, size = draw(st.floats(min_value=-180, max_value=180)), draw(st.floats(min_value=2, max_value=60))
    place = Affine.rotation(turn) @ Affine(size, 0.0, draw(st.floats(min_value=-9, max_value=9)), -size / 2, 0.0, 0.0)
    angle = draw(st.floats(min_value=0, max_value=6))
    return Gradient(
        kind=draw(st.sampled_from(["linear", "radial"])),
        stops=tuple(
            Stop(offset=o, colour=(draw(SHARES), draw(SHARES), draw(SHARES)), opacity=draw(SHARES)) for o in offsets
        ),
        place=Affine.move(complex(draw(st.floats(0, SIDE)), draw(st.floats(0, SIDE)))) @ place,
        focus=draw(st.floats(min_value=0, max_value=0.9)) * np.exp(1j * angle),
        spread=draw(st.sampled_from(["pad", "reflect", "repeat"])),
    )


@given(gradients(), st.lists(st.builds(complex, st.floats(0, SIDE), st.floats(0, SIDE)), min_size=4, max_size=4))
@settings(max_examples=60)
def test_shadings_have_the_colours_and_opacities_of_the_gradient(gradient: Gradient, points: list[complex]) -> None:
    with opened(square(filled(gradient))) as file:
        page = file.pages[0]
        form = next(iter(page.Resources.XObject.values())) if "/XObject" in page.Resources else page
        mask = None if gradient.is_opaque else next(iter(page.Resources.ExtGState.values())).SMask.G
        for point in points:
            near = colours(gradient, point + np.array([0, 1e-4, -1e-4, 1e-4j, -1e-4j]))
            if np.ptp(near, axis=0).max() > 0.02:
                continue  # on a hard edge either side is right
            exact = near[0]
            assert shown(form.Resources, pikepdf.parse_content_stream(form), point) == pytest.approx(
                exact[:3], abs=1e-4
            )
            if mask is not None:
                grey = shown(mask.Resources, pikepdf.parse_content_stream(mask), point)
                assert grey == pytest.approx(exact[3:], abs=1e-4)


@pytest.mark.parametrize("kind", ["linear", "radial"])
def test_beyond_a_hard_edge_at_an_end_the_outer_stop_rules(kind) -> None:
    ramp = stops((0, YELLOW), (0, RED), (1, BLUE), (1, GREEN))  # SVG 1.1, 13.2.4: the first and last stop pad
    gradient = Gradient(kind=kind, stops=ramp, place=Affine(10, 0, 0, 10, 20, 20))
    expected = {20.001 + 20j: RED, 29.999 + 20j: BLUE, 30.001 + 20j: GREEN, 50 + 20j: GREEN}
    before = YELLOW if kind == "linear" else BLUE
    with opened(square(filled(gradient))) as file:
        page = file.pages[0]
        for point, colour in (expected | {10.001 + 20j: before}).items():
            found = shown(page.Resources, pikepdf.parse_content_stream(page), point)
            assert found == pytest.approx(colour, abs=1e-3), point


@pytest.mark.parametrize("kind", ["linear", "radial"])
@pytest.mark.parametrize("spread", ["repeat", "reflect"])
def test_hundreds_of_cycles_are_all_there_in_few_shadings(kind, spread) -> None:
    gradient = Gradient(
        kind=kind, stops=stops((0, RED), (0.3, BLUE), (1, YELLOW)), place=Affine(0.2, 0, 0, 0.2, 9, 9), spread=spread
    )
    with opened(square(filled(gradient))) as file:
        page = file.pages[0]
        instructions = pikepdf.parse_content_stream(page)
        assert sum(str(operator) == "sh" for _, operator in instructions) <= 64
        for point in (1.03 + 2j, 9.05 + 9.05j, 30.03 + 11j, 50.7 + 50.7j):
            exact = colours(gradient, np.array([point]))[0, :3]
            assert shown(page.Resources, instructions, point) == pytest.approx(exact, abs=2e-3)


def test_cycles_too_fine_to_see_are_their_mean() -> None:
    ramp = stops((0.2, RED), (0.6, BLUE), (0.6, YELLOW), (1, GREEN))
    gradient = Gradient(kind="linear", stops=ramp, place=Affine(0.001, 0, 0, 0.001, 0, 0), spread="reflect")
    t = (np.arange(100_000) + 0.5) / 100_000
    mean = colours(replace(gradient, place=Affine()), t.astype(complex))[:, :3].mean(axis=0)
    with opened(square(filled(gradient))) as file:
        page = file.pages[0]
        assert shown(page.Resources, pikepdf.parse_content_stream(page), 20 + 20j) == pytest.approx(mean, abs=1e-5)


def test_a_picture_is_an_image_with_its_pixels_and_a_mask_of_its_alphas() -> None:
    rng = np.random.default_rng(4)
    for rows, columns, alpha in ((1, 1, True), (300, 7, True), (5, 9, False)):  # 300 rows are packed in two goes
        pixels = rng.integers(0, 256, (rows, columns, 4), np.uint8)
        pixels[:, :, 3] = pixels[:, :, 3] if alpha else 255
        picture = replace(blocks(Affine(9, 0, 0, 9, 0, 0)), pixels=pixels.tobytes(), columns=columns, rows=rows)
        with opened(square(picture)) as file:
            (image,) = file.pages[0].Resources.XObject.values()
            assert (image.Width, image.Height, image.BitsPerComponent) == (columns, rows, 8)
            assert (str(image.ColorSpace), str(image.Filter)) == ("/DeviceRGB", "/FlateDecode")
            assert np.array_equal(
                np.frombuffer(image.read_bytes(), np.uint8).reshape(rows, columns, 3), pixels[:, :, :3]
            )
            assert ("/SMask" in image) is alpha
            if alpha:
                assert str(image.SMask.ColorSpace) == "/DeviceGray"
                assert np.array_equal(np.asarray(pikepdf.PdfImage(image.SMask).as_pil_image()), pixels[:, :, 3])


@pytest.mark.parametrize(("mode", "space"), [("RGB", "/DeviceRGB"), ("L", "/DeviceGray")])
def test_a_jpeg_is_passed_on_untouched(mode: str, space: str) -> None:
    data = jpeg(mode)
    with opened(square(photograph(Affine(30, 0, 0, 20, 5, 5), data))) as file:
        (image,) = file.pages[0].Resources.XObject.values()
        assert image.read_raw_bytes() == data
        assert (str(image.Filter), str(image.ColorSpace), image.Width, image.Height) == ("/DCTDecode", space, 48, 32)
        assert "/SMask" not in image


def keys(found: Any) -> set[str]:
    return set(found.keys()) if isinstance(found, pikepdf.Dictionary) else set()


def objects(file: pikepdf.Pdf, key: str, name: str) -> list[Any]:
    return [o for o in file.objects if isinstance(o, (pikepdf.Dictionary, pikepdf.Stream)) and str(o.get(key)) == name]


def test_what_occurs_often_is_written_once() -> None:
    fading = Gradient(kind="linear", stops=stops((0, RED, 0.5), (1, BLUE)))
    one = (
        blocks(Affine(9, 0, 0, 9, 0, 0), opacity=0.5),
        photograph(Affine(9, 0, 0, 6, 10, 0)),
        filled(fading, Box(0, 0, 1, 1), fill_opacity=0.5),
    )
    many = tuple(item.transformed(Affine.move(shift)) for shift in (0j, 1 + 1j, 2 + 3j) for item in one)
    page = Page(width=SIDE, height=SIDE, drawing=Drawing(many))
    with opened(square(*one)) as first, opened(Document(title="many", pages=(page, page))) as second:
        assert (
            len(objects(first, "/Subtype", "/Image")) == len(objects(second, "/Subtype", "/Image")) == 3
        )  # and a mask
        colour_and_grey = [
            [o.ColorSpace for o in file.objects if "/ShadingType" in keys(o)] for file in (first, second)
        ]
        assert (
            sorted(map(str, colour_and_grey[0]))
            == sorted(map(str, colour_and_grey[1]))
            == ["/DeviceGray", "/DeviceRGB"]
        )
        for file, count in ((first, 1), (second, 3)):  # a mask lies where its shape lies
            states = objects(file, "/Type", "/ExtGState")
            assert len([state for state in states if "/SMask" in state]) == count
            assert len([state for state in states if "/SMask" not in state]) == 1


def test_groups_have_resources_of_their_own_and_states_their_opacities() -> None:
    group = Clipped(
        opacity=0.4,
        items=(blocks(Affine(9, 0, 0, 9, 0, 0)), Text(text="comet", at=9j), filled(RED, fill_opacity=0.25)),
    )
    with opened(square(Clipped(items=(group,), opacity=0.5))) as file:
        outer_states, outer = resources_in_order(file.pages[0])
        assert outer_states == [0.5, 0.5]  # once for print, once for the note
        for form in outer:
            assert (str(form.Group.S), form.Group.I) == ("/Transparency", True)
            assert resources_in_order(form)[0] == [0.4]
        kinds = sorted(kind for form in outer for inner in resources_in_order(form)[1] for kind in used(inner))
        assert kinds == ["ExtGState", "Font", "XObject"]
        assert str(file.pages[0].Group.CS) == "/DeviceRGB"


def resources_in_order(stream: Any) -> tuple[list[float], list[Any]]:
    """Opacities set and forms painted by a stream, as its own resources name them."""
    states, forms = [], []
    for operands, operator in pikepdf.parse_content_stream(stream):
        if str(operator) == "gs":
            states.append(float(stream.Resources.ExtGState[str(operands[0])].ca))
        if str(operator) == "Do":
            forms.append(stream.Resources.XObject[str(operands[0])])
    return states, forms


def used(stream: Any) -> Iterator[str]:
    """Kinds of resources that a stream uses; each name must be in its own dictionary."""
    kinds = {"gs": "ExtGState", "Do": "XObject", "sh": "Shading", "Tf": "Font"}
    for operands, operator in pikepdf.parse_content_stream(stream):
        if str(operator) in kinds:
            assert str(operands[0]) in stream.Resources[f"/{kinds[str(operator)]}"]
            yield kinds[str(operator)]


def test_every_stream_finds_what_it_uses_in_its_own_resources() -> None:
    with opened(artwork()) as file:
        streams = [file.pages[0], *objects(file, "/Subtype", "/Form")]
        assert len(streams) > 5
        assert {kind for stream in streams for kind in used(stream)} == {"ExtGState", "XObject", "Shading", "Font"}


def test_plain_pages_carry_nothing_that_only_paint_needs() -> None:
    with opened(square(filled(RED, stroke=Stroke()), Text(text="a", at=1j))) as file:
        assert "/Group" not in file.pages[0]
        assert set(file.pages[0].Resources.keys()) == {"/Font", "/ProcSet", "/Properties"}


def test_a_shape_or_group_without_outlines_paints_nothing() -> None:
    nothing = Shape(path=circle(9 + 9j, 2), role="print")
    empty = Shape(path=Pen(1 + 1j).path(), role="print", fill=RED)
    faded = replace(empty, fill=Gradient(kind="linear", stops=stops((0, RED, 0.5))))
    with opened(square(nothing, Clipped(items=(empty, faded), opacity=0.5), faded)) as file:
        assert not objects(file, "/Subtype", "/Form")


@pytest.mark.skipif(shutil.which("qpdf") is None, reason="qpdf is not installed")
def test_qpdf_finds_no_fault(tmp_path: Path) -> None:
    file = tmp_path / "artwork.pdf"
    file.write_bytes(pdf.render(artwork()))
    done = subprocess.run(["qpdf", "--check", file], capture_output=True, text=True, check=True)
    assert "No syntax or stream encoding errors found" in done.stdout and done.stderr == ""


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="pdftoppm is not installed")
def test_poppler_draws_artwork_as_pdfium_does_and_says_nothing() -> None:
    command = ["pdftoppm", "-r", str(DPI), "-png", "-"]
    done = subprocess.run(command, input=pdf.render(artwork()), capture_output=True, check=True)
    theirs, ours = image_pixels(done.stdout).astype(int), dict(pictures(artwork()))["pdf"].astype(int)
    spans = [np.roll(ours, (down, right), axis=(0, 1)) for down in (-1, 0, 1) for right in (-1, 0, 1)]
    off = (theirs < np.min(spans, axis=0) - 32) | (theirs > np.max(spans, axis=0) + 32)
    assert done.stderr == b"" and off.any(axis=2).mean() < 0.002
    assert dark(theirs).mean() > 0.1


def test_the_same_bytes_in_another_process_of_all_formats() -> None:
    code = "import sys; from cupgeom.writers import pdf, png, svg; from tests.sample_artwork import artwork;"
    code += "sys.stdout.buffer.write(pdf.render(artwork()) + svg.render(artwork()) + png.render(artwork(), 72))"
    environment = {**os.environ, "PYTHONHASHSEED": "1", "SOURCE_DATE_EPOCH": "1700000000", "TZ": "Asia/Tokyo"}
    root = Path(__file__).parents[1]
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, cwd=root, env=environment)
    assert done.stdout == pdf.render(artwork()) + svg.render(artwork()) + png.render(artwork(), 72)


def test_the_identifier_tells_one_pixel_or_one_stop_from_another() -> None:
    picture = blocks(Affine(9, 0, 0, 9, 0, 0))
    other = replace(picture, pixels=b"\1" + picture.pixels[1:])
    fading = [Gradient(kind="linear", stops=stops((0, RED, 0.5), (1, blue))) for blue in (BLUE, (0.0, 0.0, 0.99))]
    identifiers = set()
    for item in (picture, other, *(Clipped(items=(filled(paint),), opacity=0.5) for paint in fading)):
        with opened(square(item)) as file:
            identifiers.add(bytes(file.trailer.ID[0]))
    assert len(identifiers) == 4


def test_a_plain_template_starts_without_the_pixel_machinery(tmp_path: Path) -> None:
    code = "import sys; from cupgeom_cli.main import run; run(sys.argv[1:]); print(*sys.modules)"
    size = ["--rim", "88mm", "--base", "70mm", "--height", "170mm"]
    command = [sys.executable, "-c", code, "template", *size, "-o", str(tmp_path / "wrap.pdf")]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    modules = set(done.stdout.split("\n")[-2].split())
    assert "cupgeom.writers.pdf_paint" in modules
    assert not modules & {"numpy", "shapely", "svgwrite", "resvg_py", "cupgeom.raster", "cupgeom.markup"}


def test_a_large_photograph_adds_its_own_size_and_little_more() -> None:
    rng = np.random.default_rng(5)
    file = io.BytesIO()
    Image.fromarray(rng.integers(0, 256, (400, 500, 3), np.uint8)).save(file, "JPEG", quality=90)
    image = Image.open(file).convert("RGBA")
    picture = replace(
        blocks(Affine(9, 0, 0, 9, 0, 0)), pixels=image.tobytes(), columns=500, rows=400, jpeg=file.getvalue()
    )
    assert len(pdf.render(square(picture, picture.transformed(Affine.move(9))))) < len(file.getvalue()) + 4000
