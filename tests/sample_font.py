"""Fonts for tests: small ones built on the spot, whose numbers are plain, and real ones where they are installed."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from importlib.resources import files
from pathlib import Path

import pytest
from fontTools.feaLib.builder import addOpenTypeFeaturesFromString
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTCollection, TTFont

from cupgeom.decor.font import Font

Ring = Sequence[tuple[float, float]]

ROOT = Path(__file__).parents[1]
CORPUS = ROOT.parent / "shared" / "corpus" / "fonts"
EM, ADVANCE, LEFT, WIDTH, CAP = 1000, 600, 100, 400, 700  # of the built fonts, in their own units
FILES: dict[str, Callable[[], Path]] = {
    "Great Vibes": lambda: ROOT / "templates-demo" / "fonts" / "GreatVibes-Latin.ttf",
    "Dancing Script": lambda: packaged("fontpkg_dancing_script", "DancingScript[wght].ttf"),
    "Hind": lambda: packaged("fontpkg_hind", "Hind-Regular.ttf"),
    "Amiri": lambda: packaged("fontpkg_amiri", "Amiri-Regular.ttf"),
    "Lobster": lambda: in_corpus("fonts-lobster/opentype/lobster/lobster.otf"),
    "Dancing Script CFF": lambda: in_corpus("fonts-dancingscript/opentype/dancingscript/DancingScript-Regular.otf"),
    "DejaVu Sans": lambda: in_corpus("fonts-dejavu-core/truetype/dejavu/DejaVuSans.ttf"),
    "Sawarabi Gothic": lambda: in_corpus("fonts-sawarabi-gothic/truetype/sawarabi-gothic/sawarabi-gothic-medium.ttf"),
    "Inter WOFF2": lambda: in_corpus("vf-inter/inter-latin-wght-normal.woff2"),
}


def packaged(package: str, name: str) -> Path:
    return Path(str(files(package) / "files" / name))


def in_corpus(name: str) -> Path:
    if not (CORPUS / name).exists():
        pytest.skip("the shared corpus is not here")
    return CORPUS / name


def real(name: str, **settings: object) -> Font:
    file = FILES[name]()
    return Font(data=file.read_bytes(), name=file.name, **settings)  # type: ignore[arg-type]


def fonttools(name: str) -> TTFont:
    return TTFont(io.BytesIO(FILES[name]().read_bytes()))


def box(height: float, *, left: float = LEFT, width: float = WIDTH) -> Ring:
    """A rectangle that stands on the baseline; clockwise, as outer rings of TrueType are."""
    return [(left, 0), (left, height), (left + width, height), (left + width, 0)]


def built(
    shapes: dict[str, Sequence[Ring] | None],
    features: str = "",
    *,
    extra: dict[str, Sequence[Ring]] | None = None,
    em: int = EM,
    advances: dict[str, int] | None = None,
) -> bytes:
    """A TrueType font of straight rings for characters, and extra ones for names that only features use.

    The glyph of a character is called by its name in features if it is an ASCII letter, else uni and its code.
    """
    names = {character: glyph_name(character) for character in shapes}
    rings = {".notdef": [box(500)]} | {names[c]: shape or [] for c, shape in shapes.items()} | (extra or {})
    builder = FontBuilder(em, isTTF=True)
    builder.setupGlyphOrder(list(rings))
    builder.setupCharacterMap({ord(character): name for character, name in names.items()})
    builder.setupGlyf({name: _glyph(given) for name, given in rings.items()})
    starts = {name: round(min((x for ring in given for x, _ in ring), default=0)) for name, given in rings.items()}
    builder.setupHorizontalMetrics({name: ((advances or {}).get(name, ADVANCE), starts[name]) for name in rings})
    builder.setupHorizontalHeader(ascent=800, descent=-200)
    builder.setupNameTable({"familyName": "Built", "styleName": "Regular"})
    builder.setupOS2(sCapHeight=CAP, sxHeight=CAP // 2)
    builder.setupPost()
    if features:
        addOpenTypeFeaturesFromString(builder.font, features)
    return saved(builder.font)


def built_font(shapes: dict[str, Sequence[Ring] | None], features: str = "", **more: object) -> Font:
    return Font(data=built(shapes, features, **more), name="built.ttf")  # type: ignore[arg-type]


def bars(characters: str) -> tuple[Font, dict[int, str]]:
    """A font of boxes, each of a height of its own, and which character has which height."""
    heights = {300 + 10 * index: character for index, character in enumerate(characters)}
    return built_font({character: [box(height)] for height, character in heights.items()}), heights


def glyph_name(character: str) -> str:
    return character if character.isascii() and character.isalpha() else f"uni{ord(character):04X}"


def collection(*fonts: bytes) -> bytes:
    group = TTCollection()
    group.fonts = [TTFont(io.BytesIO(font)) for font in fonts]
    return saved(group)


def saved(font: TTFont | TTCollection) -> bytes:
    out = io.BytesIO()
    font.save(out)
    return out.getvalue()


def _glyph(rings: Sequence[Ring]) -> object:
    pen = TTGlyphPen(None)
    for ring in rings:
        pen.moveTo(ring[0])
        for point in ring[1:]:
            pen.lineTo(point)
        pen.closePath()
    return pen.glyph()
