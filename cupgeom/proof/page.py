"""The proof as a page to look at, turn and approve: the mesh, sizes, and each name letter by letter."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass

from cupgeom.drawing import Picture
from cupgeom.proof.mesh import Mesh

_KINDS = {"Lu": "capital", "Ll": "small", "Lt": "capital", "Nd": "digit"}
_JOINER = "\u200d"


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofPage:
    """What the page shows.

    Parameters
    ----------
    title
        At the top.
    mesh
        The finished cup.
    mark
        The proof mark; empty for none.
    sizes
        Name and value of each size, ready to read.
    lines
        Short statements, such as quantity and media.
    names
        What is written on the cups, one piece each.
    still
        A picture for browsers that cannot draw the mesh, such as the proof sheet.
    """

    title: str
    mesh: Mesh
    mark: str = ""
    sizes: tuple[tuple[str, str], ...] = ()
    lines: tuple[str, ...] = ()
    names: tuple[str, ...] = ()
    still: Picture | None = None


@dataclass(frozen=True, slots=True)
class Letter:
    """One letter as it is read, with the marks that sit on it, and what it is in words."""

    text: str
    kind: str


def letters(name: str) -> tuple[Letter, ...]:
    """A name letter by letter, so that O and 0, l and I, and a doubled space are told apart.

    Marks and joined signs stay with the letter before them (the whole rules of Unicode's Annex 29 are not needed to
    read a name).
    """
    clusters: list[str] = []
    for char in name:
        belongs = unicodedata.category(char) in ("Mn", "Me", "Mc") or char == _JOINER
        if clusters and (belongs or clusters[-1].endswith(_JOINER)):
            clusters[-1] += char
        else:
            clusters.append(char)
    return tuple(Letter(cluster, _kind(cluster)) for cluster in clusters)


def _kind(cluster: str) -> str:
    """What a letter is, in a few words."""
    whole = unicodedata.normalize("NFC", cluster)
    kind = _KINDS.get(unicodedata.category(whole[0]))
    name = unicodedata.name(whole[0], f"U+{ord(whole[0]):04X}").lower()
    if whole[0] == " ":
        return "space"
    if kind and (whole[0].isascii() or name.startswith("latin")):
        _, _, marks = name.partition(" with ")
        return f"{kind}, {marks}" if marks else kind
    return name
