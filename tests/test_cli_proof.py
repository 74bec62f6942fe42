"""`cupgeom proof` at the edge: what the files hold, when the mark changes, and which files a job may name."""

from __future__ import annotations

import io
import json
import shutil
import struct
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from .command_line import ask

FONTS = Path(__file__).parents[1] / "templates-demo" / "fonts"
SHOP = """
fonts = "fonts"

[cups."tapered 20"]
rim = 88
base = 70
height = 170
coated_from = 6
"""
STARS = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 40 20"><path d="M0 0H40V20H0z" fill="#d01020"/></svg>'
COMET = """
cup = "tapered 20"
quantity = 2
steps = ["flood", { do = "sand", edge = true }, { do = "decal", decals = ["stars"] }, { do = "clear", repeat = 2 }]

[decals.stars]
art = "stars.svg"
medium = "white water-slide"
width = 40
drop = 60
"""
WORDS = """
cup = "tapered 20"
quantity = 2
steps = ["flood", { do = "decal", decals = ["name"] }, { do = "clear", repeat = 2 }]

[decals.name]
text = "Zoe\\nO0 lI"
font = "GreatVibes-Latin"
medium = "white water-slide"
cap_height = 9
drop = 60
"""


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    Path("shop.toml").write_text(SHOP)
    Path("stars.svg").write_text(STARS)
    Path("comet.toml").write_text(COMET)
    return tmp_path


def numbers(job: str = "comet.toml", **changes: tuple[str, str]) -> dict[str, Any]:
    """What is said of comet.toml, or of another that differs in some of its text."""
    text = Path(job).read_text()
    for old, new in changes.values():
        assert old in text
        text = text.replace(old, new)
    Path("other.toml").write_text(text)
    answer = ask("proof other.toml --json")
    assert answer.code == 0, answer.err
    found: dict[str, Any] = json.loads(answer.out)
    return found


def model_of(data: bytes) -> dict[str, Any]:
    """The JSON of a .glb file: its first chunk (glTF 2.0, 4.4)."""
    length, kind = struct.unpack_from("<I4s", data, 12)
    assert kind == b"JSON"
    found: dict[str, Any] = json.loads(data[20 : 20 + length])
    return found


def red_centre(job: str) -> float:
    """How far down the proof the decal lies on the unrolled walls, in pixels."""
    assert ask(f"proof {job} -o seen.png --size 600 --force").code == 0
    seen = np.asarray(Image.open(io.BytesIO(Path("seen.png").read_bytes())).convert("RGB")).astype(int)
    red = (seen[..., 0] > seen[..., 1] + 90) & (seen[..., 0] > seen[..., 2] + 90)
    filled = np.nonzero(red.any(axis=1))[0]
    strip = filled[filled > filled[0] + (filled[-1] - filled[0]) / 2]  # the views lie above it
    return float(strip.mean())


# The files ------------------------------------------------------------------------------------------------------------


def test_one_job_gives_all_three_files_with_one_mark_and_the_same_bytes_again() -> None:
    answer = ask("proof comet.toml -o a.png -o a.html -o a.glb --size 600 --dpi 60")
    assert answer.code == 0, answer.err
    assert [line for line in answer.err.splitlines() if line.startswith("wrote")] == [
        "wrote a.png",
        "wrote a.html",
        "wrote a.glb",
    ]
    mark = answer.out.split()[1]
    assert mark in Path("a.html").read_text()
    assert model_of(Path("a.glb").read_bytes())["asset"]["extras"] == {"proof": mark}
    first = {name: Path(f"a.{name}").read_bytes() for name in ("png", "html", "glb")}
    ask("proof comet.toml -o a.png -o a.html -o a.glb --size 600 --dpi 60 --force")
    assert {name: Path(f"a.{name}").read_bytes() for name in first} == first


def test_the_picture_is_as_wide_as_asked() -> None:
    for size in (480, 733):
        assert ask(f"proof comet.toml -o a.png --size {size} --force").code == 0
        assert struct.unpack_from(">I", Path("a.png").read_bytes(), 16) == (size,)  # IHDR, PNG 3rd ed. 11.2.1


def test_the_decal_lies_lower_in_the_picture_by_as_much_as_it_was_moved() -> None:
    Path("a.toml").write_text(COMET.replace("drop = 60", "drop = 70"))
    Path("b.toml").write_text(COMET.replace("drop = 60", "drop = 80"))
    start, ten, twenty = map(red_centre, ("comet.toml", "a.toml", "b.toml"))
    assert ten - start > 5
    assert twenty - start == pytest.approx(2 * (ten - start), abs=1.5)


def test_the_model_is_as_tall_as_the_finished_cup_in_metres() -> None:
    ask("proof comet.toml -o a.glb --dpi 60")
    told = ask("proof comet.toml").out.splitlines()[1]
    tall = float(told.split("height ")[1].removesuffix(" mm"))
    highest = max(one["max"][1] for one in model_of(Path("a.glb").read_bytes())["accessors"] if one.get("max"))
    assert highest * 1000 == pytest.approx(tall, abs=0.06)


def test_lettering_is_shown_line_by_line_and_letter_by_letter() -> None:
    shutil.copytree(FONTS, "fonts")
    Path("words.toml").write_text(WORDS)
    answer = ask("proof words.toml -o a.html --size 480 --dpi 60")
    assert answer.code == 0, answer.err
    assert [line.split()[1:] for line in answer.out.splitlines() if line.startswith("reads")] == [
        ["Zoe"],
        ["O0", "lI"],
    ]
    page = Path("a.html").read_text()
    assert (page.count("digit"), page.count("u+000a")) == (1, 0)
    assert "http" not in page.replace("http-equiv", "")


def test_no_file_is_needed_to_see_the_mark_and_the_sizes() -> None:
    answer = ask("proof comet.toml")
    assert answer.code == 0
    assert [line.split()[0] for line in answer.out.splitlines()] == ["proof", "cup", "stars"]
    assert answer.out.splitlines()[2].split(maxsplit=1)[1].startswith("40.0 x 20.0 mm")
    assert sorted(map(str, Path().iterdir())) == ["comet.toml", "shop.toml", "stars.svg"]


# The mark -------------------------------------------------------------------------------------------------------------


def test_the_mark_changes_with_what_was_approved_and_with_nothing_else() -> None:
    mark = numbers()["mark"]
    same = [
        numbers(a=("quantity = 2", "quantity = 3"))["mark"],
        numbers(a=("cup =", "start = 2026-03-02\ncup ="))["mark"],
    ]
    assert same == [mark, mark]
    other = [
        numbers(a=("drop = 60", "drop = 61"))["mark"],
        numbers(a=("width = 40", "width = 41"))["mark"],
        numbers(a=('"white water-slide"', '"clear water-slide"'))["mark"],
        numbers(a=('cup = "tapered 20"', "cup = { rim = 89, base = 70, height = 170 }"))["mark"],
    ]
    Path("stars.svg").write_text(STARS.replace("d01020", "d01021"))
    assert len({mark, *other, numbers()["mark"]}) == 6


def test_an_approved_mark_that_is_not_that_of_the_proof_is_told() -> None:
    mark = numbers()["mark"]
    Path("comet.toml").write_text(f'approved = "{mark.lower()}"\n{COMET}')
    assert "approved" not in ask("proof comet.toml").err
    Path("comet.toml").write_text(f'approved = "{mark}"\n{COMET.replace("drop = 60", "drop = 70")}')
    assert f"note: approved: was {mark}; now the mark is " in ask("proof comet.toml").err


# Which files ----------------------------------------------------------------------------------------------------------


def test_a_link_that_leads_out_of_the_folder_is_refused_unless_allowed(folder: Path) -> None:
    home = folder / "jobs"
    home.mkdir()
    Path("comet.toml").rename(home / "comet.toml")
    Path("shop.toml").rename(home / "shop.toml")
    (home / "stars.svg").symlink_to(folder / "stars.svg")
    answer = ask("proof jobs/comet.toml")
    assert (answer.code, answer.out) == (2, "")
    assert answer.err == (
        "cupgeom: jobs/stars.svg: leads out of the job's folder; copy the file there, or give --allow-outside\n"
    )
    assert ask("proof jobs/comet.toml --allow-outside").code == 0


def test_a_link_within_the_folder_is_a_file_like_any_other() -> None:
    Path("stars.svg").rename("drawn.svg")
    Path("stars.svg").symlink_to("drawn.svg")
    assert ask("proof comet.toml").code == 0


def test_a_file_elsewhere_is_refused_by_its_line_unless_allowed(folder: Path) -> None:
    home = folder / "jobs"
    home.mkdir()
    (home / "comet.toml").write_text(COMET.replace('"stars.svg"', '"../stars.svg"'))
    answer = ask("proof jobs/comet.toml --shop shop.toml")
    assert answer.code == 2
    assert answer.err.startswith("cupgeom: jobs/comet.toml:7: decals.stars.art: must stay in the job's folder")
    assert ask("proof jobs/comet.toml --shop shop.toml --allow-outside").code == 0


def test_the_shop_file_beside_the_job_counts_not_the_one_here(folder: Path) -> None:
    home = folder / "jobs"
    home.mkdir()
    (home / "comet.toml").write_text(COMET)
    answer = ask("proof jobs/comet.toml")
    assert answer.err.startswith("cupgeom: jobs/comet.toml:2: cup: jobs/shop.toml, which is not there, has no cup")


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ("proof", "job: is missing; see cupgeom proof --help"),
        ("proof none.toml", "none.toml: does not exist; check its name and folder"),
        ("proof comet.toml -o a.pdf", "-o: unknown ending of 'a.pdf'; give a name that ends in .png or .html or .glb"),
        ("proof comet.toml -o no/a.png", "-o: the folder no does not exist; make it first"),
        ("proof comet.toml -o a.png --size 100", "--size: must be at least 480 pixels, got 100 pixels"),
        ("proof comet.toml -o a.glb --dpi 0", "--dpi: must be greater than 0 dots per inch, got 0 dots per inch"),
        ("proof missing.toml", "gone.svg: does not exist; check its name and folder"),
        ("proof folder.toml", "fonts: is no file; give a file of art, a font or a list"),
        ("proof font.toml", "Vibes: does not exist, and it is no font of fonts; use A"),
    ],
)
def test_bad_input_is_one_line(line: str, message: str) -> None:
    Path("fonts").mkdir()
    Path("fonts/A.ttf").write_bytes(b"")
    Path("missing.toml").write_text(COMET.replace("stars.svg", "gone.svg"))
    Path("folder.toml").write_text(COMET.replace("stars.svg", "fonts"))
    Path("font.toml").write_text(WORDS.replace("GreatVibes-Latin", "Vibes"))
    answer = ask(line)
    assert (answer.code, answer.out, answer.err) == (2, "", f"cupgeom: {message}\n")
    assert not list(Path().glob("a.*"))
