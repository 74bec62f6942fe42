"""The shop file `shop.toml`, the maker's own shelf: cups and printers; text in, text out.

A length is a number (mm) or a text such as "10 7/8 in". Keys are the options of the command line with underscores::

    [cups."tapered 20"]                         # readings: fitted
    rim_around = ["10 7/8 in", "276mm"]         # by tape; also base_around, and around = "258mm@75mm"
    base_around = { read = "8 5/8 in", uncertainty = 0.3, thickness = 0.2, coated = true, label = "second" }
    slant = "6 3/4 in ± 1mm"                    # by ruler; also height, both with from and to in braces
    across = "70.1mm @ base"                    # by calliper; also rim and base
    paper_gap = { printed = [[88, 170], [70, 0]], rim = 1.5, base = -0.5, step = 0.4 }
    without = ["rim tape 2"]                    # set aside; also ring_count = 3, and uncertainty for all of them

    [cups.mug]                                  # stated: taken exactly
    rim = 82
    base = 82
    height = 95
    feet = [{ width = 14, from = 15, to = 30 }, { width = 14, from = 65, to = 80 }]
    clearance = 4                               # and handle_comes_off = true
    bare_lip = "6mm"
    coated_to = "10mm up"                       # and coated_from, base_coated = true
    notes = "the blue ones"
    date = 2026-03-01

    [cups.shouldered]
    rings = [[88, 170], [88, 150], [70, 0]]     # diameter and height, from the top edge down

    [cups.rounded]
    profile = [
        { role = "lip", rings = [[86, 172], [86, 168]], arc = 2 },
        { role = "band", rings = [[86, 150]] },                         # goes on where the piece above ended
        { role = "shoulder", rings = [[66, 130]], arc = 25, hollow = true },
        { role = "foot", rings = [[66, 20], [60, 5], [50, 0]] },        # a smooth curve through measured points
    ]

    [printers.office.a4]
    printed_bar = "99.2mm x 100.4mm"            # or across and along, how many times as long everything is sent

A level is a drop (75mm), a height above the base (20mm up), rim, base, or ring 1. Media, resins and racks: see
`media` and `resins`.
"""

from cupgeom.shelf.entry import Rings, ShelfCup
from cupgeom.shelf.fit import measure_readings
from cupgeom.shelf.level import LEVEL, Level, parse_level
from cupgeom.shelf.outline import Outline, OutlinePiece
from cupgeom.shelf.printers import PaperCorrection
from cupgeom.shelf.reading import TAPES, Amount, PaperRead, Read, parse_amount, parse_paper_gap
from cupgeom.shelf.readings import Readings, readings_record
from cupgeom.shelf.rewrite import cup_record, with_cup, with_printer
from cupgeom.shelf.shelf import NAME, Shelf, read_shelf

__all__ = [
    "LEVEL",
    "NAME",
    "TAPES",
    "Amount",
    "Level",
    "Outline",
    "OutlinePiece",
    "PaperCorrection",
    "PaperRead",
    "Read",
    "Readings",
    "Rings",
    "Shelf",
    "ShelfCup",
    "cup_record",
    "measure_readings",
    "parse_amount",
    "parse_level",
    "parse_paper_gap",
    "read_shelf",
    "readings_record",
    "with_cup",
    "with_printer",
]
