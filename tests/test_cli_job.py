"""`cupgeom job`: everything from one file, the same twice, no more than has changed, and nothing lost on a bad disk."""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import icalendar
import pypdfium2
import pytest

from cupgeom.workshop import show

from .command_line import Answer, ask

DEMO = Path(__file__).parent.parent / "templates-demo"
EVERYTHING = {
    "template.pdf", "sleeve.pdf", "decal-comet.pdf", "decal-comet-cut.svg", "decal-motto.pdf", "decal-motto-cut.svg",
    "mix.pdf", "plan.txt", "plan.ics", "cost.txt", "proof.png", "proof.html", "proof.glb", "job-sheet.pdf", "job.json",
    "manifest.json",
}  # fmt: skip
SHOWN = {"proof.png", "proof.html", "proof.glb", "job-sheet.pdf", "job.json", "manifest.json"}


@pytest.fixture(scope="module", autouse=True)
def _small_pictures() -> Iterator[None]:
    """Proofs with few pixels, since here only their bytes are compared."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(show, "COLUMNS", 480)
        patch.setattr(show, "STILL_COLUMNS", 480)
        patch.setattr(show, "VIEW", (140, 180))
        yield


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's folder with everything made once."""
    home = tmp_path_factory.mktemp("demo")
    shutil.copytree(DEMO / "fonts", home / "fonts")
    (home / "job").mkdir()
    for name in ("comet-night.toml", "shop.toml", "comet.svg"):
        shutil.copy(DEMO / "comet-night" / name, home / "job" / name)
    answer = make(home / "job" / "comet-night.toml", home / "out")
    assert answer.code == 0, answer.err
    return home


@pytest.fixture
def home(first: Path, tmp_path: Path) -> Path:
    """A copy of it to change."""
    shutil.copytree(first, tmp_path / "demo")
    return tmp_path / "demo"


def make(path: Path, out: Path, *more: str) -> Answer:
    return ask(f"job '{path}' -o '{out}' {' '.join(more)}")


def again(home: Path, *changes: tuple[str, str]) -> set[str]:
    """Change words of the job, make it again, and give the names of the files that changed."""
    path, before = home / "job" / "comet-night.toml", contents(home / "out")
    text = path.read_text()
    for old, new in changes:
        assert text.count(old) == 1
        text = text.replace(old, new)
    path.write_text(text)
    answer = make(path, home / "out")
    assert answer.code == 0, answer.err
    after = contents(home / "out")
    return {name for name in before | after if before.get(name) != after.get(name)}


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def numbers(home: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((home / "out" / "job.json").read_text())
    return found


def pdf_text(path: Path) -> str:
    document = pypdfium2.PdfDocument(path)
    return "\n".join(page.get_textpage().get_text_bounded() for page in document)


# What is made ---------------------------------------------------------------------------------------------------------


def test_one_command_makes_everything_with_progress_on_stderr(first: Path) -> None:
    assert set(contents(first / "out")) == EVERYTHING


def test_a_second_run_makes_nothing_and_a_run_elsewhere_the_same_bytes(home: Path) -> None:
    before = contents(home / "out")
    answer = make(home / "job" / "comet-night.toml", home / "out")
    assert "0 of 13 made again" in answer.out
    assert contents(home / "out") == before
    elsewhere = make(home / "job" / "comet-night.toml", home / "other")
    assert "1 of 13: template.pdf" in elsewhere.err
    assert contents(home / "other") == before


def test_numbers_agree_in_json_job_sheet_tables_and_commands(first: Path) -> None:
    found, sheet = numbers(first), pdf_text(first / "out" / "job-sheet.pdf")
    area = found["cup"]["coated_area_mm2"]
    told = json.loads(ask(f"area --cup 'comet night tumbler' --shop '{first / 'job' / 'shop.toml'}' --json").out)
    assert told["coated_area_mm2"] == area
    assert f"{area / 100:.2f} cm²" in sheet
    assert f"{found['resin_ml']:.1f} mL" in sheet
    for decal in found["decals"]:
        assert f"{decal['width_mm']:.1f} x {decal['height_mm']:.1f} mm" in sheet
        assert f"{decal['drop_mm']:.1f} mm" in sheet
    assert found["mark"] in sheet
    cost = (first / "out" / "cost.txt").read_text()
    assert f"{found['resin_ml']:.0f} mL" in cost
    assert found["cost"]["price"] in cost
    assert "In service from Thursday 2026-03-12" in sheet


def test_the_calendar_is_stamped_with_the_start_of_the_job(first: Path) -> None:
    events = icalendar.Calendar.from_ical((first / "out" / "plan.ics").read_bytes()).walk("VEVENT")
    assert {event["DTSTAMP"].dt.date().isoformat() for event in events} == {"2026-03-02"}
    starts = {event["DTSTART"].dt.isoformat(timespec="minutes") for event in events}
    assert {task["start"] for task in numbers(first)["plan"]["tasks"]} <= starts


# What is made again ---------------------------------------------------------------------------------------------------


def test_a_decal_moved_by_10_mm_is_found_wherever_it_shows(home: Path) -> None:
    assert again(home, ('drop = "62mm"', 'drop = "72mm"')) == {
        "sleeve.pdf",
        "decal-comet.pdf",
        "decal-comet-cut.svg",
        *SHOWN,
    }
    assert [decal["drop_mm"] for decal in numbers(home)["decals"]] == [72.0, 112.0]
    assert "middle 72 mm" in pdf_text(home / "out" / "decal-comet.pdf")
    assert "72.0 mm" in pdf_text(home / "out" / "job-sheet.pdf")


def test_a_coat_of_30_ml_in_place_of_20_is_found_in_the_mix_and_under_the_decals(home: Path) -> None:
    before = numbers(home)
    found = again(home, ("ml = 20", "ml = 30"))
    assert found == EVERYTHING - {"template.pdf", "plan.txt", "plan.ics"}
    after = numbers(home)
    applied = [[coat["applied_ml"] for coat in one["resin_of_a_lot"]["coats"]] for one in (before, after)]
    assert [round(late - early, 9) for early, late in zip(*applied, strict=True)] == [0, 0, 10, 0, 0]
    assert after["plan"] == before["plan"]
    assert f"{after['resin_ml']:.1f} mL" in pdf_text(home / "out" / "job-sheet.pdf")


def test_a_later_start_changes_plan_and_sheet_alone(home: Path) -> None:
    found = again(home, ("2026-03-02", "2026-03-03"))
    assert found == {"plan.txt", "plan.ics", "job-sheet.pdf", "job.json", "manifest.json"}
    assert numbers(home)["plan"]["tasks"][0]["start"] == "2026-03-03T08:00"
    assert "2026-03-03" in pdf_text(home / "out" / "job-sheet.pdf")


def test_a_file_that_was_lost_or_spoilt_is_made_again_and_one_no_longer_wanted_goes(home: Path) -> None:
    before = contents(home / "out")
    (home / "out" / "mix.pdf").unlink()
    (home / "out" / "cost.txt").write_text("spoilt")
    answer = make(home / "job" / "comet-night.toml", home / "out")
    assert "2 of 13 made again" in answer.out
    assert contents(home / "out") == before
    (home / "out" / "mine.txt").write_text("kept")
    again(home, ("start = 2026-03-02\n", ""))
    assert set(contents(home / "out")) == EVERYTHING - {"plan.txt", "plan.ics"} | {"mine.txt"}


def test_the_correction_of_the_printer_goes_into_what_is_printed_to_scale(home: Path) -> None:
    shop = home / "job" / "shop.toml"
    shop.write_text(shop.read_text() + "\n[printers.desk.a3]\nacross = 0.99\nalong = 1.01\n")
    found = again(home, ("quantity = 4", 'printer = "desk"\nquantity = 4'))
    assert found == {"template.pdf", "sleeve.pdf", "decal-comet.pdf", "decal-motto.pdf", "manifest.json"}
    path = home / "job" / "comet-night.toml"
    path.write_text(path.read_text().replace('"desk"', '"dusk"'))
    answer = make(path, home / "out")
    assert answer.code == 2
    assert f"{path}: printer: " in answer.err


# What is refused ------------------------------------------------------------------------------------------------------


def test_a_file_that_is_not_of_the_job_is_left_alone_unless_forced(home: Path) -> None:
    shutil.rmtree(home / "out")
    (home / "out").mkdir()
    (home / "out" / "cost.txt").write_text("mine")
    answer = make(home / "job" / "comet-night.toml", home / "out")
    assert answer.code == 2
    assert "cost.txt is not of this job; give --force" in answer.err
    assert contents(home / "out") == {"cost.txt": b"mine"}


@pytest.mark.parametrize("place", ["job", ".", "job/comet-night.toml", "no/such"])
def test_a_folder_that_holds_the_input_or_cannot_be_is_refused(home: Path, place: str) -> None:
    before = contents(home / "job")
    answer = make(home / "job" / "comet-night.toml", home / place)
    assert answer.code == 2
    assert answer.err.startswith("cupgeom: -o: ")
    assert contents(home / "job") == before


def test_a_manifest_that_is_not_ours_or_leads_out_of_the_folder_is_refused(home: Path) -> None:
    for text in ("{}", "not json", '{"outputs": {"x": {"key": "", "files": {"../job/shop.toml": ""}}}}'):
        (home / "out" / "manifest.json").write_text(text)
        answer = make(home / "job" / "comet-night.toml", home / "out")
        assert answer.code == 2
        assert "is no manifest of a job" in answer.err


def test_a_job_with_ten_faults_reports_ten_each_at_its_line(tmp_path: Path) -> None:
    (tmp_path / "bad.toml").write_text(
        "cup = { rim = -1, base = 70, height = 170 }\nquantity = 0\nstart = 5\nwhat = 1\nrack = -2\n"
        'steps = ["floood", { do = "flood", ml = -3 }, { do = "decal", decals = ["a"] }]\n'
        '[decals.a]\nart = "../a.svg"\nmedium = "gold"\nwidth = "10 parsec"\ndrop = 5\n'
    )
    answer = ask(f"job '{tmp_path / 'bad.toml'}' --check")
    assert answer.code == 2
    said = answer.err.splitlines()
    assert len(said) == 10, answer.err
    assert all(line.startswith(f"cupgeom: {tmp_path / 'bad.toml'}:") for line in said)


def test_check_says_what_art_and_order_of_work_refuse_each_at_its_line_and_writes_nothing(home: Path) -> None:
    path = home / "job" / "comet-night.toml"
    before = contents(home / "job")
    good = ask(f"job '{path}' --check")
    assert good.code == 0
    assert "nothing is wrong" in good.out
    assert "seal the print" in good.err
    assert contents(home / "job") == before
    text = path.read_text().replace("comet.svg", "comit.svg").replace('drop = "112mm"', 'drop = "500mm"')
    path.write_text(text)
    bad = ask(f"job '{path}' --check")
    assert bad.code == 2
    lines = text.splitlines()
    for said, key in zip(bad.err.splitlines(), ("[decals.comet]", "[decals.motto]"), strict=True):
        assert said.startswith(f"cupgeom: {path}:{lines.index(key) + 1}: decals.")


def test_files_outside_the_job_are_refused_unless_allowed(home: Path) -> None:
    path = home / "job" / "comet-night.toml"
    shutil.move(home / "job" / "comet.svg", home / "comet.svg")
    path.write_text(path.read_text().replace('"comet.svg"', '"../comet.svg"'))
    assert ask(f"job '{path}' --check").code == 2
    assert ask(f"job '{path}' --check --allow-outside").code == 0


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("job", "FILE: is missing"),
        ("job x.toml", "-o: give -o DIR"),
        ("job x.toml --check -o out", "-o: give -o DIR"),
        ("job x.toml --new y", "--new: stands alone"),
        ("job x.toml --check", "x.toml: does not exist"),
    ],
)
def test_what_does_not_go_together_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, line: str, said: str
) -> None:
    monkeypatch.chdir(tmp_path)
    answer = ask(line)
    assert answer.code == 2
    assert said in answer.err
    assert list(tmp_path.iterdir()) == []


def test_a_new_job_is_written_once_and_reads(tmp_path: Path) -> None:
    new = tmp_path / "comet"
    assert ask(f"job --new '{new}'").code == 0
    shutil.copy(DEMO / "comet-night" / "comet.svg", new / "comet.svg")
    shutil.copy(DEMO / "fonts" / "GreatVibes-Latin.ttf", new / "script.ttf")
    checked = ask(f"job '{new / 'job.toml'}' --check")
    assert checked.code == 0, checked.err
    assert "exists" in ask(f"job --new '{new}'").err


# A bad disk -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("place", "spared"), [("fsync", 3), ("replace", 0)])
def test_a_full_disk_leaves_the_last_good_set(
    home: Path, monkeypatch: pytest.MonkeyPatch, place: str, spared: int
) -> None:
    before = contents(home / "out")
    path = home / "job" / "comet-night.toml"
    path.write_text(path.read_text().replace("2026-03-02", "2026-03-03"))
    real: Callable[..., Any] = getattr(os, place)
    calls: Iterator[int] = iter(range(1000))

    def faulty(*args: Any) -> Any:
        if next(calls) >= spared:
            raise OSError(28, "No space left on device")
        return real(*args)

    with monkeypatch.context() as patch:
        patch.setattr(os, place, faulty)
        answer = make(path, home / "out")
    assert answer.code == 1
    assert "No space left on device" in answer.err
    assert contents(home / "out") == before
    assert make(path, home / "out").code == 0
    assert numbers(home)["start"] == "2026-03-03"


def test_a_run_that_dies_between_renames_is_put_right_by_the_next(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = home / "job" / "comet-night.toml"
    path.write_text(path.read_text().replace("2026-03-02", "2026-03-03"))
    real, calls = os.replace, iter(range(1000))

    def faulty(*args: Any) -> None:
        if next(calls) == 2:
            raise OSError(5, "Input/output error")
        real(*args)

    with monkeypatch.context() as patch:
        patch.setattr(os, "replace", faulty)
        assert make(path, home / "out").code == 1
    assert set(contents(home / "out")) == EVERYTHING
    assert make(path, home / "out").code == 0
    assert numbers(home)["start"] == "2026-03-03"
    assert "0 of 13 made again" in make(path, home / "out").out
