"""Data inside a file: what the ``href`` of an image element holds."""

from __future__ import annotations

import binascii
import re
from base64 import b64decode
from urllib.parse import unquote_to_bytes
from xml.etree.ElementTree import Element

from cupgeom.decor.artwork.raster_art import Pixels, decoded
from cupgeom.decor.artwork.source import Source
from cupgeom.errors import CupgeomError

_DATA = re.compile(r"\s*data:([^,]*),(.*)", re.DOTALL | re.IGNORECASE)


class Images:
    """Decodes each image of a file once."""

    def __init__(self, source: Source) -> None:
        self._source = source
        self._known: dict[Element, Pixels | None] = {}

    def pixels(self, element: Element) -> Pixels | None:
        """The pixels of an image element; None, with a notice, when there are none to be had."""
        if element not in self._known:
            self._known[element] = self._read(element)
        return self._known[element]

    def _read(self, element: Element) -> Pixels | None:
        href, source = element.get("href", ""), self._source
        match = _DATA.fullmatch(href)
        if not match:
            where = f"another file ({href.strip()[:60]}), which is never read" if href.strip() else "nothing"
            source.doubt(element, f"shows {where}", "embed the picture in the file")
            return None
        if "svg" in match[1]:
            source.doubt(element, "holds another SVG and is not drawn", "insert its elements instead")
            return None
        try:
            data = unquote_to_bytes(match[2])
            data = b64decode(data) if match[1].lower().rstrip().endswith(";base64") else data
            pixels = decoded(data, source.notices, source.tree.label(element), source.budget.pixels)
        except (CupgeomError, binascii.Error) as error:
            what = error.what if isinstance(error, CupgeomError) else "is cut short or damaged"
            if what.startswith("has pictures of more"):
                raise
            source.doubt(element, f"{what}, and is not drawn")
            return None
        return pixels
