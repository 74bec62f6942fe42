"""`cupgeom decal`, and decals on `cupgeom template`: what is written, what is said, what is refused."""

from __future__ import annotations

import io
import json
import math
import shutil
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from PIL import Image

from tests.command_line import ask
from tests.readback import svg_paths, svg_root
from tests.sample_font import packaged

ROOT = Path(__file__).parents[1]
FONT = "fonts/GreatVibes-Latin.ttf"
SHOP = """
fonts = "fonts"

[cups.tumbler]
rim = 88
base = 70
height = 170

[cups.shouldered]
rings = [[90, 150], [84, 90], [60, 0]]

[media."clear film"]
process = "laser"
cut_margin = "1.5mm"
least_stroke = 0.1
least_gap = 0.1
spares = 2

[media.transfer]
process = "inkjet"
mirrored = true
white = true
least_stroke = 0
least_gap = 0
"""
STARS = """<svg xmlns="http://www.w3.org/2000/svg" width="80mm" height="40mm" viewBox="0 0 80 40">
<rect width="80" height="40" fill="#1b2a5b"/><circle cx="40" cy="20" r="8" fill="#f4d35e"/></svg>"""


@pytest.fixture(autouse=True)
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder with a shop file, a font and art."""
    monkeypatch.chdir(tmp_path)
    Path("shop.toml").write_text(SHOP)
    Path("stars.svg").write_text(STARS)
    shutil.copytree(ROOT / "templates-demo" / "fonts", "fonts")


def widest_on_sheet() -> float:
    """Of art 70 by 35 mm at drop 60 on the tumbler: the chord of its top edge, an arc about the cone's point."""
    slant = math.hypot(9, 170)
    radius = 44 - 9 * 60 / slant
    return 2 * (radius * slant / 9 + 17.5) * math.sin(35 / radius * 9 / slant)


def test_numbers_are_printed_without_a_file() -> None:
    answer = ask("decal stars.svg --cup tumbler --width 70mm --drop 60mm --medium 'clear film'")
    assert (answer.code, answer.err) == (0, "")
    assert answer.out.startswith("decal ")
    assert "70 mm wide, 35 mm high" in answer.out
    known = json.loads(ask("decal stars.svg --cup tumbler --width 70mm --drop 60mm --medium 'clear film' --json").out)
    assert known["arcs"]["middle"]["length_mm"] == pytest.approx(70, abs=1e-9)
    assert known["arcs"]["middle"]["drop_mm"] == 60


def test_an_svg_holds_print_and_cut_at_true_scale() -> None:
    assert ask("decal stars.svg --cup tumbler --width 70mm --drop 60mm --medium 'clear film' -o out.svg").code == 0
    data = Path("out.svg").read_bytes()
    assert b"<script" not in data
    assert svg_root(data).get("width", "").endswith("mm")
    (block, _), (cut,) = (svg_paths(data, role) for role in ("print", "cut"))
    left, right, top, bottom = block.bbox()
    assert right - left == pytest.approx(widest_on_sheet(), abs=0.01)
    cut_left, cut_right, _, _ = cut.bbox()
    assert (left - cut_left, cut_right - right) == pytest.approx((1.5, 1.5), abs=0.02)
    assert bottom - top > 35


def test_a_pdf_shows_the_decal_at_true_size() -> None:
    assert ask("decal stars.svg --cup tumbler --width 70mm --drop 60mm --medium 'clear film' -o out.pdf").code == 0
    document = pypdfium2.PdfDocument(Path("out.pdf").read_bytes())
    picture = document[0].render(scale=300 / 72).to_numpy()
    blue = (picture[..., 0].astype(int) > 60) & (picture[..., 2] < 60)  # BGR
    columns = np.flatnonzero(blue.any(axis=0))
    assert (columns[-1] - columns[0] + 1) * 25.4 / 300 == pytest.approx(widest_on_sheet(), abs=0.2)
    text = document[0].get_textpage().get_text_range()
    assert "clear film" in text
    assert "make 3, 2 of them spare" in text


def test_a_png_holds_the_print_alone_with_its_resolution() -> None:
    line = "decal stars.svg --cup tumbler --width 70mm --drop 60mm --medium 'clear film' --dpi 150 -o out.png"
    assert ask(line).code == 0
    picture = Image.open(io.BytesIO(Path("out.png").read_bytes()))
    assert picture.info["dpi"] == pytest.approx((150, 150), abs=0.02)  # PNG holds whole pixels a metre
    alpha = np.asarray(picture)[..., 3]
    assert alpha[0, 0] == 0  # the corner beside the arc is clear
    assert alpha[alpha.shape[0] // 2, alpha.shape[1] // 2] == 255
    assert picture.width * 25.4 / 150 == pytest.approx(widest_on_sheet(), abs=0.2)


def test_lettering_is_set_in_a_font_of_the_shop_s_folder() -> None:
    for font in (FONT, "GreatVibes-Latin"):
        answer = ask(f"decal --text 'Clear skies' --font {font} --cup tumbler --cap-height 12mm --json")
        assert answer.code == 0
        known = json.loads(answer.out)
        assert known["name"] == "Clear skies"
        assert known["letters_mm"] < 12
    two = json.loads(ask(f"decal --text 'Clear\\nskies' --font {FONT} --cup tumbler --cap-height 12 --json").out)
    assert two["height_mm"] > 1.5 * known["height_mm"]
    up = json.loads(ask(f"decal --text 'Clear skies' --font {FONT} --cup tumbler --width 60 --run up --json").out)
    assert up["to_mm"] - up["from_mm"] == pytest.approx(60, abs=1e-6)


def test_a_width_may_be_all_that_is_seen_or_all_round() -> None:
    seen = json.loads(ask(f"decal --text Sky --font {FONT} --cup tumbler --width sight --json").out)
    assert seen["seen_at_once"] == pytest.approx(1)
    assert seen["width_mm"] == pytest.approx(seen["widest_in_sight_mm"], rel=1e-9)
    Path("band.svg").write_text(STARS.replace('height="40"', 'height="4"').replace("0 0 80 40", "0 0 80 4"))
    round_ = json.loads(ask("decal band.svg --cup tumbler --width round --drop middle --json").out)
    assert round_["arcs"]["middle"]["span_deg"] == pytest.approx(360, abs=1e-9)


def test_places_by_edge_side_and_between() -> None:
    top = json.loads(ask("decal stars.svg --cup tumbler --width 40 --drop top --json").out)
    assert top["from_mm"] == pytest.approx(20, abs=1e-9)
    foot = json.loads(ask("decal stars.svg --cup tumbler --width 40 --drop foot --json").out)
    assert foot["to_mm"] == pytest.approx(math.hypot(9, 170) - 3, abs=1e-9)
    up = json.loads(ask("decal stars.svg --cup tumbler --width 40 --drop '50mm up' --json").out)
    assert (up["from_mm"] + up["to_mm"]) / 2 == pytest.approx(math.hypot(9, 170) - 50, abs=1e-9)
    between = json.loads(ask("decal stars.svg --cup tumbler --width 40 --between left,front --json").out)
    assert between["turn_deg"] == -45


def test_turned_lettering_keeps_to_the_edges_of_the_free_wall_as_it_lies() -> None:
    up = json.loads(ask(f"decal --text Hi --font {FONT} --cup tumbler --width 40 --run up --drop top --json").out)
    assert (up["from_mm"], up["to_mm"]) == pytest.approx((20, 60), abs=1e-6)
    turned = json.loads(ask("decal stars.svg --cup tumbler --width 40 --rotate 90 --drop foot --json").out)
    assert turned["to_mm"] == pytest.approx(math.hypot(9, 170) - 3, abs=1e-6)


def test_what_fit_wrap_says_makes_a_wrap() -> None:
    said = ask("decal --cup tumbler --fit wrap").out
    assert "247.97" not in said
    width, height = 2 * math.pi * (44 - 9 / 2), math.hypot(9, 170) + 6
    assert f"{width:.2f} mm wide, {height:.2f} mm high with bleed" in said
    box = f'width="{width}" height="{height}"'
    Path("sky.svg").write_text(f'<svg xmlns="http://www.w3.org/2000/svg" {box}><rect {box}/></svg>')
    assert ask('template --cup tumbler --as film --decal "sky.svg --width round" -o a.svg').code == 0
    answer = ask(f'template --cup tumbler --as film --decal "sky.svg --width {width:.2f}mm --drop 85.12" -o b.svg')
    assert answer.code == 0, answer.err


def test_a_decal_across_a_ring_becomes_a_page_a_piece() -> None:
    answer = ask("decal stars.svg --cup shouldered --width 60 --drop 60 -o piece.svg")
    assert answer.code == 0
    assert sorted(path.name for path in Path().glob("piece*")) == ["piece-1.svg", "piece-2.svg"]
    assert answer.out.endswith("wrote piece-1.svg\nwrote piece-2.svg\n")


def test_how_large_it_can_be_is_answered_without_a_file() -> None:
    answer = ask("decal --cup tumbler --fit front --drop 60")
    assert answer.code == 0
    radius = 44 - 9 * 60 / math.hypot(9, 170)
    assert f"{2 * math.acos(radius / 500) * radius:.2f} mm along the wall" in answer.out
    assert "up to 80 mm wide, 40 mm high" not in answer.out
    with_art = ask("decal stars.svg --cup tumbler --fit front --drop 40")
    assert "this art           up to 80 mm wide, 40 mm high" in with_art.out
    size = ask("decal --cup tumbler --fit 50x40mm")
    assert "may lie flat anywhere there" in size.out


def test_only_cut_lines_when_asked() -> None:
    assert ask("decal stars.svg --cup tumbler --width 50 --cut-only -o cut.svg").code == 0
    data = Path("cut.svg").read_bytes()
    assert svg_paths(data, "cut")
    assert b'id="print"' not in data
    assert b"<text" not in data


def test_a_wrap_bears_decals_and_a_sleeve_shows_where_they_go() -> None:
    words = '--decal "stars.svg --width 70mm --drop 60mm" --decal "stars.svg --width 20 --turn right --drop 120"'
    assert ask(f"template --cup tumbler --as film --paper fit -o wrap.svg {words}").code == 0
    data = Path("wrap.svg").read_bytes()
    assert len(svg_paths(data, "print")) == 4
    assert ask(f"template --cup tumbler --sleeve --paper fit -o sleeve.svg {words}").code == 0
    cuts = svg_paths(Path("sleeve.svg").read_bytes(), "cut")
    assert len(cuts) == 2  # the trim, and the openings as one
    assert len(cuts[1].continuous_subpaths()) == 2


def test_the_medium_of_a_wrap_decides_mirror_and_white() -> None:
    words = '--decal "stars.svg --width 70mm --drop 60mm" --medium transfer'
    assert ask(f"template --cup tumbler --as film --paper fit -o wrap.svg {words}").code == 0
    data = Path("wrap.svg").read_text()
    assert 'id="white"' in data
    assert "MIRRORED" in data


def test_a_decal_is_made_for_the_cup_under_its_coats() -> None:
    """Films of 0.5 and 0.3 mm: each wall moves out by 0.8 mm, so that the same width spans less of the way round."""
    plain, coated = (
        json.loads(ask(f"decal stars.svg --cup tumbler --width 50 --drop 80 --json {more}").out)["arcs"]["middle"]
        for more in ("", "--coats flood=0.5mm,clear=0.3mm,clear=0.3mm --after-coat 2")
    )
    alpha = math.atan2(9, 170)
    shift = 0.8 * math.cos(alpha)
    radius = 44 - 80 * math.sin(alpha)
    # the top edge rises by 0.8 sin α, and the drop counts from there
    assert plain["span_deg"] == pytest.approx(math.degrees(50 / radius), rel=1e-9)
    assert coated["span_deg"] == pytest.approx(math.degrees(50 / (radius + shift)), rel=1e-4)
    assert ask("decal stars.svg --cup tumbler --width 50 --after-coat 1").err == (
        "cupgeom: --after-coat: needs the coats; give them with --coats, such as tack,flood,flood\n"
    )
    assert ask("decal stars.svg --cup tumbler --width 50 --film 1 --coats flood --after-coat 1").err == (
        "cupgeom: --after-coat: cannot stand beside --film; leave one of the two out\n"
    )
    assert ask("template --cup tumbler --coats flood --after-coat 2 -o w.svg").err == (
        "cupgeom: --after-coat: must be a whole number from 0 to 1, the coats there are, got 2\n"
    )


def test_what_is_too_fine_for_the_blade_is_ringed() -> None:
    Path("hair.svg").write_text('<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 40 20">'
                                '<path d="M0 0H40V8H0zM0 12H40V12.3H0z"/></svg>')  # fmt: skip
    answer = ask("decal hair.svg --cup tumbler --width 40 --medium 'cut vinyl' -o cut.svg")
    assert "a stroke is finer than the 1 mm that cut vinyl bears; print it, don't cut it" in answer.err
    assert Path("cut.svg").read_text().count("<title>too fine</title>") == 1


def test_a_variable_font_is_set_along_its_axes() -> None:
    font = packaged("fontpkg_dancing_script", "DancingScript[wght].ttf")
    sizes = [
        json.loads(ask(f"decal --text Sky --font '{font}' --cup tumbler --cap-height 9 {axis} --json").out)["width_mm"]
        for axis in ("--axis wght=400", "--axis wght=700")
    ]
    assert sizes[0] < sizes[1]


REFUSED = {
    "": "ART: give a file of art or a text, one of the two",
    "stars.svg --text x --width 9": "ART: give a file of art or a text, one of the two",
    "nothing.svg --width 9": "nothing.svg: does not exist; check its name and folder",
    "fonts --width 9": "fonts: is a folder; give a file in it",
    "shop.toml --width 9": "shop.toml: is neither SVG nor a picture in PNG, JPEG, GIF, WEBP, TIFF or BMP",
    f"{FONT} --width 9": "GreatVibes-Latin.ttf: is a font; it belongs to lettering",
    "--text x": "--width: give one of a width, a height of capitals and a height of small letters",
    "--text x --width 9": "--font: is missing; give a font file, such as fonts/script.ttf",
    "--text x --width 9 --font no.ttf": "--font: 'no.ttf' is no file and no font in fonts; use GreatVibes-Latin",
    "--text x --width 9 --font GreatVibes-Latn": "--font: 'GreatVibes-Latn' is no file and no font in fonts;"
    " did you mean GreatVibes-Latin?",
    "--text x --width 9 --font stars.svg": "stars.svg: is not a TrueType or OpenType font",
    f"--text '' --width 9 --font {FONT}": "--text: holds nothing to draw",
    "--text x --width 9 --cap-height 3": "--width: give one of a width, a height of capitals and",
    f"--text x --art-height 9 --font {FONT}": "--art-height: is for art; give lettering a width, or a",
    f"--text x --width 9 --colour red --font {FONT}": "--colour: cannot read 'red';"
    " give six hexadecimal digits such as #1a2b5c",
    f"--text x --width 9 --axis bold --font {FONT}": "--axis: cannot read 'bold'; give a name"
    " and a number such as wght=700",
    "stars.svg --cap-height 9": "--cap-height: is for lettering; give a width or a height of art",
    "stars.svg --run up --width 9": "--run: is for lettering; turn art by rotating it",
    "stars.svg --width 9 --art-height 9": "--art-height: cannot stand beside a width, since art keeps its proportions",
    "stars.svg --width 0": "--width: must be greater than 0 mm, got 0 mm",
    "stars.svg --width 300": "--width: 300 mm is more than the way round (245.36 mm); make it narrower",
    "stars.svg --width 90 --drop 10": "--drop: 10 mm puts stars.svg above the top edge (it reaches from drop -12.5",
    "stars.svg --width 9 --drop 500": "--drop: must be on the wall (drop 0 to 170.24 mm), got 500 mm",
    "stars.svg --width 9 --turn 200": "--turn: must be from -180° to 180°, got 200°",
    "stars.svg --width 9 --between left": "--between: cannot read 'left'; give two turns such as -60,30",
    "stars.svg --width 9 --repeat 0": "--repeat: must be a whole number from 1, got 0",
    "stars.svg --width 9 --medium 'clear flim'": "--medium: shop.toml has no medium 'clear flim';"
    ' did you mean "clear film"?',
    "stars.svg --width 9 --drop-white": "stars.svg: is not a picture of pixels; --drop-white is for those",
    "stars.svg --width 9 --dpi 0": "--dpi: must be greater than 0 dpi, got 0 dpi",
    "--fit big": "--fit: cannot read 'big'; give front, wrap or a size such as 60x40mm",
    "--fit front -o out.svg": "-o: is not for --fit, which answers in words; leave one of the two out",
    "stars.svg --width 9 --turn 3 --between left,front": "--between: cannot stand beside --turn;",
    "stars.svg --width 9 --tile --repeat 3": "--repeat: cannot stand beside a tiled pattern",
    "stars.svg --width 60 --medium 'ready-made transfer' -o out.pdf": "--medium: ready-made transfer comes ready-made;",
    "stars.svg --width 60 -o stars.svg --force": "-o: stars.svg has been read for this; give another name",
    "stars.svg --width 60 --cut-only -o out.png": "--cut-only: is not for .png, which holds the print alone",
    "--fit front --drop 5": "--drop: must be on the free wall (drop 20 to 167.24 mm), got 5 mm",
    "stars.svg --width 9 -o out.gif": "-o: unknown ending of 'out.gif'; give a name that ends in .svg or .pdf or .png",
    "stars.svg --width 90 --paper a5 --margin 40 -o out.pdf": "--paper: a5 cannot hold the decal, about",
    "stars.svg --width 60 --medium 'ready-made transfer' --cut-only -o out.svg": "--medium: ready-made transfer comes",
}  # fmt: skip


@pytest.mark.parametrize("line", REFUSED)
def test_what_is_wrong_is_said_in_one_line(line: str) -> None:
    answer = ask(f"decal {line} --cup tumbler")
    assert answer.code == 2
    assert answer.err.startswith(f"cupgeom: {REFUSED[line]}")
    assert answer.err.count("\n") == 1
    assert not list(Path().glob("out*"))


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ("--sleeve", "--sleeve: is for a wrap with decals; give --decal too"),
        ("--medium transfer", "--medium: is for a wrap with decals; give --decal too"),
        ("--decal 'stars.svg --width'", "--decal: cannot read 'stars.svg --width': Option '--width' requires"),
        ("--decal 'stars.svg --wide 3'", "--decal: cannot read 'stars.svg --wide 3': No such option"),
        ("--decal 'stars.svg --width 9 --drop 400'", "--decal --drop: must be on the wall (drop 0 to 170.24 mm)"),
        ('--decal "stars.svg \'a"', "--decal: cannot read \"stars.svg 'a\"; close its quotes"),
    ],
)  # fmt: skip
def test_decals_on_a_wrap_are_refused_in_one_line(words: str, message: str) -> None:
    answer = ask(f"template --cup tumbler -o out.pdf {words}")
    assert answer.code == 2
    assert answer.err.startswith(f"cupgeom: {message}")
    assert answer.err.count("\n") == 1


def test_faults_of_media_in_the_shop_file_are_named_with_their_line() -> None:
    Path("shop.toml").write_text('[media.film]\nprocess = "dye"\nthickness = -1\nspares = "two"\nwidht = 3\n')
    answer = ask("decal stars.svg --rim 88 --base 70 --height 170 --width 9 --medium film")
    assert answer.code == 2
    assert answer.err.splitlines() == [
        "cupgeom: shop.toml:2: media.film.process: must be one of inkjet, laser, cut, ready-made, got 'dye'",
        "cupgeom: shop.toml:4: media.film.spares: must be a whole number, got 'two'",
        "cupgeom: shop.toml:5: media.film.widht: unknown key; did you mean white?",
    ]
