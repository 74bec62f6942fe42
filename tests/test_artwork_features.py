"""Every feature of SVG that we draw, as resvg draws it: our drawing, written back to SVG, against the source."""

from __future__ import annotations

import base64
import io
import tomllib
from pathlib import Path

import pytest
from PIL import Image

from cupgeom.decor.artwork.markers import corners
from cupgeom.decor.artwork.pathdata import parse_path

from .artwork_pictures import LEAST_INK, MOST_OFF, compared, is_alike, likeness, picture


def tiny_png() -> str:
    image = Image.new("RGBA", (2, 2))
    image.putdata([(255, 0, 0, 255), (0, 255, 0, 255), (0, 0, 255, 255), (255, 255, 0, 128)])
    file = io.BytesIO()
    image.resize((8, 6), Image.Resampling.NEAREST).save(file, "PNG")
    return "data:image/png;base64," + base64.b64encode(file.getvalue()).decode()


WORDS = {
    "PNG": tiny_png(),
    "STAR": "M50 5 L79 95 L3 39 H97 L21 95 Z",
    "STOPS": '<stop stop-color="#036"/><stop offset=".5" stop-color="gold"/><stop offset="1" stop-color="red"/>',
}
FEATURES = tomllib.loads((Path(__file__).parent / "artwork_features.toml").read_text("utf-8"))
HEAD = (
    '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" viewBox="0 0 100 100">{}</svg>'
)


@pytest.mark.parametrize("name", FEATURES)
def test_drawn_as_resvg_draws_it(name: str) -> None:
    body = FEATURES[name]
    for word, text in WORDS.items():
        body = body.replace(word, text)
    _, off, ink = compared(HEAD.format(body), 300)
    assert (off < MOST_OFF, ink >= LEAST_INK) == (True, True), (
        f"{off:.4f} of the pixels are off, {ink:.3f} of the ink agrees"
    )


def test_the_comparison_can_fail() -> None:
    source = picture(HEAD.format('<rect x="10" y="10" width="50" height="50"/>'), 3)
    for change in ('x="11" y="10" width="50" height="50"', 'x="10" y="10" width="50" height="50" opacity=".8"'):
        off, _ = likeness(picture(HEAD.format(f"<rect {change}/>"), 3), source)
        assert off > MOST_OFF
    assert likeness(source, source) == (0.0, 1.0)
    text = HEAD.format(
        '<text x="10" y="50" id="t">lost</text><rect width="9" height="9" mask="url(#m)"/><mask id="m"/>'
    )
    assert not is_alike(text)  # resvg hides what the empty mask hides


def test_markers_sit_at_the_ends_of_arcs_and_not_where_we_cut_them() -> None:
    reading = parse_path("M10 50a30 20 0 0 1 60 0v30")
    found = [corner for corner in corners(reading.path) if corner.at not in reading.cuts]
    assert [corner.at for corner in found] == [10 + 50j, 70 + 50j, 70 + 80j]
    assert [corner.angle_deg for corner in found] == pytest.approx([-90, 90, 90])


def test_markers_point_half_way_between_the_lines_they_join() -> None:
    # SVG 1.1, 11.6.2 "orient": the bisector of the two directions; y runs down
    found = list(corners(parse_path("M0 0H10V10Z").path))
    assert [corner.at for corner in found] == [0, 10, 10 + 10j, 0]
    assert [corner.angle_deg for corner in found] == pytest.approx([-67.5, 45, 157.5, -67.5])
