"""The proof page: opened in a browser without a screen, turned by keys and by dragging, asking for nothing outside."""

from __future__ import annotations

import contextlib
import io
import json
import math
import os
import re
import shutil
import subprocess
from base64 import b64decode
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from cupgeom import Cup
from cupgeom.drawing import Affine, Colour, Drawing, Picture, Shape, circle
from cupgeom.flatten import to_sheet
from cupgeom.proof.camera import camera
from cupgeom.proof.finished import FinishedCup
from cupgeom.proof.layer import Laid
from cupgeom.proof.model import model
from cupgeom.proof.page import Letter, ProofPage, letters
from cupgeom.proof.picture import picture
from cupgeom.writers import html

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
BROWSER = pytest.mark.skipif(CHROMIUM is None, reason="chromium is not installed")
RED, BLUE, SAND = (0.85, 0.1, 0.1), (0.1, 0.2, 0.85), (0.93, 0.88, 0.75)


def finished() -> FinishedCup:
    """A sand-coloured tumbler with a red disc at the front and a blue one at the right."""
    cup = Cup.frustum(88, 70, 170, bare_lip=6)

    def disc(turn_deg: float, colour: Colour) -> Shape:
        centre = complex(*to_sheet(cup.walls[0], math.radians(turn_deg), 85.0))
        return Shape(path=circle(centre, 20), role="print", fill=colour)

    drawing = Drawing((disc(0, RED), disc(90, BLUE)))
    return FinishedCup(cup=cup, base=SAND, layers=(Laid(wall_index=0, drawing=drawing, clear=False),))


def page(title: str = "Comet night") -> ProofPage:
    still = Picture(pixels=bytes([9, 9, 9, 255]) * 4, columns=2, rows=2, place=Affine())
    return ProofPage(
        title=title,
        mesh=model(finished(), 60),
        mark="7K2M-QX04",
        sizes=(("rim", "88 mm"), ("base", "70 mm")),
        lines=("2 pieces",),
        names=("Zoë O0", "lI1"),
        still=still,
    )


# The markup -----------------------------------------------------------------------------------------------------------


class Reader(HTMLParser):
    """The tags of a page with what stands in them."""

    def __init__(self, data: bytes) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[str] = []
        self.feed(data.decode())

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        if self.tags and self.tags[-1][0] not in ("script", "style"):
            self.texts.append(data.strip())


def test_nothing_in_the_page_leads_outside() -> None:
    data = html.render(page())
    addresses = [value for _, attrs in Reader(data).tags for key, value in attrs.items() if key in ("src", "href")]
    assert len(addresses) == 2 and all(address.startswith("data:") for address in addresses)
    assert not re.findall(rb"https?://|@import|url\(", data)


def test_same_page_same_bytes() -> None:
    assert html.render(page()) == html.render(page())


@pytest.mark.parametrize("title", ['</title><script>alert("x")</script>', "a & b < c", "\ud800 half a pair"])
def test_a_title_is_only_ever_text(title: str) -> None:
    reader = Reader(html.render(page(title)))
    assert [tag for tag, _ in reader.tags].count("script") == 2
    assert title.replace("\ud800", "?") in reader.texts


def test_names_are_read_letter_by_letter() -> None:
    # kinds: general categories of the Unicode Character Database, in words
    assert letters("Zoë 0") == (
        Letter("Z", "capital"), Letter("o", "small"), Letter("ë", "small, diaeresis"), Letter(" ", "space"),
        Letter("0", "digit"),
    )  # fmt: skip
    assert [letter.kind for letter in letters("lI1-")] == ["small", "capital", "digit", "hyphen-minus"]
    assert [letter.text for letter in letters("e\u0301a")] == ["e\u0301", "a"]
    assert letters("e\u0301")[0].kind == "small, acute"
    assert [letter.kind for letter in letters("نΩ")] == ["arabic letter noon", "greek capital letter omega"]
    texts = Reader(html.render(page())).texts
    assert texts[texts.index("Zoë O0") + 1 :][:12] == [
        "Z", "capital", "o", "small", "ë", "small, diaeresis", "␣", "space", "O", "capital", "0", "digit",
    ]  # fmt: skip


def test_sizes_lines_and_the_mark_stand_on_the_page() -> None:
    texts = Reader(html.render(page())).texts
    assert all(text in texts for text in ("7K2M-QX04", "rim", "88 mm", "base", "70 mm", "2 pieces"))


# In a browser ---------------------------------------------------------------------------------------------------------


class Tab:
    """A page in Chromium, spoken to through its debugging pipe (Chrome DevTools Protocol, messages ended by a 0)."""

    def __init__(self, folder: Path, data: bytes) -> None:
        file = folder / "proof.html"
        file.write_bytes(data)
        hears, self._to = os.pipe()
        self._from, says = os.pipe()
        flags = (
            "--headless --no-sandbox --use-gl=angle --use-angle=swiftshader --enable-unsafe-swiftshader --no-first-run"
        )
        command = f'exec {CHROMIUM} {flags} --disable-extensions --user-data-dir="{folder / "profile"}" '
        command += f"--window-size=480,560 --remote-debugging-pipe 3<&{hears} 4>&{says}"
        self.process = subprocess.Popen(
            ["bash", "-c", command], pass_fds=(hears, says), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        os.close(hears)
        os.close(says)
        self._buffer, self._count, self._session = b"", 0, ""
        self.events: list[dict[str, Any]] = []
        self._address = file.as_uri()
        target = self.ask("Target.createTarget", url="about:blank")["targetId"]
        self._session = self.ask("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.ask(f"{domain}.enable")

    def open(self) -> None:
        """Load the page and wait until its pictures are there and drawn."""
        self.ask("Page.navigate", url=self._address)
        self.value(
            "new Promise(done => { const look = () => document.body && document.body.dataset.ready"
            " ? requestAnimationFrame(() => requestAnimationFrame(() => done(1))) : setTimeout(look, 20); look(); })"
        )

    def ask(self, method: str, **params: Any) -> dict[str, Any]:
        self._count += 1
        message = {"id": self._count, "method": method, "params": params}
        if self._session:
            message["sessionId"] = self._session
        os.write(self._to, json.dumps(message).encode() + b"\0")
        while True:
            while b"\0" not in self._buffer:
                more = os.read(self._from, 1 << 16)
                assert more, "the browser went away"
                self._buffer += more
            line, self._buffer = self._buffer.split(b"\0", 1)
            answer = json.loads(line)
            if answer.get("id") == self._count:
                assert "error" not in answer, answer
                return dict(answer["result"])
            self.events.append(answer)

    def value(self, expression: str) -> Any:
        answer = self.ask("Runtime.evaluate", expression=expression, awaitPromise=True, returnByValue=True)
        assert "exceptionDetails" not in answer, answer
        return answer["result"].get("value")

    def press(self, key: str) -> None:
        for kind in ("keyDown", "keyUp"):
            self.ask("Input.dispatchKeyEvent", type=kind, key=key)
        self.drawn()

    def drawn(self) -> None:
        self.value("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(() => done(1))))")

    def box(self) -> tuple[float, float, float, float]:
        """Left, top, width and height of the canvas."""
        box = "document.getElementById('cup').getBoundingClientRect()"
        found = self.value(f"(() => {{ const b = {box}; return [b.x, b.y, b.width, b.height]; }})()")
        return found[0], found[1], found[2], found[3]

    def canvas(self) -> np.ndarray[Any, np.dtype[np.uint8]]:
        """What the canvas shows, as red, green and blue."""
        shot = Image.open(io.BytesIO(b64decode(self.ask("Page.captureScreenshot")["data"]))).convert("RGB")
        left, top, width, height = self.box()
        inset = 4  # keeps the ring round a focused canvas out
        sides = (left + inset, top + inset, left + width - inset, top + height - inset)
        return np.asarray(shot.crop(tuple(map(round, sides))))

    def turn(self) -> tuple[str, str]:
        name = "document.getElementById('cup').getAttribute"
        return self.value(f"{name}('aria-valuenow')"), self.value(f"{name}('aria-valuetext')")

    def complaints(self) -> list[dict[str, Any]]:
        """Everything that a console would show."""
        kinds = {"Runtime.consoleAPICalled", "Runtime.exceptionThrown", "Log.entryAdded"}
        return [event for event in self.events if event["method"] in kinds]

    def requests(self) -> list[str]:
        sent = [
            event["params"]["request"]["url"] for event in self.events if event["method"] == "Network.requestWillBeSent"
        ]
        return [url for url in sent if not url.startswith("data:")]

    def close(self) -> None:
        with contextlib.suppress(OSError):
            os.write(self._to, json.dumps({"id": 0, "method": "Browser.close"}).encode() + b"\0")
        try:
            self.process.wait(10)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
        os.close(self._to)
        os.close(self._from)


@pytest.fixture(scope="module")
def tab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Tab]:
    """The page opened by someone who asked for little motion."""
    opened = Tab(tmp_path_factory.mktemp("browser"), html.render(page()))
    try:
        opened.ask("Emulation.setEmulatedMedia", features=[{"name": "prefers-reduced-motion", "value": "reduce"}])
        opened.open()
        yield opened
    finally:
        opened.close()


def share_of(picture: np.ndarray[Any, np.dtype[np.uint8]], colour: Colour) -> float:
    """Share of pixels in which the strongest part of a colour leads as clearly as in it."""
    parts = picture.astype(int)
    lead = int(np.argmax(colour))
    others = np.delete(parts, lead, axis=2).max(axis=2)
    return float((parts[:, :, lead] - others > 70).mean())


@BROWSER
def test_the_cup_is_drawn_without_a_complaint_or_a_request(tab: Tab) -> None:
    tab.value("document.getElementById('cup').focus()")
    tab.press("Home")
    seen = tab.canvas()
    assert tab.value("document.getElementById('still').hidden") is True
    assert (seen[0] == 255).all()  # white around it
    assert share_of(seen, RED) > 0.01 and share_of(seen, BLUE) < 0.005
    assert 0.2 < float((seen.min(axis=2) < 250).mean()) < 0.9
    assert tab.complaints() == []
    assert [url.rsplit("/", 1)[-1] for url in tab.requests()] == ["proof.html"]


@BROWSER
def test_the_browser_shows_what_the_picture_shows(tab: Tab) -> None:
    tab.value("document.querySelector('button[data-turn=\"0\"]').click()")
    tab.drawn()
    seen = tab.canvas().astype(float)
    _, _, width, height = tab.box()
    cup = finished()
    still = picture(cup, cup.textures(60), camera(cup, 0.0, round(width), round(height)))
    drawn = np.frombuffer(still.pixels, np.uint8).reshape(still.rows, still.columns, 4)[4:-4, 4:-4].astype(float)
    rows, columns = (min(sides) for sides in zip(drawn.shape[:2], seen.shape[:2], strict=True))  # whole pixels differ
    drawn, seen = drawn[:rows, :columns], seen[:rows, :columns]
    share = drawn[:, :, 3:] / 255
    apart = np.abs(drawn[:, :, :3] * share + 255 * (1 - share) - seen).max(axis=2)
    assert float(apart.mean()) < 4
    assert float((apart < 24).mean()) > 0.97  # edges are softened in two ways


@BROWSER
def test_it_stands_still_for_those_who_ask_for_little_motion(tab: Tab) -> None:
    before = tab.canvas()
    tab.value("new Promise(done => setTimeout(() => done(1), 300))")
    assert (tab.canvas() == before).all()
    assert tab.value("document.getElementById('spin').textContent") == "Turn by itself"


@BROWSER
def test_it_turns_by_key(tab: Tab) -> None:
    tab.value("document.getElementById('cup').focus()")
    tab.press("Home")
    assert tab.turn() == ("0", "front")
    for _ in range(6):
        tab.press("ArrowRight")
    assert tab.turn() == ("90", "right")
    seen = tab.canvas()
    assert share_of(seen, BLUE) > 0.01 and share_of(seen, RED) < 0.005
    tab.press("ArrowUp")
    assert tab.turn() == ("95", "right, 5 degrees to the right")
    tab.press("End")
    assert tab.turn()[1] == "back"
    assert share_of(tab.canvas(), RED) < 0.005


@BROWSER
def test_it_turns_by_dragging_and_by_buttons(tab: Tab) -> None:
    left, top, width, height = tab.box()
    tab.value("document.querySelector('button[data-turn=\"0\"]').click()")
    assert tab.turn() == ("0", "front")
    x, y = left + width / 2, top + height / 2
    tab.ask("Input.dispatchMouseEvent", type="mousePressed", x=x, y=y, button="left", clickCount=1)
    tab.ask("Input.dispatchMouseEvent", type="mouseMoved", x=x - 60, y=y, button="left", buttons=1)
    tab.ask("Input.dispatchMouseEvent", type="mouseReleased", x=x - 60, y=y, button="left")
    assert tab.turn() == ("30", "front, 30 degrees to the right")
    tab.value("document.querySelector('button[data-turn=\"-90\"]').click()")
    assert tab.turn() == ("-90", "left")


@BROWSER
def test_it_turns_by_touch(tab: Tab) -> None:
    left, top, width, height = tab.box()
    tab.value("document.querySelector('button[data-turn=\"0\"]').click()")
    x, y = left + width / 2, top + height / 2
    tab.ask("Input.dispatchTouchEvent", type="touchStart", touchPoints=[{"x": x, "y": y}])
    for step in range(1, 11):
        tab.ask("Input.dispatchTouchEvent", type="touchMove", touchPoints=[{"x": x + 8 * step, "y": y}])
    tab.ask("Input.dispatchTouchEvent", type="touchEnd", touchPoints=[])
    assert -41 <= int(tab.turn()[0]) <= -20  # a browser may keep the first few pixels to itself


@BROWSER
def test_it_turns_by_itself_only_when_asked(tab: Tab) -> None:
    tab.value("document.querySelector('button[data-turn=\"0\"]').click()")
    before = tab.canvas()
    tab.value("document.getElementById('spin').click()")
    tab.value("new Promise(done => setTimeout(() => done(1), 400))")
    assert (tab.canvas() != before).any()
    assert tab.value("document.getElementById('spin').getAttribute('aria-pressed')") == "true"
    tab.value("document.getElementById('spin').click()")
    tab.drawn()
    assert tab.complaints() == []
