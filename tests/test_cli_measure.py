"""The measure command, the shop file it keeps, and what other commands take from it."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest

from cupgeom.shelf import read_shelf

from .command_line import ask

READ = "measure --rim-around '10 7/8 in' --base-around '8 5/8 in' --slant '6 3/4 in'"


@pytest.fixture(autouse=True)
def _in_an_empty_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def test_a_tape_and_a_ruler_make_a_cup_that_is_kept() -> None:
    answer = ask(f"{READ} --save 'tapered 20'")
    assert answer.code == 0
    # a circumference of 10 7/8 in is a diameter of 10.875/π in
    assert f"rim diameter          {10.875 / math.pi:.3f} in" in answer.out
    assert "not checkable" in answer.out
    assert "± 0.01" in answer.out
    assert "saved tapered 20 in shop.toml" in answer.err
    cup = read_shelf(Path("shop.toml").read_text()).cup("tapered 20")
    assert cup.rings[0].diameter == pytest.approx(10.875 * 25.4 / math.pi, rel=1e-9)
    assert cup.slant == pytest.approx(6.75 * 25.4, rel=1e-9)
    listing = ask("measure --list")
    assert listing.out == "tapered 20: rim 3.46 in, base 2.75 in, height 6.74 in\n"


def test_a_name_is_taken_once() -> None:
    ask(f"{READ} --save one")
    again = ask(f"{READ} --save one")
    assert again.code == 2
    assert again.err.splitlines()[-1] == (
        "cupgeom: --save: shop.toml:1 has a cup 'one'; give --force to replace it, or another name"
    )


def test_chi_square_and_covariance_are_for_programs_only() -> None:
    line = "measure --rim 88 --rim 88.1 --base 70 --height 170 --slant 170.3"
    numbers = json.loads(ask(f"{line} --json").out)
    assert numbers["degrees_of_freedom"] == 2
    assert len(numbers["covariance_mm2"]) == 3
    # the mean of two equally good readings has the uncertainty σ/√2
    assert numbers["estimates"]["rim diameter"]["uncertainty"] == pytest.approx(0.1 / math.sqrt(2), rel=1e-3)
    table = ask(line).out
    assert "chi" not in table
    assert "covariance" not in table


def test_the_tape_that_slid_is_named() -> None:
    line = "measure --rim 88 --rim 88.05 --rim 87.95 --base 70 --base 70.1 --slant 170.2 --height 170"
    answer = ask(f"{line} --base-around 216.97")  # 3.1 mm less than π·70.05
    assert "the base tape disagrees by 3.1" in answer.out
    assert "measure it again" in answer.out


def test_too_few_readings_say_what_to_measure_next() -> None:
    answer = ask("measure --rim 88")
    assert answer.code == 2
    assert answer.err.startswith("cupgeom: readings: not enough to make a cup; measure next: ")


def test_a_paper_fit_mends_a_rim_that_was_3_mm_out() -> None:
    """A gap g says: true edge length = printed edge length + g (the issue's definition)."""
    true_rim = 276.46
    ask(f"measure --rim-around {true_rim - 3}mm --base-around 219.91mm --slant 170.24mm --save cup")
    assert ask("template --cup cup --fit-test -o fit.pdf").code == 0
    answer = ask("measure --cup cup --paper-gap rim=3mm,base=0mm --without 'rim tape' --json --save cup --force")
    around = json.loads(answer.out)["estimates"]["rim arc length"]
    assert abs(around["value"] - true_rim) < 0.1
    assert abs(around["value"] - true_rim) <= around["half_range_95"]
    kept = read_shelf(Path("shop.toml").read_text()).cup("cup")
    assert abs(kept.rings[0].diameter * math.pi - true_rim) < 0.1


def test_a_paper_fit_needs_its_cup() -> None:
    answer = ask("measure --rim 88 --base 70 --height 170 --paper-gap rim=1mm")
    assert answer.code == 2
    assert answer.err == "cupgeom: --paper-gap: needs the cup that the print was made for; give --cup NAME\n"


def test_contradicting_paper_and_tape_are_both_named() -> None:
    ask("measure --rim-around 270mm --base-around 219.91mm --slant 170.24mm --save cup")
    answer = ask("measure --cup cup --paper-gap rim=6mm,base=0mm")
    assert "rim tape" in answer.out
    assert "paper gap at the rim" in answer.out
    assert "can't be told apart" in answer.out


def test_the_ranges_stand_in_the_caption_and_follow_the_readings(monkeypatch: pytest.MonkeyPatch) -> None:
    captions = []
    for spread in ("0.5", "1.0"):
        ask(f"measure --rim-around '276.46mm ± {spread}mm' --base-around 219.91mm --slant 170.24mm --save c --force")
        assert ask("template --cup c --paper fit -o c.svg --force").code == 0
        text = Path("c.svg").read_text()
        captions.append(text[text.index("measured: rim ±") :].split(" (95 %)")[0])
    # 95 % of a circumference known to σ is a diameter known to 1.96 σ/π
    assert captions[0].startswith(f"measured: rim ± {round(1.96 * 0.5 / math.pi, 2):g} mm")
    assert captions[1].startswith(f"measured: rim ± {round(1.96 * 1.0 / math.pi, 2):g} mm")


def test_coats_make_the_wrap_longer_by_two_pi_film_cos_half_angle() -> None:
    bare = json.loads(ask("area CUP --json").out)
    grown = json.loads(ask("area CUP --film 1.2 --json").out)
    longer = math.tau * 1.2 * math.cos(math.atan2(9, 170))
    assert grown["rim_circumference_mm"] - bare["rim_circumference_mm"] == pytest.approx(longer, abs=1e-9)
    assert f"a gap of {longer:.2f} mm at the seam" in ask("area CUP --film 1.2").err


def test_a_tape_round_the_coated_cup_beats_the_prediction() -> None:
    radius = 44 - 75 * 9 / math.hypot(9, 170)
    film = 0.8
    tape = math.tau * (radius + film * math.cos(math.atan2(9, 170)))
    answer = ask(f"area CUP --film 1.2 --around {tape:.3f}mm@75mm")
    assert "note: film: predicted 1.20 mm, measured 0.80 mm" in answer.err


def test_the_coated_base_fits_its_holder_or_not() -> None:
    base = 70 + 2 * 1.2 * math.cos(math.atan2(9, 170))
    fits = ask("area CUP --film 1.2 --holder 76mm").out
    assert f"fits, {round(76 - base, 2):g} mm to spare" in fits
    assert "does not fit" in ask("area CUP --film 4 --holder 76mm").out


def test_a_printer_is_measured_once_and_corrected_from_then_on() -> None:
    first = ask("template CUP --paper a4 --printed-bar '99.2mm x 100.4mm' --printer office -o a.pdf")
    assert first.err.splitlines()[0] == "saved the correction of office for a4 in shop.toml"
    assert ask("template CUP --paper a4 --printer office -o b.pdf").code == 0
    assert Path("a.pdf").read_bytes() == Path("b.pdf").read_bytes()
    ask("template CUP --paper a4 --printed-bar '99.9mm x 100mm' --printer office -o c.pdf --force")
    correction = read_shelf(Path("shop.toml").read_text()).printer("office", "a4")
    assert correction.across == pytest.approx(100 / 99.2 * 100 / 99.9, rel=1e-12)
    assert correction.along == pytest.approx(100 / 100.4, rel=1e-12)


def test_an_unknown_cup_or_printer_gets_the_nearest_name() -> None:
    ask(f"{READ} --save 'tapered 20'")
    assert ask("area --cup 'taperd 20'").err == (
        "cupgeom: --cup: shop.toml has no cup 'taperd 20'; did you mean \"tapered 20\"?\n"
    )
    assert "--printer: shop.toml has no printer 'ofice'" in ask("template CUP --printer ofice -o a.pdf").err
    assert ask("area --cup 'tapered 20' --rim 88").err == (
        "cupgeom: --rim: cannot stand beside --cup 'tapered 20'; leave one of the two out\n"
    )


def test_a_damaged_shop_file_is_refused_and_stays_as_it_is() -> None:
    damaged = "[cups.a]\nrim = 88\nbase = oops\n"
    Path("shop.toml").write_text(damaged)
    answer = ask(f"{READ} --save b")
    assert answer.code == 2
    assert answer.err.splitlines()[-1].startswith("cupgeom: shop.toml:3:8: ")
    assert Path("shop.toml").read_text() == damaged


def test_every_problem_of_a_shop_file_is_told_on_its_own_line() -> None:
    Path("shop.toml").write_text('[cups.a]\nrim = -1\nbase = "70 qq"\nheight = 100\ncolour = "red"\n')
    answer = ask("area --cup a")
    assert answer.code == 2
    lines = answer.err.splitlines()
    assert [line.split(":")[2] for line in lines] == ["2", "3", "5"]
    assert all(line.startswith("cupgeom: shop.toml:") for line in lines)


@pytest.mark.parametrize("value", ["0", "-3", "nan", "inf", "88qq", "1/0in", ""])
def test_a_bad_reading_names_its_option(value: str) -> None:
    answer = ask(f"measure --rim-around '{value}' --base 70 --height 170")
    assert answer.code == 2
    assert answer.err.startswith("cupgeom: --rim-around: ")
    assert len(answer.err.splitlines()) == 1
