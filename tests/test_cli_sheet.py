"""`cupgeom sheet`: what is packed, what is written, and that printed sheet and cut file match."""

from __future__ import annotations

import io
import json
import shutil
from pathlib import Path

import ezdxf
import ezdxf.recover
import pypdfium2
import pytest
import svgpathtools
from PIL import Image

from tests.command_line import ask
from tests.readback import svg_paths

ROOT = Path(__file__).parents[1]
SHOP = """
fonts = "fonts"

[cups.tumbler]
rim = 88
base = 70
height = 170

[media.film]
process = "laser"
cut_margin = 1
least_stroke = 0
least_gap = 0

[media.vinyl]
process = "cut"
cut_margin = 0
least_stroke = 0
least_gap = 0
"""
STARS = """<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="20mm" viewBox="0 0 40 20">
<rect width="40" height="20" fill="#1b2a5b"/></svg>"""
GUESTS = "name,qty\nAda,1\nGrace,2\nO'Neil,1\n"
NAME = '--decal "--text {name} --font GreatVibes-Latin --cap-height 9mm --medium film"'
STAR = '--decal "stars.svg --width 40mm --medium film"'


def bounding(path: svgpathtools.Path) -> tuple[float, float, float, float]:
    return path.bbox()


@pytest.fixture(autouse=True)
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("shop.toml").write_text(SHOP)
    Path("stars.svg").write_text(STARS)
    Path("guests.csv").write_text(GUESTS)
    shutil.copytree(ROOT / "templates-demo" / "fonts", "fonts")


def numbers(line: str) -> list[dict]:
    answer = ask(f"sheet --cup tumbler --json {line}")
    assert answer.code == 0, answer.err
    return json.loads(answer.out)


def test_every_row_gets_its_name_as_often_as_ordered_and_what_is_alike_is_made_for_all() -> None:
    (film,) = numbers(f"--orders guests.csv {NAME} {STAR}")
    assert (film["medium"], film["pieces"], film["sheets"]) == ("film", 8, 1)
    (twice,) = numbers(f"--orders guests.csv --cups 2 {NAME}")
    assert twice["pieces"] == 8
    (one,) = numbers(f"--orders guests.csv --only Grace {NAME}")
    assert one["pieces"] == 2


def test_each_medium_has_sheets_of_its_own() -> None:
    vinyl = '--decal "stars.svg --width 30mm --medium vinyl"'
    assert [one["medium"] for one in numbers(f"{STAR} {vinyl}")] == ["film", "vinyl"]
    assert ask(f"sheet --cup tumbler {STAR} {vinyl} -o out.svg").code == 0
    assert sorted(path.name for path in Path().glob("out*")) == ["out-film.svg", "out-vinyl.svg"]


def test_the_printed_sheet_and_the_cut_file_share_their_marks() -> None:
    assert ask(f"sheet --cup tumbler --orders guests.csv {NAME} -o out.svg --cut cut.svg").code == 0
    sheet, cut = (Path(name).read_bytes() for name in ("out.svg", "cut.svg"))
    centres = [
        sorted((round((x0 + x1) / 2, 4), round((y0 + y1) / 2, 4)) for x0, x1, y0, y1 in map(bounding, marks))
        for marks in (svg_paths(data, "guide") for data in (sheet, cut))
    ]
    assert len(centres[1]) == 5
    assert set(centres[1]) <= set(centres[0])
    lines = [sorted(round(path.length(error=1e-4), 2) for path in svg_paths(data, "cut")) for data in (sheet, cut)]
    assert lines[0] == lines[1]
    assert b'id="print"' not in cut


def test_a_cut_file_reads_back_in_mm_without_a_fault() -> None:
    assert ask(f"sheet --cup tumbler {STAR} -o out.dxf").code == 0
    document, auditor = ezdxf.recover.read(io.BytesIO(Path("out.dxf").read_bytes()))
    assert not auditor.errors
    xs = [point[0] for line in document.modelspace().query("POLYLINE") for point in line.points()]
    xs += [arc.dxf.center[0] for arc in document.modelspace().query("ARC")]
    assert {entity.dxf.layer for entity in document.modelspace()} == {"cut"}
    assert max(xs) - min(xs) == pytest.approx(42.4, abs=1.5)


def test_a_png_says_its_resolution_and_a_pdf_its_size() -> None:
    assert ask(f"sheet --cup tumbler {STAR} --dpi 100 -o out.png").code == 0
    picture = Image.open(io.BytesIO(Path("out.png").read_bytes()))
    assert picture.info["dpi"] == pytest.approx((100, 100), abs=0.02)
    assert picture.size == (827, 1170)
    assert ask(f"sheet --cup tumbler {STAR} -o out.pdf").code == 0
    assert pypdfium2.PdfDocument(Path("out.pdf").read_bytes())[0].get_size() == pytest.approx(
        (595.276, 841.89), abs=0.01
    )


def test_the_same_order_gives_the_same_bytes() -> None:
    for name in ("one.pdf", "two.pdf"):
        assert ask(f"sheet --cup tumbler --orders guests.csv {NAME} {STAR} -o {name}").code == 0
    assert Path("one.pdf").read_bytes() == Path("two.pdf").read_bytes()


def test_long_names_are_made_smaller_down_to_a_limit_that_names_the_row() -> None:
    long = '--decal "--text {name} --font GreatVibes-Latin --cap-height 9mm --medium film"'
    Path("guests.csv").write_text("name\nAda\nMaximiliana\n")
    assert ask(f"sheet --cup tumbler --orders guests.csv {long} --widest 40mm").code == 0
    answer = ask(f"sheet --cup tumbler --orders guests.csv {long} --widest 20mm")
    assert answer.code == 2
    assert answer.err.startswith("cupgeom: guests.csv, row 3 (Maximiliana): width: 'Maximiliana' is ")
    assert "less than the 70% allowed; shorten it, or allow a smaller share" in answer.err


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ("", "--decal: is missing; see cupgeom sheet --help"),
        (f"{NAME} --orders none.csv", "none.csv: does not exist; check its name and folder"),
        (f"{STAR} --only Ada", "--only: is for an order list; give --orders"),
        (f"{STAR} --column name=Guest", "--column: is for an order list; give --orders"),
        (f"{NAME} --orders guests.csv --column name", "--column: cannot read 'name'; give a name and the file's"),
        (f"{NAME} --orders guests.csv --column name=Gast", "guests.csv: has no column 'Gast' for 'name'; its columns"),
        (f"{NAME} --orders guests.csv --only Zoe", "--only: no row has 'Zoe' in the column 'name'"),
        (NAME, "--decal: {name} stands for a column of an order list; give --orders"),
        (f"{NAME} --orders empty.csv", "empty.csv: holds no orders below its first row"),
        (f"{NAME} --orders two.csv", "two.csv, row 3, qty: must be a whole number from 1 to 100000, got 'zwei'"),
        (f"{NAME} --orders odd.csv", "odd.csv, row 2 (A☃): --text: character 2"),
        (f"{STAR} --shrink 2", "--shrink: must be a share from 0 to 1, got 2"),
        (f"{STAR} --gap -1", "--gap: must be at least 0 mm, got -1 mm"),
        (f"{STAR} -o out.pdf --cut out.pdf", "--cut: names the same file as -o; give another name"),
        (f"{STAR} --cut stars.svg --force", "-o: stars.svg has been read for this; give another name"),
        (f"{STAR} --cups 0", "--cups: must be a whole number from 1, got 0"),
        (f"{STAR} --paper fit", "--paper: must be a sheet or a roll; give one such as a4 or 'roll 300mm'"),
        (f"{STAR} -o out.gif", "-o: unknown ending of 'out.gif'; give a name that ends in .pdf or .svg or .png or"),
        ("--decal \"stars.svg --width 9 --medium 'ready-made transfer'\"", "--medium: ready-made transfer comes"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_said_in_one_line(line: str, message: str) -> None:
    Path("empty.csv").write_text("name,qty\n")
    Path("two.csv").write_text("name,qty\nAda,1\nIda,zwei\n")
    Path("odd.csv").write_text("name\nA\u2603\n")
    answer = ask(f"sheet --cup tumbler {line}")
    assert answer.code == 2
    assert answer.err.splitlines()[-1].startswith(f"cupgeom: {message}")
    assert not list(Path().glob("out*"))


def test_a_piece_larger_than_the_paper_is_named_with_its_size() -> None:
    answer = ask('sheet --cup tumbler --decal "stars.svg --width 200mm --medium film" --paper a5')
    assert answer.code == 2
    assert "stars.svg" in answer.err


def test_text_like_a_formula_or_with_quotes_is_printed_as_it_stands() -> None:
    Path("guests.csv").write_text('name,qty\n"=1+1",1\n"Say ""hi""",1\nO\'Neil,1\n')
    answer = ask(f"sheet --cup tumbler --orders guests.csv {NAME.replace('{name}', '{name}')} -o out.svg")
    assert answer.code == 0, answer.err
    written = Path("out.svg").read_text()
    assert "=1+1" in written
    assert "O&#x27;Neil" in written or "O'Neil" in written or "O&apos;Neil" in written
