"""A proof as one HTML page that needs nothing else: the turning cup, sizes, each name letter by letter.

Everything is inside the file, and its content security policy lets nothing in from outside. Without WebGL, or without
script, the still picture stands in its place.
"""

from __future__ import annotations

import json
from base64 import b64encode
from hashlib import sha256
from html import escape
from typing import Any

import numpy as np

from cupgeom.decor.sight import EYE_DISTANCE
from cupgeom.drawing import Picture
from cupgeom.pixels import png
from cupgeom.proof.camera import LOOK_DOWN, SHADOW_REACH
from cupgeom.proof.mesh import Mesh, Part
from cupgeom.proof.page import ProofPage, letters
from cupgeom.writers.html_turning import PIXELS, SCRIPT, VERTICES

_INSIDE = ("inside", "floor")  # parts that grow darker the deeper they lie
_STYLE = """
:root { color: #292b33; background: #fff; font: 17px/1.5 system-ui, sans-serif; }
body { margin: 0 auto; max-width: 62rem; padding: 1.2rem; }
h1 { font-size: 1.7rem; line-height: 1.2; margin: 0 0 .2rem; overflow-wrap: anywhere; }
h2 { font-size: 1.15rem; margin: 1.6rem 0 .5rem; }
h3 { font-size: 1rem; margin: 1rem 0 .3rem; overflow-wrap: anywhere; }
.mark { color: #5a5e69; margin: 0; } .mark b { color: #292b33; letter-spacing: .06em; }
figure { margin: .8rem 0 0; text-align: center; }
canvas { width: 100%; height: min(66vh, 40rem); touch-action: pan-y; cursor: grab; border-radius: 8px; }
canvas:active { cursor: grabbing; }
canvas:focus-visible, button:focus-visible { outline: 3px solid #2d5fd0; outline-offset: 2px; }
#still { max-width: 100%; height: auto; }
[hidden] { display: none; }
#controls { display: flex; flex-wrap: wrap; gap: .5rem; justify-content: center; margin-top: .6rem; }
button { font: inherit; color: inherit; min-height: 2.75rem; min-width: 4.6rem; padding: 0 1rem; cursor: pointer;
  border: 1px solid #8c919e; border-radius: 8px; background: #f6f7f9; }
button:hover { background: #e9ecf2; }
figcaption { color: #5a5e69; font-size: .9rem; margin-top: .5rem; }
dl { display: grid; grid-template-columns: max-content 1fr; gap: .2rem 1.2rem; margin: 0; }
dt { color: #5a5e69; } dd { margin: 0; }
.letters { display: flex; flex-wrap: wrap; gap: .35rem; list-style: none; margin: 0; padding: 0; }
.letters li { border: 1px solid #c4c8d1; border-radius: 6px; min-width: 2.9rem; padding: .3rem .4rem;
  text-align: center; }
.letters b { display: block; font: 1.6rem/1.3 Georgia, serif; min-height: 2.1rem; white-space: pre; }
.letters small { color: #5a5e69; display: block; font-size: .72rem; max-width: 6rem; }
@media print { #controls, figcaption { display: none; } }
"""


def render(page: ProofPage) -> bytes:
    """A proof page as the bytes of an HTML file."""
    parts = [
        "<!DOCTYPE html>",
        '<html lang="en"><head><meta charset="utf-8">',
        f'<meta http-equiv="Content-Security-Policy" content="{_policy()}">',
        '<meta name="viewport" content="width=device-width, initial-scale=1"><link rel="icon" href="data:,">',
        f"<title>{_safe(page.title)}</title><style>{_STYLE}</style></head><body><main>",
        f"<h1>{_safe(page.title)}</h1>",
        f'<p class="mark">Proof <b>{_safe(page.mark)}</b></p>' if page.mark else "",
        _figure(page),
        _sizes(page),
        _names(page.names),
        f'</main><script type="application/json" id="cup-data">{_data(page.mesh)}</script>',
        f"<script>{SCRIPT}</script></body></html>\n",
    ]
    return "\n".join(part for part in parts if part).encode()


def _policy() -> str:
    """Nothing from outside: our style and script by their hashes, pictures from the file itself."""
    style, script = (b64encode(sha256(text.encode()).digest()).decode() for text in (_STYLE, SCRIPT))
    return f"default-src 'none'; img-src data:; style-src 'sha256-{style}'; script-src 'sha256-{script}'"


def _figure(page: ProofPage) -> str:
    still = ""
    if page.still is not None:
        still = f'<img id="still" alt="{_safe(page.title)}: the cup from four sides" src="{_source(page.still)}">'
    buttons = "".join(
        f'<button type="button" data-turn="{turn}">{name}</button>'
        for name, turn in (("Front", 0), ("Left", -90), ("Right", 90), ("Back", 180))
    )
    return (
        f'<figure>{still}<canvas id="cup" hidden tabindex="0" role="slider"'
        ' aria-label="The cup; turn it to see all sides"'
        ' aria-valuemin="-180" aria-valuemax="180" aria-valuenow="0" aria-valuetext="front" aria-describedby="how">'
        f'</canvas><div id="controls" hidden>{buttons}<button type="button" id="spin" aria-pressed="false">'
        'Turn by itself</button></div><figcaption id="how">Drag the cup, or use the arrow keys, to turn it.'
        " Colours on a screen are near to those of the print, not the same.</figcaption></figure>"
    )


def _sizes(page: ProofPage) -> str:
    rows = "".join(f"<dt>{_safe(name)}</dt><dd>{_safe(value)}</dd>" for name, value in page.sizes)
    lines = "".join(f"<p>{_safe(line)}</p>" for line in page.lines)
    return (f"<section><h2>Sizes</h2><dl>{rows}</dl></section>" if rows else "") + lines


def _names(names: tuple[str, ...]) -> str:
    """Each name, then its letters in boxes, each with what it is."""
    if not names:
        return ""
    found = []
    for name in names:
        boxes = "".join(
            f"<li><b>{'␣' if letter.text == ' ' else _safe(letter.text)}</b><small>{_safe(letter.kind)}</small></li>"
            for letter in letters(name)
        )
        found.append(f'<h3><bdi>{_safe(name)}</bdi></h3><ol class="letters" dir="auto">{boxes}</ol>')
    return f"<section><h2>Please read every letter</h2>{''.join(found)}</section>"


def _data(mesh: Mesh) -> str:
    """What the script needs, as JSON that cannot end its own element."""
    low, high = mesh.bounds
    corners = np.concatenate([part.positions for part in mesh.parts]).astype(float)
    aside = np.hypot(corners[:, 0], corners[:, 2])
    foot = float(aside[corners[:, 1] <= low[1] + 1e-3].max())
    reach, height = max(float(aside.max()), 0.9 * SHADOW_REACH * foot), high[1]
    eye = max(EYE_DISTANCE, 2.5 * float(np.hypot(aside.max(), height)))
    above = height + LOOK_DOWN * eye
    slopes = (corners[:, 1] - above) / (eye - np.where(corners[:, 1] < above / 2, aside, -aside))
    found = {
        "camera": {
            "eye": eye,
            "above": above,
            "far": float(aside.max()),
            "widest": reach / float(np.sqrt(eye * eye - reach * reach)),
            "low": float(slopes.min()),
            "high": float(slopes.max()),
        },
        "foot": foot,
        "high": height,
        "vertices": VERTICES,
        "pixels": PIXELS,
        "parts": [_part(part) for part in mesh.parts] + [_ground(SHADOW_REACH * foot)],
    }
    return json.dumps(found, separators=(",", ":")).replace("<", "\\u003c")


def _part(part: Part) -> dict[str, Any]:
    material = part.material
    return {
        "name": part.name,
        "colour": list(material.colour),
        "metal": material.metallic > 0.5,
        "deep": float(np.abs(part.positions[:, 0]).max()) if part.name.startswith(_INSIDE) else 0.0,
        "picture": b64encode(png(material.picture)).decode() if material.picture else "",
        "corners": len(part.faces) // 4,
        "points": _text(part.points),
        "directions": _text(part.directions),
        "places": _text(part.places),
        "faces": _text(part.faces),
        "ground": False,
    }


def _ground(reach: float) -> dict[str, Any]:
    """A square on the ground, for the shadow; drawn last, since it lets through what is behind it."""
    square = np.array([[-1, 0, -1], [-1, 0, 1], [1, 0, 1], [1, 0, -1]], "<f4") * np.float32(reach)
    faces = np.array([0, 1, 2, 0, 2, 3], "<u4")
    return {
        "name": "ground",
        "colour": [0, 0, 0],
        "metal": False,
        "deep": 0.0,
        "picture": "",
        "corners": 6,
        "points": _text(square.tobytes()),
        "directions": _text(np.tile(np.array([0, 1, 0], "<f4"), 4).tobytes()),
        "places": "",
        "faces": _text(faces.tobytes()),
        "ground": True,
    }


def _text(data: bytes) -> str:
    return b64encode(data).decode()


def _source(picture: Picture) -> str:
    return "data:image/png;base64," + _text(png(picture))


def _safe(text: str) -> str:
    """Text for markup; what UTF-8 cannot hold is a question mark."""
    return escape(text.encode("utf-8", "replace").decode())
