"""`cupgeom template`: which files appear, on what paper, and that the options reach the drawing."""

from __future__ import annotations

import math
import re
from pathlib import Path
from xml.etree import ElementTree

import pikepdf
import pytest
import svgpathtools

from .command_line import CUP, SCRIPT, ask, child

SVG = "{http://www.w3.org/2000/svg}"
MM_PER_POINT = 25.4 / 72  # 1 in = 25.4 mm = 72 pt, CSS Values and Units, absolute lengths


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty working folder."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


def made(line: str) -> list[Path]:
    """The files that ``cupgeom template <line>`` says it wrote, which are all that it wrote."""
    before = set(Path.cwd().iterdir())
    answer = ask(f"template {line}")
    assert answer.code == 0, answer.err
    assert all(note.startswith("note: ") for note in answer.err.splitlines())
    files = [Path.cwd() / said.removeprefix("wrote ") for said in answer.out.splitlines()]
    assert set(files) == set(Path.cwd().iterdir()) - before
    return files


def drawn(file: Path) -> ElementTree.Element:
    return ElementTree.parse(file).getroot()


def words(root: ElementTree.Element) -> str:
    return " ".join("".join(text.itertext()) for text in root.iter(f"{SVG}text"))


def media_boxes(file: Path) -> list[tuple[float, float]]:
    """Width and height of every page, in points."""
    with pikepdf.open(file) as pdf:
        boxes = [[float(edge) for edge in page.mediabox] for page in pdf.pages]
    assert all(box[:2] == [0, 0] for box in boxes)
    return [(box[2], box[3]) for box in boxes]


# Files ----------------------------------------------------------------------------------------------------------------


def test_a_pdf_and_an_svg(folder: Path) -> None:
    assert made("CUP -o wrap.pdf") == [folder / "wrap.pdf"]
    assert made("CUP -o wrap.svg") == [folder / "wrap.svg"]
    assert (folder / "wrap.pdf").read_bytes().startswith(b"%PDF-1.")
    assert drawn(folder / "wrap.svg").tag == f"{SVG}svg"


def test_the_ending_may_be_in_capitals(folder: Path) -> None:
    assert made("CUP -o WRAP.PDF") == [folder / "WRAP.PDF"]
    assert (folder / "WRAP.PDF").read_bytes().startswith(b"%PDF-1.")


def test_files_go_to_stdout_and_notes_to_stderr() -> None:
    answer = ask("template CUP -o wrap.pdf")
    assert answer.out == "wrote wrap.pdf\n"
    assert answer.err.startswith("note: rim band: the top 20 mm are where lips touch (a convention after Canada SOR/")
    assert answer.err.count("\n") == 1


def test_a_band_of_its_own_width_or_none() -> None:
    assert ask("template CUP --rim-band 12mm -o narrow.pdf").err.startswith("note: rim band: the top 12 mm ")
    assert ask("template CUP --rim-band 0 -o none.pdf").err == ""


def test_a_letter_that_the_caption_lacks_is_noted() -> None:
    answer = ask("template CUP --rim-band 0 --name 'Komet 彗' -o wrap.pdf")
    assert answer.err == "note: name: the caption's font has no 彗; it prints as ?; the cup keeps its name\n"


def test_several_svg_pages_are_named_after_the_page(folder: Path) -> None:
    files = made("CUP --paper a4 -o wrap.svg")
    assert [file.name for file in files] == ["wrap-A1.svg", "wrap-A2.svg"]
    for order, file in enumerate(files, start=1):
        root = drawn(file)
        assert {root.get("width"), root.get("height")} == {"210mm", "297mm"}  # ISO 216, A4
        assert f"page {order} of 2, tile {file.stem[-2:]}" in words(root)


def test_panels_of_a_film_are_numbered() -> None:
    files = made("CUP --as film --paper a4 -o film.svg")
    assert [file.name for file in files] == ["film-1.svg", "film-2.svg"]
    assert [f"panel {order} of 2" in words(drawn(file)) for order, file in enumerate(files, start=1)] == [True, True]


def test_an_existing_file_is_replaced_only_with_force(folder: Path) -> None:
    made("CUP -o wrap.pdf")
    first = (folder / "wrap.pdf").read_bytes()
    assert ask("template CUP --bleed 5 -o wrap.pdf").code == 2
    assert (folder / "wrap.pdf").read_bytes() == first
    assert ask("template CUP --bleed 5 -o wrap.pdf --force").code == 0
    assert (folder / "wrap.pdf").read_bytes() != first


def test_an_existing_page_is_not_replaced_either(folder: Path) -> None:
    (folder / "wrap-A2.svg").write_text("old")
    answer = ask("template CUP --paper a4 -o wrap.svg")
    assert (answer.code, answer.out) == (2, "")
    assert answer.err == "cupgeom: -o: wrap-A2.svg exists; give --force to replace it, or another name\n"
    assert [file.name for file in folder.iterdir()] == ["wrap-A2.svg"]


def test_the_same_command_gives_the_same_bytes(folder: Path) -> None:
    for ending in ("pdf", "svg"):
        first, second = made(f"CUP --name Comet -o one.{ending}") + made(f"CUP --name Comet -o two.{ending}")
        assert first.read_bytes() == second.read_bytes()


# Paper ----------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("paper", "points"),
    [
        ("a4", (595.27559, 841.88976)),  # ISO 216, 210 × 297 mm, in units of 1/72 in
        ("a3", (841.88976, 1190.55118)),  # ISO 216, 297 × 420 mm
        ("letter", (612, 792)),  # ANSI/ASME Y14.1 A, 8.5 × 11 in
        ("legal", (612, 1008)),  # 8.5 × 14 in (common practice, no source)
        ("tabloid", (792, 1224)),  # ANSI/ASME Y14.1 B, 11 × 17 in
        ("13x19in", (936, 1368)),
        ("'300 x 400'", (300 / MM_PER_POINT, 400 / MM_PER_POINT)),
        ("'30cm x 40cm'", (300 / MM_PER_POINT, 400 / MM_PER_POINT)),
    ],
)
def test_every_page_is_a_sheet_of_the_paper(paper: str, points: tuple[float, float]) -> None:
    (file,) = made(f"CUP --paper {paper} -o wrap.pdf")
    for box in media_boxes(file):
        assert sorted(box) == pytest.approx(sorted(points), abs=0.01)


def test_a_roll_gives_its_width() -> None:
    (file,) = made("CUP --paper 'roll 610mm' -o wrap.pdf")
    ((width, length),) = media_boxes(file)
    assert width == pytest.approx(610 / MM_PER_POINT, abs=0.01)
    assert 170 < length * MM_PER_POINT < 610


@pytest.mark.parametrize(
    ("line", "points"),
    [
        ("CUP", (595.27559, 841.88976)),
        ("CUP --unit in", (612, 792)),
        ("--rim 3.5in --base 70 --height 170", (612, 792)),
        ("--rim 3.5in --base 70 --height 170 --unit mm", (595.27559, 841.88976)),
    ],
)
def test_the_usual_paper_follows_the_unit(line: str, points: tuple[float, float]) -> None:
    (file,) = made(f"{line} -o wrap.pdf")
    for box in media_boxes(file):
        assert sorted(box) == pytest.approx(points, abs=0.01)


# What is drawn --------------------------------------------------------------------------------------------------------


def test_cut_lines_and_nothing_else() -> None:
    # radii 11.39 and 7.12 in: ceemrr.com, Geometry 2, Drawings & Nets 6: diameters 8 and 5 in, height 4 in
    (file,) = made("--rim 8in --base 5in --height 4in --seam butt --as cut -o cut.svg")
    root = drawn(file)
    assert [group.get("id") for group in root.iter(f"{SVG}g")] == ["cut"]
    assert {element.tag.removeprefix(SVG) for element in root.iter()} == {"svg", "title", "defs", "g", "path"}
    (path,) = root.iter(f"{SVG}path")
    steps = svgpathtools.parse_path(path.get("d"))
    arcs = [step for step in steps if isinstance(step, svgpathtools.Arc)]
    assert [type(step).__name__ for step in steps] == ["Arc", "Line", "Arc", "Line"]
    assert [round(arc.radius.real / 25.4, 2) for arc in arcs] == [11.39, 7.12]
    lengths = [arc.length() for arc in arcs]
    assert lengths == pytest.approx([8 * 25.4 * math.pi, 5 * 25.4 * math.pi], rel=1e-9)


def test_every_page_of_a_cut_output_holds_cut_lines_alone() -> None:
    for file in made("CUP --as cut --paper a5 -o cut.svg"):
        roles = {group.get("id") for group in drawn(file).iter(f"{SVG}g")} - {None}
        assert roles == {"cut"}


def test_without_notes_no_word_is_on_the_page() -> None:
    (bare,), (full,) = made("CUP --no-notes -o bare.svg"), made("CUP -o full.svg")
    assert words(drawn(bare)) == ""
    assert "Print at 100 %, do not fit to page" in words(drawn(full))
    assert not [title.text for title in drawn(bare).iter(f"{SVG}title") if "scale bar" in (title.text or "")]


def test_name_sizes_and_settings_stand_in_the_caption() -> None:
    caption = words(drawn(*made("CUP --name 'comet night' --bleed 4 --overlap 6 --seam continued -o wrap.svg")))
    for part in ("comet night", "rim 88 mm", "base 70 mm", "height 170 mm", "bleed 4 mm", "continued tab 6 mm"):
        assert part in caption


def test_inches_stand_in_the_caption() -> None:
    caption = words(drawn(*made("--rim '3 1/2 in' --base 2.75in --height 6.75in -o wrap.svg")))
    for part in ("rim 3.5 in", "base 2.75 in", "height 6.75 in", "4 in along the paper's"):
        assert part in caption
    assert " mm" not in caption


def test_turns_by_name_are_turns_in_degrees() -> None:
    named, typed = (
        made(f"CUP --paper fit {splits} -o {name}.pdf")[0]
        for name, splits in {
            "named": "--split left --split Front --split right --split back",
            "typed": "--split -90 --split 0 --split 90° --split 180",
        }.items()
    )
    assert named.read_bytes() == typed.read_bytes()
    assert len(media_boxes(named)) == 4  # quarters, for the back is a seam in any case


def test_drops_from_the_base_are_drops_from_the_top() -> None:
    slant = math.hypot(170, 9)
    up = made("CUP --from '100mm up' --to '20mm up' -o up.pdf")[0]
    down = made(f"CUP --from {slant - 100!r} --to {slant - 20!r} -o down.pdf")[0]
    assert up.read_bytes() == down.read_bytes()


def test_base_clearance_lifts_the_end_of_the_cut() -> None:
    (lifted,) = made("CUP --base-clearance 12mm --as cut -o lifted.pdf")
    (cut,) = made("CUP --to '12mm up' --as cut -o cut.pdf")
    assert lifted.read_bytes() == cut.read_bytes()
    caption = words(drawn(*made("CUP --base-clearance 12mm -o wrap.svg")))
    assert f"drop 0 mm to {math.hypot(170, 9) - 12:.2f} mm" in caption


def test_a_handle_opens_the_wrap_unless_it_comes_off() -> None:
    mug = "--rim 82 --base 82 --height 95 --foot 14,15,80"
    kinds = {
        "": "open wrap",
        "--closed": "closed wrap",
        "--handle-comes-off": "closed wrap",
        "--open": "open wrap",
    }
    for order, (option, kind) in enumerate(kinds.items()):
        assert kind in words(drawn(*made(f"{mug} {option} -o mug{order}.svg")))


# The printer correction -----------------------------------------------------------------------------------------------


BAR_LABEL = r"100 mm along the paper's (width|length)"


@pytest.mark.parametrize("paper", ["a3", "a4", "13x19in", "19x13in", "'roll 610mm'", "'roll 13in'", "fit"])
def test_each_bar_is_corrected_by_what_was_measured_of_it(paper: str) -> None:
    # bars that left the printer 2 % short along the paper's width and 1 % long along its length
    for file in made(f"CUP --paper {paper} --printed-bar '98mm x 101mm' -o wrap.svg"):
        root = drawn(file)
        (group,) = (g for g in root.iter(f"{SVG}g") if g.get("transform"))
        stretch = [float(number) for number in re.findall(r"[-\d.]+", group.get("transform"))][:4:3]
        labels = [(label, re.fullmatch(BAR_LABEL, label.text or "")) for label in group.iter(f"{SVG}text")]
        seen = {match[1]: stretch["rotate(-90" in label.get("transform", "")] for label, match in labels if match}
        assert seen == {"width": pytest.approx(100 / 98, rel=1e-9), "length": pytest.approx(100 / 101, rel=1e-9)}
        assert "Printer correction: 102.041 % along the paper's width, 99.01 % along its length." in words(root)


# What is loaded -------------------------------------------------------------------------------------------------------


def loaded(line: str) -> set[str]:
    """The modules that a command has loaded when it is done."""
    program = "import sys; from cupgeom_cli.main import run; run(sys.argv[1:]); print(*sys.modules)"
    answer = child(SCRIPT.with_name("python"), "-c", program, *line.replace("CUP", CUP).split())
    assert answer.returncode == 0, answer.stderr
    return set(answer.stdout.splitlines()[-1].split())


@pytest.mark.parametrize(
    ("line", "spared"),
    [
        ("--help", {"numpy", "shapely", "reportlab", "svgwrite", "cupgeom.errors", "cupgeom.cup"}),
        ("area CUP", {"numpy", "shapely", "reportlab", "svgwrite", "cupgeom.drawing", "json"}),
        ("template CUP -o wrap.pdf", {"numpy", "shapely", "svgwrite", "json"}),
        ("template CUP -o wrap.svg", {"numpy", "shapely", "reportlab"}),
    ],
)
def test_a_command_loads_only_what_it_needs(line: str, spared: set[str]) -> None:
    modules = loaded(line)
    assert "click" in modules
    assert not modules & spared


def test_the_list_of_loaded_modules_can_show_numpy() -> None:
    program = "import numpy, sys; print(*sys.modules)"
    assert "numpy" in child(SCRIPT.with_name("python"), "-c", program).stdout.split()
