"""The list of steps of a job, from the inside out, one line a step."""

from __future__ import annotations

from collections.abc import Mapping

from cupgeom.coating.coats import KINDS as COATED
from cupgeom.coating.coats import Coat
from cupgeom.errors import CupgeomError, within
from cupgeom.job.decal import JobDecal
from cupgeom.job.kinds import COLOUR, TURNS, WAIT, whole_from
from cupgeom.plan import KINDS, RESIN, Kind, Piece, Step, Zone
from cupgeom.records import FLAG, LENGTH, NUMBER, TEXT, Table, above_zero, from_zero, nearest, shown
from cupgeom.records import Kind as Form
from cupgeom.shelf import LEVEL

MOST_REPEATS = 20
_GOES_WITH: Mapping[str, tuple[str, ...]] = {  # keys that only some steps have
    "colour": ("paint", "tack", "flood", "vein"),
    "material": ("paint", "tack", "vein"),
    "flake": ("tack",),
    "brush": ("tack",),
    "from": ("paint", "tack"),
    "to": ("paint", "tack"),
    "turns": ("paint", "tack"),
    "ml": RESIN,
    "film": RESIN,
    "pull_tape": RESIN,
    "colours": ("vein",),
    "colorant_share": ("vein",),
    "edge": ("sand",),
    "seal": ("decal",),
    "decals": ("decal",),
}
_FIELDS = {
    "coat.film": "film",
    "coat.volume_ml": "ml",
    "coat.colours": "colours",
    "coat.colorant_share": "colorant_share",
    "wait_min": "wait",
    "pull_min": "pull_tape",
    "zone.turns": "turns",
    "pieces": "decals",
}


def parse_steps(root: Table, decals: Mapping[str, JobDecal | None]) -> tuple[Step, ...]:
    """The steps under the key ``steps``, each as often as it says; what is wrong is noted."""
    if "steps" not in root:
        root.fault("steps", 'is missing; give a list such as steps = ["tack", "flood", { do = "flood", wait = "10h" }]')
        return ()
    found: list[Step] = []
    placed: list[str] = []
    tables = root.tables("steps", alone="do")
    for table in tables:
        step, repeat = _step(table, decals, placed)
        found += [step] * repeat if step is not None else []
    if not tables:
        root.fault("steps", "is empty; list the steps from the inside out")
    for name in decals:
        if name not in placed and "" not in placed:
            root.fault("steps", f'does not say where decal {name!r} goes; add {{ do = "decal", decals = ["{name}"] }}')
    return tuple(found)


def _step(table: Table, decals: Mapping[str, JobDecal | None], placed: list[str]) -> tuple[Step | None, int]:
    do = table.take("do", DO)
    for key, kinds in _GOES_WITH.items():
        if do is not None and key in table and do not in kinds:
            table.fault(key, f"goes with {', '.join(kinds)}, not with {do}")
    repeat = table.take("repeat", _REPEAT, 1)
    colour, material = table.maybe("colour", COLOUR), table.take("material", TEXT, "")
    flake, brush = table.maybe("flake", above_zero(LENGTH)), table.take("brush", FLAG, True)
    top, bottom, turns = table.maybe("from", LEVEL), table.maybe("to", LEVEL), table.maybe("turns", TURNS)
    volume_ml, film = table.maybe("ml", above_zero(NUMBER)), table.maybe("film", above_zero(LENGTH))
    colours, share = table.take("colours", whole_from(0), 0), table.take("colorant_share", from_zero(NUMBER), 0.0)
    wait_min, pull_min = table.maybe("wait", WAIT), table.maybe("pull_tape", WAIT)
    edge, seal = table.take("edge", FLAG, False), table.take("seal", FLAG, True)
    pieces = _pieces(table, decals, placed) if do == "decal" else ()

    def build() -> Step | None:
        if do is None or pieces is None:
            return None
        zone = None
        if any(part is not None for part in (top, bottom, turns)):
            left_deg, right_deg = turns or (-180.0, 180.0)
            with within("zone"):
                zone = Zone(top=top, bottom=bottom, left_deg=left_deg, right_deg=right_deg)
        coat = None
        for kind in COATED:
            if kind == do:
                with within("coat"):
                    coat = Coat(kind=kind, film=film, volume_ml=volume_ml, colours=colours, colorant_share=share)
        return Step(
            do=do,
            colour=colour,
            material=material,
            flake=flake,
            zone=zone,
            coat=coat,
            wait_min=wait_min,
            pull_min=pull_min,
            brush=brush,
            seal=seal,
            edge=edge,
            pieces=pieces,
        )

    return table.make(build, _FIELDS), repeat


def _pieces(table: Table, decals: Mapping[str, JobDecal | None], placed: list[str]) -> tuple[Piece, ...] | None:
    """The decals that go on in a step, by the names of their tables; None when one of them is wrong."""
    names = table.items("decals", _known(decals))
    if not names:
        table.fault("decals", 'must name the decals that go on, such as decals = ["comet"]')
    placed += names
    found = [(name, decals[name]) for name in names if name in decals]
    pieces = [
        Piece(name=name, medium=one.asked.medium, after_coat=one.after_coat) for name, one in found if one is not None
    ]
    return tuple(pieces) if len(pieces) == len(names) else None


def _known(decals: Mapping[str, JobDecal | None]) -> Form[str]:
    """The name of one of the decals; the placeholder is no name."""

    def parse(value: object) -> str:
        name = TEXT.parse(value)
        if name not in decals:
            raise CupgeomError("", f"no decal {name[:40]!r}; {nearest(name, decals)}")
        return name

    return Form(parse, "the name of a decal", "")


def _do(value: object) -> Kind | None:
    for kind in KINDS:
        if value == kind:
            return kind
    if isinstance(value, str):
        raise CupgeomError("", f"no step {value[:40]!r}; {nearest(value, KINDS)}")
    raise CupgeomError("", f"must be {DO.forms}, got {shown(value)}")


def _repeats(value: object) -> int:
    count = whole_from(1).parse(value)
    if count > MOST_REPEATS:
        raise CupgeomError("", f"must be at most {MOST_REPEATS}, got {count}")
    return count


DO: Form[Kind | None] = Form(_do, f"one of {', '.join(KINDS)}", None)
_REPEAT = Form(_repeats, f"a whole number from 1 to {MOST_REPEATS}", 1)
