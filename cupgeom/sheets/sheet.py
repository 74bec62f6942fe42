"""Packed sheets as documents: what is printed, its underlay, its cut lines, with marks that fall on each other."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from cupgeom.drawing import Affine, Box, Drawing, Role, Shape, Stroke, Text, polyline
from cupgeom.drawing.vera import DESCENT
from cupgeom.errors import CupgeomError, Notice
from cupgeom.pages import Correction, Document, Frame, Page
from cupgeom.pages.frame import SIDE_BAND, cross
from cupgeom.sheets.layout import Layout, Placement
from cupgeom.sheets.piece import SheetSize

Content = Literal["all", "print", "white", "cut"]
CONTENTS: tuple[Content, ...] = ("all", "print", "white", "cut")
_ROLES: dict[Content, tuple[Role, ...]] = {
    "all": ("white", "print", "cut", "guide", "note"),
    "print": ("print",),
    "white": ("white",),
    "cut": ("cut",),
}
_BAND = 8.0  # mm kept free above and below the pieces for registration marks and crop marks
_EDGE = 4.0  # mm kept free beside them for crop marks
_MARK = 3.0  # mm, half the width of a registration mark
_TICK = 3.0  # mm, length of a crop mark
_TICK_GAP = 0.8  # mm between a crop mark and the trim
_LABEL = 2.0  # mm, size of labels beside pieces
_LABEL_GAP = 0.6  # mm between a piece and its label
_CLEARER = 0.8  # mm by which a label is nearer to its own piece than to any other
_SECOND = 12.0  # mm from the first mark to the one that tells which way round a sheet lies
_CUT = Stroke(width=0.25)
_CROP = Stroke(width=0.12)


@dataclass(frozen=True, slots=True, kw_only=True)
class Notes:
    """What stands on the sheets besides the pieces.

    Parameters
    ----------
    title
        First line of the caption, such as the order's name.
    lines
        Further lines of the caption.
    inches
        Scale bars of 4, 2 and 1 in.
    mirrored
        Whether print, white and cut are reflected together; notes stay readable.
    """

    title: str = "Sheet"
    lines: tuple[str, ...] = ()
    inches: bool = False
    mirrored: bool = False

    def frame(self, margin: float) -> Frame:
        """Margins, bars and caption."""
        told = ("MIRRORED: pieces read the wrong way round on this sheet.",) if self.mirrored else ()
        lines = (*self.lines, *told, "Print at 100 %, do not fit to page; then measure the bars.")
        return Frame(title=self.title, lines=lines, margin=margin, inches=self.inches)


def with_room_for(notes: Notes, size: SheetSize) -> SheetSize:
    """The medium with room kept free for bars, caption and marks.

    Raises
    ------
    CupgeomError
        When nothing is left for pieces.
    """
    foot = notes.frame(size.margin).foot_height(size.width)
    return replace(size, left=SIDE_BAND + _EDGE, right=_EDGE, top=_BAND, foot=foot + _BAND)


def document(
    layout: Layout,
    notes: Notes | None = None,
    *,
    contents: Sequence[Content] = ("all",),
    marks: bool = True,
    correction: Correction = Correction(),
) -> Document:
    """Sheets ready for a writer.

    Parameters
    ----------
    layout
        Where the pieces lie; its size leaves room for notes (`with_room_for`), or they are refused.
    notes
        Bars and caption; None for pieces and nothing else.
    contents
        The pages of each sheet, all of the same size and with the same marks: ``all`` in one page, a layer a role, or
        ``print``, ``white`` and ``cut`` on pages of their own.
    marks
        Registration and crop marks, for aligning by hand or by the cutter's own means; they need notes.
    correction
        What the printer's bars say.

    Raises
    ------
    CupgeomError
        When the layout keeps no room for notes, or text is to be printed mirrored that is not an outline.
    """
    if notes and layout.size.foot < notes.frame(layout.size.margin).foot_height(layout.size.width) + _BAND:
        raise CupgeomError("size", "keeps no room for notes; pack on the size that with_room_for gives")
    for content in contents:
        if content not in CONTENTS:
            raise CupgeomError("contents", f"must be of {', '.join(CONTENTS)}, got {content!r}")
    pages = []
    for sheet in range(layout.sheets):
        whole = _whole(layout, sheet, notes, marks=marks and notes is not None)
        for content in contents:
            parts = [str(sheet + 1)] * (layout.sheets > 1) + [content] * (tuple(contents) != ("all",))
            name = "-".join(parts)
            pages.append(_page(whole, content, name, notes, layout, correction))
    return Document(title=notes.title if notes else "Sheet", pages=tuple(pages))


def cut_document(layout: Layout, notes: Notes | None = None, *, marks: bool = False) -> Document:
    """The cut lines and nothing else, on pages of the same size; with the same registration marks if asked.

    No caption, no bars, no printer correction: a blade does not stretch paper. Registration marks then play the role
    ``guide``, so that a cutter is told apart what to cut.
    """
    pages = []
    mirrored = notes is not None and notes.mirrored
    for sheet in range(layout.sheets):
        whole = _whole(layout, sheet, notes, marks=marks)
        drawing = _reflected(whole.pieces.only(["cut"]) + Drawing(tuple(whole.registration)), whole.room, mirrored)
        name = str(sheet + 1) if layout.sheets > 1 else ""
        pages.append(_bare(whole, drawing, name, whole.trim_for(mirrored)))
    return Document(title=notes.title if notes else "Sheet", pages=tuple(pages))


def unlabelled(layout: Layout) -> tuple[Notice, ...]:
    """Pieces that found no room for their label."""
    found = []
    for sheet in range(layout.sheets):
        places = layout.on(sheet)
        labels = _labels(layout, places, layout.outlines(sheet))
        lacking = [layout.parts[place.part].name for place, label in zip(places, labels, strict=True) if label is None]
        if lacking:
            named = ", ".join(dict.fromkeys(lacking))
            found.append(Notice(f"sheet {sheet + 1}", f"no room beside {named} for a label", "a wider gap makes some"))
    return tuple(found)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Whole:
    """Everything on one sheet, in its parts, before it is mirrored."""

    number_line: str
    width: float
    length: float
    room: Box
    trim: Box
    bleed: float
    pieces: Drawing
    labels: tuple[Text, ...]
    registration: tuple[Shape, ...]
    crop: tuple[Shape, ...]

    def trim_for(self, mirrored: bool) -> Box:
        """The box round the cut lines as they lie on the page."""
        if not mirrored:
            return self.trim
        both = self.room.left + self.room.right
        return self.trim._replace(left=both - self.trim.right, right=both - self.trim.left)


def _whole(layout: Layout, sheet: int, notes: Notes | None, *, marks: bool) -> _Whole:
    size, places, outlines = layout.size, layout.on(sheet), layout.outlines(sheet)
    length = size.page_length(layout.used_length(sheet))
    room = size.room._replace(top=length - size.margin - size.top)
    pieces = Drawing(tuple(item for place in places for item in _drawn(layout, place).items))
    cuts = [layout.parts[place.part].cut.transformed(place.affine).bounds() for place in places]
    trim = cuts[0]
    for box in cuts[1:]:
        trim = trim.union(box)
    bleed = max(layout.parts[place.part].bleed for place in places)
    labels = [label for label in _labels(layout, places, outlines) if label] if notes else []
    return _Whole(
        number_line=f"sheet {sheet + 1} of {layout.sheets}",
        width=size.width,
        length=length,
        room=room,
        trim=trim,
        bleed=bleed,
        pieces=pieces,
        labels=tuple(labels),
        registration=tuple(_registration(room)) if marks else (),
        crop=tuple(_crop(trim, bleed)) if marks else (),
    )


def _page(
    whole: _Whole, content: Content, name: str, notes: Notes | None, layout: Layout, correction: Correction
) -> Page:
    mirrored = notes is not None and notes.mirrored
    drawing = whole.pieces.only(_ROLES[content])
    if content == "all":
        drawing += Drawing(whole.labels)
    drawing = _reflected(drawing + Drawing((*whole.registration, *whole.crop)), whole.room, mirrored)
    if notes:
        line = whole.number_line if content == "all" else f"{whole.number_line}, {content}"
        drawing += notes.frame(layout.size.margin).notes_on(whole.width, whole.length, number_line=line)
    return replace(_bare(whole, drawing, name, whole.trim_for(mirrored)), correction=correction)


def _bare(whole: _Whole, drawing: Drawing, name: str, trim: Box) -> Page:
    return Page(width=whole.width, height=whole.length, drawing=drawing, name=name, trim=trim, bleed=whole.bleed)


def _drawn(layout: Layout, place: Placement) -> Drawing:
    """A piece where it lies, with its cut line."""
    part = layout.parts[place.part]
    drawing = part.drawing
    if not drawing.only(["cut"]):
        drawing += Drawing((Shape(path=part.cut, role="cut", stroke=_CUT, name="cut line"),))
    return drawing.transformed(place.affine)


def _reflected(drawing: Drawing, room: Box, mirrored: bool) -> Drawing:
    if not mirrored:
        return drawing
    for leaf in drawing.leaves():
        if isinstance(leaf, Text) and leaf.role != "note":
            raise CupgeomError("drawing", f"holds the text {leaf.text!r} to be mirrored; make it outlines first")
    return drawing.transformed(Affine(a=-1.0, e=room.left + room.right))


def _registration(room: Box) -> Iterator[Shape]:
    """One mark outside each corner of the room, and a fifth that tells the foot from the top."""
    left, right = room.left + _MARK, room.right - _MARK
    below, above = room.bottom - _BAND / 2, room.top + _BAND / 2
    for at in (left + 1j * below, right + 1j * below, left + 1j * above, right + 1j * above):
        yield cross(at, _MARK)
    if room.width > 2 * _SECOND + 4 * _MARK:
        yield cross(left + _SECOND + 1j * below, _MARK)


def _crop(trim: Box, bleed: float) -> Iterator[Shape]:
    """Two strokes outside each corner of the box round all cut lines, beyond the bleed."""
    start = bleed + _TICK_GAP
    for x, out_x in ((trim.left, -1), (trim.right, 1)):
        for y, out_y in ((trim.bottom, -1), (trim.top, 1)):
            corner = complex(x, y)
            across = polyline([corner + out_x * start, corner + out_x * (start + _TICK)])
            along = polyline([corner + 1j * out_y * start, corner + 1j * out_y * (start + _TICK)])
            yield Shape(path=across + along, role="guide", stroke=_CROP, name="crop mark")


def _labels(layout: Layout, places: list[Placement], outlines: list[Any]) -> list[Text | None]:
    """For each piece its label, clear of pieces, labels and the room's edge and surely nearest to its own piece.

    None where there is no such place.
    """
    from shapely import STRtree, box

    room, top = layout.size.room, layout.used_length(places[0].sheet) + layout.size.room.bottom
    room = room._replace(top=min(room.top, top) + _BAND / 4)
    tree, taken, labels = STRtree(outlines), list[Box](), list[Text | None]()
    for index, (place, outline) in enumerate(zip(places, outlines, strict=True)):
        part = layout.parts[place.part]
        labels.append(None)
        for text in _label_places(part.label or part.name, Box(*outline.bounds)):
            area = text.bounds().grown(_LABEL_GAP / 2)
            if not (room.holds(complex(*area[:2])) and room.holds(complex(*area[2:]))):
                continue
            shape = box(*area)
            away = float(outline.distance(shape))
            near = tree.query(shape, predicate="dwithin", distance=away + _CLEARER)
            if away > 0 and list(near) == [index] and not any(_meet(area, other) for other in taken):
                labels[-1] = text
                taken.append(area)
                break
    return labels


def _label_places(label: str, box: Box) -> Iterator[Text]:
    """Along each side of a box, and pulled in towards the piece, which may leave its box's corners free."""
    middle = box.centre
    inward = [share * 0.5 * min(box.width, box.height) for share in (0.0, 0.15, 0.3, 0.5, 0.7, 0.9)]
    for pull in inward:
        for shift in (0.0, -0.25, 0.25, -0.42, 0.42):
            x, y = middle.real + shift * box.width, middle.imag + shift * box.height
            rise = _LABEL_GAP + DESCENT * _LABEL
            below = complex(x, box.bottom - _LABEL_GAP - 0.765 * _LABEL + pull)
            above = complex(x, box.top + rise - pull)
            yield Text(text=label, at=below, size=_LABEL, anchor="middle")
            yield Text(text=label, at=above, size=_LABEL, anchor="middle")
            left = complex(box.left - rise + pull, y)
            right = complex(box.right + _LABEL_GAP + 0.765 * _LABEL - pull, y)
            yield Text(text=label, at=left, size=_LABEL, anchor="middle", angle_deg=90)
            yield Text(text=label, at=right, size=_LABEL, anchor="middle", angle_deg=90)


def _meet(a: Box, b: Box) -> bool:
    return a.left < b.right and b.left < a.right and a.bottom < b.top and b.bottom < a.top
