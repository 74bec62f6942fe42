"""The resin command: tables, JSON, its two pictures, the shop file, the log, and what it refuses."""

from __future__ import annotations

import json
import math
import re
from itertools import combinations
from pathlib import Path

import pytest

from cupgeom.coating.coats import parse_coats, reference_tumbler
from cupgeom.coating.estimate import Bench, Estimate, estimate
from cupgeom.coating.film_picture import film_picture
from cupgeom.coating.glitter import Glitter
from cupgeom.coating.mix_page import digit_size, mix_page
from cupgeom.coating.resin import EXAMPLE
from cupgeom.drawing import Box, Shape, Text
from cupgeom.errors import CupgeomError
from cupgeom.pages import parse_paper
from cupgeom.writers import pdf, svg

from .command_line import ask

COMMAND = "resin CUP --bare-lip 6 --name comet"  # the reference tumbler of the trade's figures
RESIN = """
[resins.ours]
ratio = [2, 1]
density = [1.1, 1.0]
viscosity = "medium"
pot_life_min = 40
pot_life_mass_g = 100
gel_min = 240
recoat_min = [240, 720]
sandable_from_min = 600
in_service_from_min = 10080
price_per_ml = "0.04"
"""


@pytest.fixture(autouse=True)
def _in_an_empty_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def result_of(text: str, cups: int = 1, rpm: float = 5) -> Estimate:
    return estimate(reference_tumbler(), parse_coats(text), EXAMPLE, Bench(speed_rpm=rpm, cups=cups, glitter=Glitter()))


# Words and numbers ----------------------------------------------------------------------------------------------------


def test_the_trades_figures_on_the_reference_tumbler() -> None:
    answer = ask(f"{COMMAND} --coats 'tack, flood, flood, vein/3@2%, clear'")
    assert answer.code == 0
    lines = answer.out.splitlines()
    assert re.search(r"^tack +0\.02 mm +0\.8 mL +5 mL +2\.5 mL 2\.9 g +2\.5 mL 2\.6 g", lines[1])
    assert re.search(r"^first flood +0\.64 mm +26\.0 mL +30 mL .* 0\.28 ≤ 0\.64 ≤ 0\.92 +69\.5 %", lines[2])
    assert re.search(r"^flood +0\.39 mm +16\.0 mL +20 mL", lines[3])
    assert "carries 39.7 mL a cup in one coat" in answer.out
    assert "lay down 15.0 mL a cup, the rest in 3 small cups of 3.7 mL, 2 % colorant in each" in answer.out
    assert "an invented example stands in" in answer.err
    for word in ("Gloves", "data sheet", "hard through", "21 CFR 175.300", "Lip and inside stay bare"):
        assert word in answer.err
    assert "food safe" not in (answer.out + answer.err).lower()


def test_numbers_for_programs() -> None:
    answer = ask(f"{COMMAND} --coats flood --rack 3rpm --json")
    told = json.loads(answer.out)
    (coat,) = told["coats"]
    assert coat["share_of_limit"] == pytest.approx(0.897115, abs=1e-6)  # as in the film's own tests, by mpmath
    assert (coat["mixed_ml"], coat["batches"][0]["a_ml"]) == (30, 15)
    assert told["speed_rpm"] == 3
    tack = json.loads(ask(f"{COMMAND} --coats tack --mark 5 --json").out)["coats"][0]
    assert tack["batches"][0]["ratio_error"] is None or tack["batches"][0]["ratio_error"] > 0.5


def test_a_coat_above_the_limit_warns_and_does_not_refuse() -> None:
    answer = ask(f"{COMMAND} --coats flood=1.2mm")
    assert answer.code == 0
    assert "note: first flood: expect drips: 130.2 % of what the wall carries; turn at" in answer.err


def test_a_warm_cup_a_warm_room_and_coarse_glitter_are_spoken_of() -> None:
    answer = ask(f"{COMMAND} --coats 'tack, flood' --warm-cup 40 --room 32 --flake 2mm")
    assert answer.code == 0
    assert "warm cup: at 40 °C the wall takes" in answer.err
    assert "room: at 32 °C the clocks are assumed to run 2^(degrees/10) times as fast as at 22 °C" in answer.err
    assert "thinner coats" in answer.err


def test_bottles_show_what_remains() -> None:
    answer = ask(f"{COMMAND} --coats flood,flood --bottles 400,20")
    assert "bottles     A 375.0 mL left, B 5.0 mL short" in answer.out.splitlines()


# The shop file --------------------------------------------------------------------------------------------------------


def test_the_only_resin_of_the_shop_file_is_taken_and_its_racks_are_known() -> None:
    Path("shop.toml").write_text(f"{RESIN}\n[racks]\nslow = 3\n")
    told = json.loads(ask(f"{COMMAND} --coats flood --rack slow --json").out)
    assert (told["resin"], told["speed_rpm"]) == ("ours", 3)
    batch = told["coats"][0]["batches"][0]
    assert batch["a_ml"] == 2 * batch["b_ml"]
    assert told["price"] == f"{0.04 * 30:.2f}"
    assert "medium is taken as 1 Pa·s" in ask(f"{COMMAND} --coats flood").err
    wrong = ask(f"{COMMAND} --coats flood --rack slwo")
    assert (wrong.code, wrong.err) == (2, "cupgeom: --rack: shop.toml has no rack 'slwo'; did you mean slow?\n")


def test_of_several_resins_one_is_named() -> None:
    Path("shop.toml").write_text(RESIN + RESIN.replace("ours", "other"))
    assert ask(f"{COMMAND} --coats flood").err == "cupgeom: --resin: name one of ours, other\n"
    assert ask(f"{COMMAND} --coats flood --resin other").code == 0
    wrong = ask(f"{COMMAND} --coats flood --resin others")
    assert wrong.err == "cupgeom: --resin: shop.toml has no resin 'others'; did you mean other?\n"


# The log --------------------------------------------------------------------------------------------------------------


def test_a_log_is_used_by_the_next_estimate() -> None:
    area = reference_tumbler().coated_area / 1000
    rows = [f"comet,first flood,{0.5 * area + 3},1,0,0.5", f"comet,first flood,{0.5 * area + 2.9},1,0,0.5"] * 3
    Path("log.csv").write_text("\n".join(["cup,coat,mixed,left,dripped,film", *rows]))
    answer = ask(f"{COMMAND} --coats flood --log log.csv")
    assert answer.code == 0
    assert re.search(r"^by your log  first flood: 0\.500 ± 0\.0\d\d mm$", answer.out, re.MULTILINE)
    assert re.search(r"^by your log  loss a pot: 2\.95 ± 0\.\d\d mL$", answer.out, re.MULTILINE)
    told = json.loads(ask(f"{COMMAND} --coats flood --log log.csv --json").out)
    assert told["coats"][0]["film_mm"] == pytest.approx(0.5, abs=1e-6)
    assert told["log"]["own_limit"] is None


def test_cups_of_the_log_are_found_in_the_shop_file() -> None:
    Path("shop.toml").write_text("[cups.mug]\nrim = 82\nbase = 82\nheight = 95\n")
    area = math.pi * 82 * 95 / 1000
    Path("log.csv").write_text(f"cup,coat,mixed,left\nmug,flood,{0.4 * area + 1.5},1\n")
    told = json.loads(ask(f"{COMMAND} --coats flood,flood --log log.csv --json").out)
    assert told["log"]["films_mm"]["flood"]["value"] == pytest.approx(
        0.4, abs=1e-9
    )  # 1 mL left, 0.5 mL assumed to stick


# Pictures -------------------------------------------------------------------------------------------------------------


def test_both_pictures_are_written_and_not_written_over() -> None:
    line = f"{COMMAND} --coats tack,flood -o mix.pdf -o film.svg"
    answer = ask(line)
    assert answer.code == 0
    assert answer.err.endswith("wrote mix.pdf\nwrote film.svg\n")
    first = [Path(name).read_bytes() for name in ("mix.pdf", "film.svg")]
    assert first[0].startswith(b"%PDF")
    assert ask(line).err == "cupgeom: -o: mix.pdf exists; give --force to replace it, or another name\n"
    assert ask(f"{line} --force").code == 0
    assert [Path(name).read_bytes() for name in ("mix.pdf", "film.svg")] == first


def test_the_digits_of_the_mixing_page_are_read_from_two_metres() -> None:
    """US NRC NUREG-0700 rev. 2, 1.3.1-4: 20′ of arc, 11.64 mm at 2 m; at least 16′, 9.31 mm."""
    assert 0.729 * digit_size(20) == pytest.approx(11.636, abs=1e-3)
    assert 0.729 * digit_size(16) == pytest.approx(9.308, abs=1e-3)
    document = mix_page(result_of("tack, flood, flood", cups=4), parse_paper("a4"))
    (page,) = document.pages
    texts = [item for item in page.drawing.leaves() if isinstance(item, Text)]
    large = [text for text in texts if re.fullmatch(r"[\d.]+", text.text) and text.size > 10]
    assert len(large) == 2 * sum(len(row.batches) for row in result_of("tack, flood, flood", cups=4).rows)
    assert all(text.size >= digit_size(16) - 1e-9 for text in large)
    boxes = [item for item in page.drawing.leaves() if isinstance(item, Shape) and item.name == "box to tick"]
    assert len(boxes) == sum(row.pots for row in result_of("tack, flood, flood", cups=4).rows)


def taken(text: Text) -> Box:
    """The place of a line of text; digits reach down to the baseline only."""
    box = text.bounds()
    return Box(box.left, text.at.imag, box.right, box.top) if re.fullmatch(r"[\d.]+", text.text) else box


@pytest.mark.parametrize("paper", ["a4", "letter", "a3"])
def test_nothing_on_the_mixing_page_leaves_it_or_meets(paper: str) -> None:
    coats = "tack, flood=9mm, flood, vein, clear, clear, clear"
    for page in mix_page(result_of(coats, cups=40), parse_paper(paper)).pages:
        texts = [item for item in page.drawing.leaves() if isinstance(item, Text)]
        boxes = [item.bounds() for item in page.drawing.leaves()]
        assert min(box.left for box in boxes) >= 4.8
        assert max(box.right for box in boxes) <= page.width - 4.8
        assert min(box.bottom for box in boxes) >= 4.8
        places = [(text.text, taken(text)) for text in texts]
        for (one, a), (other, b) in combinations(places, 2):
            apart = a.right <= b.left or b.right <= a.left or a.top <= b.bottom + 0.6 or b.top <= a.bottom + 0.6
            assert apart, (one, other)


def test_a_page_too_small_for_the_wall_is_refused() -> None:
    for paper in ("a5", "roll 300mm", "fit"):
        with pytest.raises(CupgeomError, match=r"^paper: "):
            mix_page(result_of("flood"), parse_paper(paper))


def test_the_film_is_thickest_where_the_wall_rises_and_the_limit_is_dashed() -> None:
    document = film_picture(result_of("flood, flood"))
    shapes = {item.name: item for item in document.pages[0].drawing.leaves() if isinstance(item, Shape)}
    limit, wall = shapes["film at the drip limit"], shapes["wall"]
    assert limit.stroke is not None
    assert limit.stroke.dashes
    outer, inner = limit.path.bounds(), wall.path.bounds()
    right, left = outer.right - inner.right, inner.left - outer.left
    # at the limit the film is 1 of the scale at θ = 0, and 0.5960 at 180°: H³ + 3H = 2, by Cardano's formula
    root = math.cbrt(1 + math.sqrt(2)) + math.cbrt(1 - math.sqrt(2))
    assert left / right == pytest.approx(root, rel=1e-3)
    assert b"<svg" in svg.render(document)


def test_no_film_is_drawn_that_the_wall_does_not_hold() -> None:
    document = film_picture(result_of("flood=2mm"))
    names = [item.name for item in document.pages[0].drawing.leaves() if isinstance(item, Shape)]
    assert "film at the drip limit" in names
    assert not any(name.startswith("film, ") for name in names)
    texts = [item.text for item in document.pages[0].drawing.leaves() if isinstance(item, Text)]
    assert any("no smooth film, expect drips" in text for text in texts)


def test_a_written_page_reads_back() -> None:
    import pypdfium2

    document = pypdfium2.PdfDocument(pdf.render(mix_page(result_of("tack, flood"), parse_paper("a4"))))
    words = document[0].get_textpage().get_text_bounded()
    assert "first flood" in words
    assert "17.2" in words  # 15 mL of 1.15 g/mL
    assert "15.8" in words  # 15 mL of 1.05 g/mL


# Refusals -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ("--coats 'tack, flod'", "--coats: no coat 'flod'; did you mean flood?"),
        ("--coats ''", "--coats: is empty; give coats such as tack, flood, flood=0.6mm, vein=26mL/3@2%, clear"),
        ("--coats flood --rack 0rpm", "--rack: must be greater than 0 rpm, got 0 rpm"),
        ("--coats flood --rack fast", "--rack: cannot read 'fast'; give turns a minute such as 5rpm"),
        ("--coats flood --room 200", "--room: must be from 0 to 100 °C, got 200 °C"),
        ("--coats flood --warm-cup 10", "--warm-cup: must be at least the room's 22 °C, got 10 °C"),
        ("--coats flood --cups 0", "--cups: must be at least 1 cups, got 0 cups"),
        ("--coats flood --mark 0", "--mark: must be greater than 0 mL, got 0 mL"),
        ("--coats flood --mark nan", "--mark: must be a finite number of mL, got nan"),
        ("--coats flood --flake 1 --voids 70", "--voids: must be at most 1, got 70; 70 % is 0.7"),
        ("--coats flood --bottles 400", "--bottles: cannot read '400'; give the mL of A and of B such as 400,350"),
        ("--coats flood -o mix.png", "-o: unknown ending of 'mix.png'; give mix.pdf, film.svg, or both"),
        ("--coats flood --log none.csv", "none.csv: does not exist; check its name and folder"),
        (
            "--coats flood --minutes-a-cup 60",
            "--minutes-a-cup: a cup takes 60 min, a pot of 33.0 g for the first flood coat lasts 40.0 min; "
            "be faster or take a slower resin",
        ),
    ],
)
def test_what_cannot_be_used_is_said_in_one_line(options: str, message: str) -> None:
    answer = ask(f"{COMMAND} {options}")
    assert (answer.code, answer.out, answer.err) == (2, "", f"cupgeom: {message}\n")


def test_text_among_the_numbers_of_a_log_is_named_by_row_and_column() -> None:
    Path("log.csv").write_text("cup,coat,mixed\ncomet,flood,some\ncomet,flod,20\n")
    answer = ask(f"{COMMAND} --coats flood --log log.csv")
    assert (answer.code, answer.out) == (2, "")
    assert answer.err.splitlines() == [
        "cupgeom: log.csv:2: mixed: must be a number of mL from 0 to 10000, got 'some'",
        "cupgeom: log.csv:3: coat: no coat 'flod'; did you mean flood?",
    ]
