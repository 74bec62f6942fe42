"""Bytes to elements: the standard library's XML parser (expat) with caps, and no way to reach another file."""

from __future__ import annotations

import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from xml.etree.ElementTree import Element
from xml.parsers import expat

from cupgeom.decor.artwork.limits import MOST_BYTES, MOST_DEPTH, MOST_ELEMENTS, MOST_LINKS
from cupgeom.decor.artwork.notices import Notices
from cupgeom.errors import CupgeomError

SVG = "http://www.w3.org/2000/svg"
_XLINK_HREF = "{http://www.w3.org/1999/xlink}href"
_GZIP = b"\x1f\x8b"


@dataclass(frozen=True, slots=True)
class Tree:
    """The elements of a file, and where to find them.

    Elements and attributes of SVG go by their plain names, others keep ``{namespace}name``; ``href`` is also xlink's.
    """

    root: Element
    parents: dict[Element, Element] = field(default_factory=dict)
    ids: dict[str, Element] = field(default_factory=dict)
    lines: dict[Element, int] = field(default_factory=dict)
    sheets: list[str] = field(default_factory=list)

    def label(self, element: Element) -> str:
        """How a message names an element."""
        name = element.tag.rpartition("}")[2]
        if label := element.get("id"):
            return f'<{name} id="{label[:60]}">'
        return f"<{name}> on line {self.lines[element]}"

    def found(self, reference: str | None) -> Element | None:
        """The element of this file that a reference such as ``#comet`` means, if it means one."""
        return self.ids.get(reference[1:]) if reference and reference.startswith("#") else None

    def chain(self, element: Element) -> Iterator[Element]:
        """An element, the one that its ``href`` names, and so on, each once."""
        seen: set[Element] = set()
        following: Element | None = element
        while following is not None and following not in seen and len(seen) < MOST_LINKS:
            seen.add(following)
            yield following
            following = self.found(following.get("href"))


def unpacked(data: bytes) -> bytes:
    """The bytes of an SVG file, unpacked when it is a svgz.

    Raises
    ------
    CupgeomError
        When there are too many, or the packing is broken.
    """
    if data[:2] == _GZIP:
        stream = zlib.decompressobj(wbits=31)
        try:
            data = stream.decompress(data, MOST_BYTES + 1)
        except zlib.error:
            raise CupgeomError("", "is a svgz whose packing is broken") from None
        if not stream.eof and len(data) <= MOST_BYTES:
            raise CupgeomError("", "is a svgz that is cut short")
    if len(data) > MOST_BYTES:
        raise CupgeomError("", f"is larger than {MOST_BYTES // 1_000_000} MB")
    return data


def parse(data: bytes, notices: Notices) -> Tree:
    """The elements of an SVG file.

    Raises
    ------
    CupgeomError
        When it is no XML, no SVG, too large, too deep, or asks for another file through an entity.
    """
    builder = _Builder()
    parser = expat.ParserCreate(namespace_separator="}")
    parser.buffer_text = True
    parser.ordered_attributes = True
    parser.StartElementHandler = lambda tag, attributes: builder.start(tag, attributes, parser.CurrentLineNumber)
    parser.EndElementHandler = builder.end
    parser.CharacterDataHandler = builder.text
    parser.EntityDeclHandler = _refuse_external
    parser.ProcessingInstructionHandler = lambda target, text: _note_sheet(target, text, notices)
    try:
        parser.Parse(data.lstrip(b" \t\r\n"), True)
    except expat.ExpatError as error:
        raise CupgeomError("", f"is no well-formed XML: {error}") from None
    except LookupError as error:  # the encoding that the file names
        raise CupgeomError("", f"cannot be read: {error}") from None
    root = builder.root
    if root is None or root.tag.rpartition("}")[2] != "svg":
        raise CupgeomError("", "is no SVG: its outermost element must be svg")
    if not builder.has_namespace:
        notices.add("", "does not say that it is SVG, and is read as SVG all the same", f'add xmlns="{SVG}"')
    return Tree(root, builder.parents, builder.ids, builder.lines, ["".join(parts) for parts in builder.sheets])


def _refuse_external(name: str, _is_parameter: bool, value: str | None, *_: str | None) -> None:
    if value is None:
        raise CupgeomError("", f"asks for another file through its entity {name[:60]!r}, which is never read")


def _note_sheet(target: str, text: str, notices: Notices) -> None:
    if target == "xml-stylesheet":
        what = f"asks for a style sheet in another file ({text[:60]}), which is never read"
        notices.add("", what, "put the style sheet into a style element")


class _Builder:
    """Builds elements as expat meets them."""

    def __init__(self) -> None:
        self.root: Element | None = None
        self.has_namespace = False
        self.parents: dict[Element, Element] = {}
        self.ids: dict[str, Element] = {}
        self.lines: dict[Element, int] = {}
        self.sheets: list[list[str]] = []
        self._open: list[Element] = []

    def start(self, tag: str, attributes: list[str], line: int) -> None:
        plain = _plain(tag) if "}" in tag or not self.has_namespace else f"{{}}{tag}"
        element = Element(plain, {_plain(key): text for key, text in zip(*[iter(attributes)] * 2, strict=True)})
        if _XLINK_HREF in element.attrib:
            element.attrib.setdefault("href", element.attrib.pop(_XLINK_HREF))
        if self._open:
            self._open[-1].append(element)
            self.parents[element] = self._open[-1]
        elif self.root is None:
            self.root, self.has_namespace = element, tag != plain
        self.lines[element] = line
        self.ids.setdefault(element.get("id", ""), element)
        if plain == "style":
            self.sheets.append([])
        self._open.append(element)
        if len(self.lines) > MOST_ELEMENTS:
            raise CupgeomError("", f"has more than {MOST_ELEMENTS} elements")
        if len(self._open) > MOST_DEPTH:
            raise CupgeomError("", f"nests more than {MOST_DEPTH} elements inside each other")

    def end(self, _tag: str) -> None:
        self._open.pop()

    def text(self, text: str) -> None:
        if self._open and self._open[-1].tag == "style":
            self.sheets[-1].append(text)


def _plain(name: str) -> str:
    namespace, joint, local = name.rpartition("}")
    return local if not joint or namespace == SVG else f"{{{namespace}}}{local}"
