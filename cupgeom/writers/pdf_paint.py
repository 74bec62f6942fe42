"""Drawings as PDF operators, with the fonts, pictures, shadings and groups that they need.

The streams hold mm under one scaling to points. Lines end flat (butt caps), so that a dash is exactly as long as it
says, and meet in points (mitred joins up to 10 line widths); both are PDF's own defaults.
"""

from __future__ import annotations

from array import array
from collections.abc import Callable, Iterable
from hashlib import blake2b
from pathlib import Path as FilePath
from typing import Any

import reportlab
from reportlab.pdfbase import pdfdoc
from reportlab.pdfbase.ttfonts import TTFont

from cupgeom.drawing import Affine, Box, Clipped, Drawing, Gradient, Item, Path, Picture, Shape, Text, vera
from cupgeom.drawing.paint import jpeg_frame
from cupgeom.pixels import fingerprint, packed, samples
from cupgeom.writers.pdf_gradient import Run, function, runs

ARC_TOLERANCE = 0.001  # mm between an arc and its cubics
_OPERATORS = {"M": "{} {} m", "L": "{} {} l", "C": "{} {} {} {} {} {} c", "Z": "h"}
_MITRE = 5.0  # line widths that a corner may reach beyond its path: half of PDF's mitre limit of 10


class Shared:
    """The objects of a file that streams use, each written once, under a name made from what it holds."""

    def __init__(self, file: Any) -> None:
        self.file = file
        self.fonts: dict[bool, Any] = {}

    def once(self, kind: str, content: str, make: Callable[[], Any]) -> str:
        """The name of an object of this content, made when it is first asked for."""
        name = f"{kind}{blake2b(content.encode(), digest_size=8).hexdigest()}"
        if name not in self.file.idToObject:
            self.file.Reference(make(), name)
        return name

    def font(self, bold: bool) -> Any:
        """Vera, upright or bold."""
        if bold not in self.fonts:
            name = "VeraBd" if bold else "Vera"
            file = FilePath(reportlab.__file__).with_name("fonts") / f"{name}.ttf"
            self.fonts[bold] = TTFont(name, str(file), asciiReadable=False)
        return self.fonts[bold]

    def state(self, opacity: float, mask: str = "") -> str:
        """A graphics state in which everything is let through in part."""
        entries = {"Type": "/ExtGState", "ca": number(opacity), "CA": number(opacity)}
        if mask:
            form = pdfdoc.PDFObjectReference(mask)
            entries["SMask"] = pdfdoc.PDFDictionary({"Type": "/Mask", "S": "/Luminosity", "G": form})
        return self.once("State", f"{opacity} {mask}", lambda: pdfdoc.PDFDictionary(entries))

    def shading(self, run: Run) -> str:
        """An axial or radial shading."""
        ramp = self.once("Ramp", repr(run.ramp), lambda: function(run.ramp))
        entries = {
            "ShadingType": run.kind,
            "ColorSpace": "/DeviceRGB" if len(run.ramp[0][1]) == 3 else "/DeviceGray",
            "Coords": f"[{numbers(run.coords)}]",
            "Extend": f"[{str(run.before).lower()} {str(run.after).lower()}]",
            "Function": pdfdoc.PDFObjectReference(ramp),
        }
        content = f"{run.kind} {run.coords} {run.before} {run.after} {ramp}"
        return self.once("Shade", content, lambda: pdfdoc.PDFDictionary(entries))

    def picture(self, picture: Picture) -> str:
        """An image; a JPEG is passed on as it is."""
        return self.once("Image", fingerprint(picture), lambda: self._image(picture))

    def form(self, box: Box, stream: Stream, colours: str = "/DeviceRGB") -> str:
        """A stream as a group of its own, painted as a whole."""
        content = "\n".join(stream.lines)
        entries = {
            "Type": "/XObject",
            "Subtype": "/Form",
            "BBox": f"[{numbers(box)}]",
            "Group": f"<< /S /Transparency /CS {colours} /I true >>",
            "Resources": stream.resources(),
        }

        def make() -> Any:
            return pdfdoc.PDFStream(pdfdoc.PDFDictionary(entries), content.encode(), [pdfdoc.PDFZCompress])

        return self.once("Form", f"{entries['BBox']} {colours} {content}", make)

    def _image(self, picture: Picture) -> Any:
        if picture.jpeg:
            space = "/DeviceGray" if jpeg_frame(picture.jpeg)[2] == 1 else "/DeviceRGB"
            return _image(picture, space, "/DCTDecode", picture.jpeg, {})
        colours, alphas = samples(picture)
        extra = {}
        if alphas is not None:
            mask = _flate(picture, "/DeviceGray", 1, packed(alphas), {})
            extra["SMask"] = self.file.Reference(mask, f"Alpha{fingerprint(picture)}")
        return _flate(picture, "/DeviceRGB", 3, packed(colours), extra)


class Stream:
    """Operators of a page or a group, and the resources that they name."""

    def __init__(self, shared: Shared) -> None:
        self.shared = shared
        self.lines: list[str] = []
        self.used: dict[str, dict[str, Any]] = {}

    def add(self, *lines: str) -> None:
        """Operators as they are."""
        self.lines += lines

    def items(self, items: Iterable[Item]) -> None:
        """Paint items one after the other."""
        for item in items:
            if isinstance(item, Shape):
                self._shape(item)
            elif isinstance(item, Text):
                self._text(item)
            elif isinstance(item, Picture):
                image = self._use("XObject", self.shared.picture(item))
                self._faint(item.opacity, f"q {numbers(item.place)} cm {image} Do Q")
            else:
                self._group(item)

    def resources(self, **more: dict[Any, Any]) -> Any:
        """The resource dictionary of this stream."""
        resources = pdfdoc.PDFResourceDictionary(**self.used, **more)
        resources.basicFonts()
        return resources

    def _use(self, kind: str, name: str) -> str:
        self.used.setdefault(kind, {})[name] = pdfdoc.PDFObjectReference(name)
        return f"/{name}"

    def _faint(self, opacity: float, *lines: str) -> None:
        """Operators under an opacity."""
        if opacity == 1:
            self.add(*lines)
        else:
            self.add(f"q {self._use('ExtGState', self.shared.state(opacity))} gs", *lines, "Q")

    def _shape(self, shape: Shape) -> None:
        fill, stroke = shape.fill, shape.stroke
        if not (fill or stroke) or not shape.path:
            return
        path, rule = _path(shape.path), "*" * shape.even_odd
        setting = (
            f"{numbers(stroke.colour)} RG {number(stroke.width)} w [{numbers(stroke.dashes)}] 0 d" if stroke else ""
        )
        if fill and stroke and not isinstance(fill, Gradient) and shape.fill_opacity == stroke.opacity == 1:
            self.add(f"{numbers(fill)} rg", setting, path, "B" + rule)
            return
        if isinstance(fill, Gradient):
            self._gradient(fill, shape, f"{path} W{rule} n")
        elif fill:
            self._faint(shape.fill_opacity, f"{numbers(fill)} rg", path, "f" + rule)
        if stroke:
            self._faint(stroke.opacity, setting, path, "S")

    def _gradient(self, gradient: Gradient, shape: Shape, clip: str) -> None:
        box = _bounds((shape,))
        if box is None:
            return
        if gradient.is_opaque and shape.fill_opacity == 1:
            self.add(f"q {clip}")
            self._shade(gradient, box)
            self.add("Q")
            return
        inner = Stream(self.shared)
        inner.add(clip)
        inner._shade(gradient, box)
        mask = ""
        if not gradient.is_opaque:
            grey = Stream(self.shared)
            grey._shade(gradient, box, opacity=True)
            mask = self.shared.form(box, grey, "/DeviceGray")
        state = self._use("ExtGState", self.shared.state(shape.fill_opacity, mask))
        self.add(f"q {state} gs {self._use('XObject', self.shared.form(box, inner))} Do Q")

    def _shade(self, gradient: Gradient, box: Box, *, opacity: bool = False) -> None:
        self.add(" ".join(f"{value:z.12f}" for value in gradient.place) + " cm")
        for run in runs(gradient, box, opacity=opacity):
            self.add(f"{self._use('Shading', self.shared.shading(run))} sh")

    def _text(self, text: Text) -> None:
        place = Affine.move(text.start) @ Affine.rotation(text.angle_deg)
        self.add(f"BT {numbers(text.colour)} rg {numbers(place)} Tm")
        font = self.shared.font(text.bold)
        for subset, codes in font.splitString(vera.written(text.text), self.shared.file):
            name = font.getSubsetInternalName(subset, self.shared.file)
            self.add(f"{name} {number(text.size)} Tf <{codes.hex()}> Tj")
        self.add("ET")

    def _group(self, group: Clipped) -> None:
        if group.clip is not None and not group.clip:
            return  # nothing lies inside no outline
        clip = f"{_path(group.clip)} W{'*' * group.even_odd} n" if group.clip else ""
        self.add(f"q {clip}")
        if group.opacity == 1:
            self.items(group.items)
        elif box := _bounds(group.items):
            inner = Stream(self.shared)
            inner.items(group.items)
            form = self._use("XObject", self.shared.form(box, inner))
            self._faint(group.opacity, f"{form} Do")
        self.add("Q")


def number(value: float) -> str:
    """Six decimals (1 nm, where the value is in mm) without trailing zeros; PDF knows no exponents."""
    return f"{value:z.6f}".rstrip("0").rstrip(".")


def numbers(values: Iterable[float]) -> str:
    """Numbers with blanks between them."""
    return " ".join(map(number, values))


def _path(path: Path) -> str:
    """Path construction operators, formatted in one go."""
    drawn = path.with_cubics(ARC_TOLERANCE)
    template = "\n".join(_OPERATORS[kind] for kind in drawn.kinds.decode())
    return template.format(*map(number, array("d", drawn.coords)))


def _bounds(items: Iterable[Item]) -> Box | None:
    """A box that holds all that items paint, mitred corners and letters that overhang included; None for nothing."""
    whole: Box | None = None
    for leaf in Drawing(tuple(items)).leaves():
        if isinstance(leaf, Shape):
            if next(leaf.path.segments(), None) is None:
                continue
            box = leaf.path.bounds().grown(_MITRE * leaf.stroke.width if leaf.stroke else 0.0)
        else:
            box = leaf.bounds().grown(leaf.size if isinstance(leaf, Text) else 0.0)
        whole = whole.union(box) if whole else box
    return whole


def _flate(picture: Picture, colours: str, count: int, data: bytes, extra: dict[str, Any]) -> Any:
    """An image of rows packed as in a PNG."""
    layout = f"<< /Predictor 15 /Colors {count} /Columns {picture.columns} >>"
    return _image(picture, colours, "/FlateDecode", data, {**extra, "DecodeParms": layout})


def _image(picture: Picture, colours: str, coding: str, data: bytes, extra: dict[str, Any]) -> Any:
    entries = {
        "Type": "/XObject",
        "Subtype": "/Image",
        "Width": picture.columns,
        "Height": picture.rows,
        "ColorSpace": colours,
        "BitsPerComponent": 8,
        "Filter": coding,
        **extra,
    }
    return pdfdoc.PDFStream(pdfdoc.PDFDictionary(entries), data)
