"""Commands with odd inputs: one clear line naming option, value and mend, exit 2, nothing written, no traceback."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from shlex import quote

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cli.main import COMMANDS

from .command_line import ask

A_LENGTH = "a length such as 88, 88mm, 8.8cm, 3.5in or 3 1/2 in"
WRAP = "template CUP -o wrap.pdf"

WHOLE_LINES = [
    # the cup
    ("area --rim 0 --base 70 --height 170", "--rim: must be at least 1 mm, got 0 mm"),
    ("area --rim 88 --base -70 --height 170", "--base: must be at least 1 mm, got -70 mm"),
    ("area --rim 88 --base 70 --height 0mm", "--height: must be at least 1 mm, got 0 mm"),
    ("area --rim 1e-9 --base 70 --height 170", "--rim: must be at least 1 mm, got 1e-09 mm"),
    ("area --rim nan --base 70 --height 170", "--rim: must be a finite length, got 'nan'"),
    ("area --rim 88 --base inf --height 170", "--base: must be a finite length, got 'inf'"),
    ("area --rim 88 --base 70 --height -inf", "--height: must be a finite length, got '-inf'"),
    ("area --rim '' --base 70 --height 170", f"--rim: is empty; give {A_LENGTH}"),
    ("area --rim '  ' --base 70 --height 170", f"--rim: is empty; give {A_LENGTH}"),
    (
        "area --rim '88 qq' --base 70 --height 170",
        "--rim: unknown unit 'qq' in '88 qq'; use mm, cm, in or \"",
    ),
    (
        "area --rim '1/0 in' --base 70 --height 170",
        f"--rim: the fraction in '1/0 in' divides by zero; give {A_LENGTH}",
    ),
    ("area --rim wide --base 70 --height 170", f"--rim: cannot read 'wide'; give {A_LENGTH}"),
    (
        "area --rim 1,234 --base 70 --height 170",
        "--rim: the comma in '1,234' can be read two ways; write a point for decimals",
    ),
    ("area --rim 1e9mm --base 70 --height 170", "--rim: must be at most 10000 mm, got 1000000000 mm"),
    ("area --rim 88 --base 1e9 --height 170", "--base: must be at most 10000 mm, got 1000000000 mm"),
    ("area --rim 88 --base 70 --height 1e9mm", "--height: must be at most 10000 mm, got 1000000000 mm"),
    ("area --base 70 --height 170", f"--rim: is missing; give {A_LENGTH}"),
    ("area --rim 88 --height 170", f"--base: is missing; give {A_LENGTH}"),
    ("area --rim 88 --base 70", f"--height: is missing; give {A_LENGTH}"),
    # the handle
    ("area CUP --foot 14,15", "--foot: cannot read '14,15'; give width,from,to such as 14mm,15mm,30mm"),
    ("area CUP --foot '14 qq,15,30'", "--foot 14 qq,15,30: unknown unit 'qq' in '14 qq'; use mm, cm, in or \""),
    ("area CUP --foot 14,30,15", "--foot 14,30,15: must lie below the top (drop 30 mm), got drop 15 mm"),
    ("area CUP --foot 14,-5,20", "--foot 14,-5,20: must be at least 0 mm, got -5 mm"),
    ("area CUP --clearance -1", "--clearance: must be at least 0 mm, got -1 mm"),
    (  # a cup of 90 mm without taper, so that the limits are round
        "area --rim 90 --base 90 --height 100 --foot 90,15,30",
        "--foot 90,15,30: must be less than the cup there (90 mm across), got 90 mm",
    ),
    (
        "area --rim 90 --base 90 --height 100 --foot 14,15,30 --foot 14,65,120",
        "--foot 14,65,120: must be on the wall (drop 0 to 100 mm), got 120 mm",
    ),
    # ranges
    (
        "area --rim 90 --base 90 --height 100 --coated-to 120",
        "--coated-to: must be on the wall (drop 0 to 100.00 mm), got drop 120.00 mm",
    ),
    (
        "area --rim 90 --base 90 --height 100 --coated-from '120mm up'",
        "--coated-from: must be on the wall (drop 0 to 100.00 mm), got drop -20.00 mm",
    ),
    (
        "area CUP --coated-from 100 --coated-to 50",
        "--coated-from and --coated-to: leave nothing between drop 100.00 mm and drop 50.00 mm",
    ),
    (f"{WRAP} --from 100 --to 50", "--from and --to: leave nothing between drop 100.00 mm and drop 50.00 mm"),
    (
        "template --rim 90 --base 90 --height 100 -o wrap.pdf --base-clearance 200",
        "--base-clearance: nothing is left of the wall (drop 0 to 100 mm); give less",
    ),
    (
        "area --rim 90 --base 90 --height 100 --bare-lip 100",
        "--bare-lip: must be less than the wall's 100 mm, got 100 mm",
    ),
    (
        "template --rim 90 --base 90 --height 100 -o wrap.pdf --print-from 5 --print-to 40 --from 50",
        "--print-to: nothing is left to print between drops 5 and 40 mm (trim 50 to 100 mm, bare lip 0 mm)",
    ),
    # the wrap
    (  # half of 170.24 mm, the slant √(170² + 9²)
        f"{WRAP} --bleed 90",
        "--bleed: must be at most half the wrap's smaller side (170.2 mm), got 90 mm",
    ),
    (  # half of 219.9 mm, 70 π
        f"{WRAP} --overlap 110",
        "--overlap: must be less than half the wrap's narrow end (219.9 mm), got 110 mm",
    ),
    (f"{WRAP} --bleed 1e9", "--bleed: must be at most 10000 mm, got 1000000000 mm"),
    (f"{WRAP} --rim-band lots", f"--rim-band: cannot read 'lots'; give {A_LENGTH}"),
    (f"{WRAP} --open", "--gap: an open wrap on a cup without a handle needs the width to leave free, such as 20mm"),
    (f"{WRAP} --closed --gap 20", "--gap: a closed wrap has no gap; leave one of the two out"),
    (f"{WRAP} --seam zip", "--seam: 'zip' is not one of 'blank', 'continued', 'butt'"),
    (f"{WRAP} --as banner", "--as: 'banner' is not one of 'pattern', 'film', 'cut'"),
    (
        f"{WRAP} --split backk",
        "--split: cannot read 'backk'; give front, right, back, left or degrees from -180 to 180",
    ),
    (f"{WRAP} --split 181", "--split: must be from -180° to 180°, got 181°"),
    (
        f"{WRAP} --split 90 --split right",
        "--split: turn 90° (right, seen from the front) is there twice; leave one out",
    ),
    (  # feet of 14 mm and 3 mm round them: half of 20 mm on a radius of 41 mm is 14.1°, so 165.9° are free
        "template --rim 82 --base 82 --height 95 -o wrap.pdf --foot 14,15,80 --closed --split 170",
        "--split: turn 170° (right, toward the back) runs through the handle; split at the back or within ±165°",
    ),
    # paper
    (
        f"{WRAP} --paper a99",
        "--paper: unknown paper 'a99'; use a5, a4, a3, letter, legal, tabloid, a size such as 13x19in, roll 610mm,"
        " or fit",
    ),
    (
        f"{WRAP} --paper 8x8",
        "--paper: 8 x 8 mm leaves no room inside margins of 5 mm and the notes; use larger paper or smaller margins",
    ),
    (f"{WRAP} --paper 1e9x1e9mm", "--paper: must be at most 5000 mm, got 1000000000 mm"),
    (f"{WRAP} --margin -1", "--margin: must be at least 0 mm, got -1 mm"),
    (
        f"{WRAP} --printed-bar nonsense",
        "--printed-bar: cannot read 'nonsense'; give two lengths such as 99.2mm x 100.4mm",
    ),
    (f"{WRAP} --printed-bar ''", "--printed-bar: cannot read ''; give two lengths such as 99.2mm x 100.4mm"),
    (
        f"{WRAP} --printed-bar '50mm x 10mm'",
        "--printed-bar: asks for 2 times the size; a printer is off by less: measure the bar again",
    ),
    # where to
    ("template CUP", "-o: is missing; give a file such as wrap.pdf"),
    ("template CUP -o wrap.xyz", "-o: unknown ending of 'wrap.xyz'; give a name that ends in .svg or .pdf or .png"),
    ("template CUP -o wrap", "-o: unknown ending of 'wrap'; give a name that ends in .svg or .pdf or .png"),
    ("template CUP -o nowhere/wrap.pdf", "-o: the folder nowhere does not exist; make it first"),
    ("template CUP -o old.pdf", "-o: old.pdf exists; give --force to replace it, or another name"),
    (
        "template CUP -o folder.pdf --force",
        "-o: folder.pdf is a folder; give a file in it, such as folder.pdf/wrap.pdf",
    ),
    # words
    ("area CUP --unit furlong", "--unit: 'furlong' is not one of 'mm', 'in'"),
    ("area CUP --nonsense", "no option --nonsense; see cupgeom area --help"),
    ("area CUP --hieght 3", "no option --hieght; did you mean --height?"),
    (f"{WRAP} --splt 20", "no option --splt; did you mean --split?"),
    ("--nonsense", "no option --nonsense; see cupgeom --help"),
    ("templat CUP -o wrap.pdf", "no command 'templat'; did you mean template?"),
    ("aera CUP", "no command 'aera'; did you mean area?"),
    ("''", f"no command ''; use {', '.join(COMMANDS)}"),
    (
        "area --rim 3 1/2 in --base 70 --height 170",
        "cannot place '1/2 in'; write a value that has spaces in quotes, such as \"3 1/2 in\"",
    ),
]

BEGINNINGS = [
    ("area", "--rim"),
    ("area --rim 1e400 --base 70 --height 170", "--rim"),
    (f"area --rim {'9' * 5000} --base 70 --height 170", "--rim"),
    ("area --rim 88 --base 1/2/3 --height 170", "--base"),
    ("area --rim 88 --base 0x10 --height 170", "--base"),
    ("area --rim 88 --base 70 --height '1\n7'", "--height"),
    ("area CUP --foot 14", "--foot"),
    ("area CUP --foot 14,15,30,40", "--foot"),
    ("area CUP --foot ,,", "--foot"),
    ("area CUP --foot ''", "--foot"),
    ("area CUP --foot 0,15,30", "--foot 0,15,30"),
    ("area CUP --foot nan,15,30", "--foot nan,15,30"),
    ("area CUP --foot 14,15,1e9", "--foot 14,15,1e9"),
    ("area CUP --foot 100,15,30", "--foot 100,15,30"),
    ("area CUP --foot 71,15,170", "--foot 71,15,170"),
    ("area CUP --foot 14,150,300", "--foot 14,150,300"),
    ("area CUP --clearance 1e9 --foot 14,15,30", "--clearance"),
    ("area CUP --bare-lip -1", "--bare-lip"),
    ("area CUP --bare-lip nan", "--bare-lip"),
    ("area CUP --bare-lip 171", "--bare-lip"),
    ("area CUP --coated-from up", "--coated-from"),
    ("area CUP --coated-from -5", "--coated-from"),
    ("area CUP --coated-from 1e9", "--coated-from"),
    ("area CUP --coated-to 50 --bare-lip 50", "--coated-from and --coated-to"),
    (f"{WRAP} --from 400", "--from"),
    (f"{WRAP} --to 400", "--to"),
    (f"{WRAP} --to 0", "--from and --to"),
    (f"{WRAP} --from 50 --to 50.5", "--to"),
    (f"{WRAP} --bare-lip 60 --from 10 --to 40", "--to"),
    (f"{WRAP} --print-from 50 --print-to 52", "--safe"),
    (f"{WRAP} --base-clearance -3", "--base-clearance"),
    (f"{WRAP} --overlap 0", "--overlap"),
    (f"{WRAP} --overlap -1", "--overlap"),
    (f"{WRAP} --bleed -1", "--bleed"),
    (f"{WRAP} --bleed nan", "--bleed"),
    (f"{WRAP} --safe 90", "--safe"),
    (f"{WRAP} --safe -1", "--safe"),
    (f"{WRAP} --rim-band -2", "--rim-band"),
    (f"{WRAP} --rim-band 1e9", "--rim-band"),
    (f"{WRAP} --gap 0", "--gap"),
    (f"{WRAP} --gap 300", "--gap"),
    (f"{WRAP} --gap 30 --split 175", "--split"),
    (f"{WRAP} --foot 14,15,30 --split 179", "--split"),
    (f"{WRAP} --split nan", "--split"),
    (f"{WRAP} --split ''", "--split"),
    (f"{WRAP} --paper ''", "--paper"),
    (f"{WRAP} --paper 0x100", "--paper"),
    (f"{WRAP} --paper 100xqq", "--paper"),
    (f"{WRAP} --paper roll", "--paper"),
    (f"{WRAP} --paper 'roll 0'", "--paper"),
    (f"{WRAP} --paper 'roll 100'", "--paper"),
    (f"{WRAP} --paper 25x25 --no-notes", "--paper"),
    (f"{WRAP} --paper a4 --margin 110", "--paper"),
    (f"{WRAP} --paper a4 --margin 90 --as film", "--paper"),
    (f"{WRAP} --paper fit --margin 3000", "--margin"),
    (f"{WRAP} --margin 1e9", "--margin"),
    (f"{WRAP} --printed-bar 99", "--printed-bar"),
    (f"{WRAP} --printed-bar 0x100", "--printed-bar"),
    (f"{WRAP} --printed-bar nanx100", "--printed-bar"),
    (f"{WRAP} --printed-bar '3.9in x 100'", "--printed-bar"),
    ("template --rim 1500 --base 1500 --height 1500 -o wrap.pdf --paper a5 --rim-band 0", "--paper"),
    ("template CUP -o ''", "-o"),
    ("template CUP -o .pdf", "-o"),
    ("template CUP -o old.pdf/wrap.pdf", "-o"),
    ("template CUP -o folder.pdf", "-o"),
    ("area CUP extra", "cannot place 'extra'"),
    ("area CUP -x", "no option -x"),
    ("area -rim 88", "no option -r"),
    ("area CUP --rim", "Option '--rim'"),
    ("area CUP --json=yes", "Option '--json'"),
    ("furlong", "no command 'furlong'"),
]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A working folder with an old file and a folder in it, which must be the same afterwards."""
    (tmp_path / "old.pdf").write_text("old")
    (tmp_path / "folder.pdf").mkdir()
    monkeypatch.chdir(tmp_path)
    yield tmp_path
    assert sorted(path.name for path in tmp_path.rglob("*")) == ["folder.pdf", "old.pdf"]
    assert (tmp_path / "old.pdf").read_text() == "old"


def refusal(line: str) -> str:
    """The one line that a refused command says."""
    answer = ask(line)
    assert (answer.code, answer.out) == (2, "")
    assert answer.err.endswith("\n")
    (said,) = answer.err.splitlines()
    assert said.startswith("cupgeom: ")
    assert "Traceback" not in said
    return said.removeprefix("cupgeom: ")


@pytest.mark.usefixtures("folder")
@pytest.mark.parametrize(("line", "expected"), WHOLE_LINES)
def test_the_whole_line(line: str, expected: str) -> None:
    assert refusal(line) == expected


@pytest.mark.usefixtures("folder")
@pytest.mark.parametrize(("line", "expected"), BEGINNINGS)
def test_the_line_names_what_was_wrong(line: str, expected: str) -> None:
    assert refusal(line).startswith(expected)


LENGTHS = ["--rim", "--base", "--height", "--bare-lip", "--clearance", "--coated-from", "--coated-to", "--foot"]
LETTERS = "0123456789 .,/-+eEmcin\"½″x'upé٣㎜\n\t\0\u2028\udcff"


@given(option=st.sampled_from(LENGTHS), text=st.text(LETTERS, max_size=12))
def test_any_text_for_a_length_is_taken_or_refused_in_one_line(option: str, text: str) -> None:
    line = f"area CUP {option}={quote(text)}"
    if ask(line).code == 0:
        assert ask(f"{line} --json").code == 0
    else:
        assert refusal(line).startswith(option)


@pytest.mark.usefixtures("folder")
@pytest.mark.parametrize("option", ["--split", "--paper", "--printed-bar", "--rim-band", "--from", "--seam", "--as"])
def test_letters_that_mean_nothing_are_refused(option: str) -> None:
    for text in ["qqq", "\udcff", "\u0000", "$(x)", "-", "--", "é" * 300]:
        assert refusal(f"{WRAP} {option}='{text}'").startswith(option)
