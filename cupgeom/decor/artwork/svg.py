"""SVG files as artwork.

Everything ends as filled outlines, pictures and groups in mm, y up. What cannot be drawn becomes a notice that names
the element; no other file is ever read. Rules: SVG 1.1 (second edition), and SVG 2 where it says more.
"""

from __future__ import annotations

from cupgeom.decor.artwork.artwork import Artwork
from cupgeom.decor.artwork.items import bounds, overlap
from cupgeom.decor.artwork.notices import Notices
from cupgeom.decor.artwork.source import Source
from cupgeom.decor.artwork.tree import parse, unpacked
from cupgeom.decor.artwork.walk import Walk
from cupgeom.drawing import Box, Drawing
from cupgeom.errors import CupgeomError


def read_svg(data: bytes, name: str = "artwork") -> Artwork:
    """An SVG or svgz file as artwork.

    Raises
    ------
    CupgeomError
        When it is no SVG, is damaged, shows nothing, or costs more than the limits allow.
    """
    notices = Notices(name)
    try:
        items, page = Walk(Source(parse(unpacked(data), notices), notices)).page()
    except CupgeomError as error:
        raise CupgeomError(", ".join(filter(None, (name, error.where))), error.what) from None
    except RecursionError:
        raise CupgeomError(name, "nests too deeply") from None
    box = overlap(bounds(items), page) if items else Box(0.0, 0.0, 0.0, 0.0)
    if box.width <= 0 or box.height <= 0:
        left_out = "; ".join(f"{notice.where} {notice.what}" for notice in notices.all()[:3])
        raise CupgeomError(name, "shows nothing" + (f" ({left_out})" if left_out else ""))
    drawing = Drawing(tuple(items))
    return Artwork(name=name, drawing=drawing, size=(page.width, page.height), box=box, notices=notices.all())
