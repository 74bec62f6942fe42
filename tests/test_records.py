"""Reading files: the line of each key against a writer that knows it, and whole messages for what is wrong."""

from __future__ import annotations

import copy
import datetime
import json
import math
import pickle
import random
import tomllib

import pytest
import tomlkit
from hypothesis import given
from hypothesis import strategies as st

from cupgeom import Cup, CupgeomError
from cupgeom import records as r
from cupgeom.cup import Ring
from cupgeom.errors import within
from cupgeom.records import Fault, Faults, Kind, Table, key_lines, key_text, nearest, read, shown
from cupgeom.records.lines import DEEPEST

PLAIN = {
    "1": 1,
    "-0.5": -0.5,
    "1e3": 1000.0,
    "0x1F": 31,
    "inf": math.inf,
    "true": True,
    "2026-03-01": datetime.date(2026, 3, 1),
    "07:32:00": datetime.time(7, 32),
    "1979-05-27 07:32:00": datetime.datetime(1979, 5, 27, 7, 32),
}
TRICKY = (
    "",
    "a = 1",
    "[cups.a]",
    "# none",
    "it's",
    'say "x"',
    'end"',
    '""end""',
    "end''",
    "back\\slash\\",
    "two\nlines = 2\n[x]\n",
    "}, ]",
    "é½″",
)
NAMES = ("rim", "feet", "a-b_1", "7", "", "a.b", "x = 1", "#", 'q"q', "it's", "[t]", "é", " sp ace ", "true", "\ttab")


class Writer:
    """Writes a document in a random layout and notes on which line it puts each key."""

    def __init__(self, chance: random.Random) -> None:
        self.chance, self.text, self.lines = chance, "", {}

    def put(self, text: str) -> None:
        self.text += text

    def mark(self, path: tuple[str | int, ...]) -> None:
        self.lines.setdefault(path, self.text.count("\n") + 1)

    def gap(self) -> None:
        self.put(self.chance.choice(["", " ", "\t "]))

    def rest(self) -> None:
        """The rest of a line, and lines that say nothing."""
        self.put(self.chance.choice(["\n", "  # rim = 3\n", "\n\n", "\n# [cups]\n", '# """\n', "#\n"]))

    def breaks(self) -> None:
        """Space where line breaks are allowed."""
        self.put(self.chance.choice(["", " ", "\n", " # ] , x = 1\n  "]))

    def key(self, name: str) -> None:
        if name and all(char.isascii() and (char.isalnum() or char in "-_") for char in name):
            forms = [name, f'"{name}"', f"'{name}'"]
        else:
            forms = [json.dumps(name), json.dumps(name, ensure_ascii=False)] + ([] if "'" in name else [f"'{name}'"])
        self.put(self.chance.choice(forms))

    def keys(self, path: tuple[str | int, ...], names: list[str]) -> tuple[str | int, ...]:
        for index, name in enumerate(names):
            if index:
                self.gap()
                self.put(".")
                self.gap()
            path = (*path, name)
            self.mark(path)
            self.key(name)
        return path

    def string(self, text: str) -> None:
        basic = json.dumps(text, ensure_ascii=False)
        escaped = text.replace("\\", "\\\\").replace('"""', '""\\"')
        forms = [basic, f'"""\n{escaped}"""', f'"""\\\n   {escaped.lstrip()}"""' if text == text.lstrip() else basic]
        if "'''" not in text:
            forms.append(f"'''\n{text}'''")
        if "'" not in text and "\n" not in text:
            forms.append(f"'{text}'")
        self.put(self.chance.choice(forms))

    def value(self, path: tuple[str | int, ...], depth: int = 0) -> object:
        kind = self.chance.randrange(6 if depth < 3 else 4)
        if kind < 2:
            plain = self.chance.choice(list(PLAIN))
            self.put(plain)
            return PLAIN[plain]
        if kind < 4:
            text = self.chance.choice(TRICKY)
            self.string(text)
            return text
        count, values = self.chance.randrange(4), []
        if kind == 4:
            self.put("[")
            for index in range(count):
                self.breaks()
                self.mark((*path, index))
                values.append(self.value((*path, index), depth + 1))
                self.breaks()
                if index < count - 1 or self.chance.random() < 0.5:
                    self.put(",")
            self.breaks()
            self.put("]")
            return values
        self.put("{")
        table = self.pairs(path, count, depth + 1)
        self.put("}")
        return table

    def pairs(self, path: tuple[str | int, ...], count: int, depth: int) -> dict[str, object]:
        """Pairs between braces."""
        table: dict[str, object] = {}
        for index, name in enumerate(self.chance.sample(NAMES, count)):
            self.put("," if index else "")
            self.gap()
            names = [name, *self.chance.sample(NAMES, self.chance.choice([0, 0, 1, 2]))]
            self.pair(path, names, table, depth)
            self.gap()
        return table

    def pair(self, path: tuple[str | int, ...], names: list[str], table: dict[str, object], depth: int) -> None:
        path = self.keys(path, names)
        self.gap()
        self.put("=")
        self.gap()
        for name in names[:-1]:
            table = table.setdefault(name, {})
        table[names[-1]] = self.value(path, depth)

    def section(self, path: tuple[str | int, ...], header: list[str], table: dict[str, object], depth: int) -> None:
        """The pairs of a table, then the tables in it under headers of their own."""
        names = self.chance.sample(NAMES, self.chance.randrange(5))
        split = self.chance.randrange(len(names) + 1)
        for name in names[:split]:
            self.gap()
            self.pair(path, [name, *self.chance.sample(NAMES, self.chance.choice([0, 0, 1]))], table, 0)
            self.gap()
            self.rest()
        for name in names[split:] if depth < 3 else []:
            if self.chance.random() < 0.5:
                table[name] = {}
                self.header(path, [*header, name], ())
                self.section((*path, name), [*header, name], table[name], depth + 1)
                continue
            table[name] = []
            for index in range(self.chance.randrange(1, 4)):
                table[name].append({})
                self.header(path, [*header, name], (index,))
                self.section((*path, name, index), [*header, name], table[name][index], depth + 1)

    def header(self, path: tuple[str | int, ...], names: list[str], index: tuple[int, ...]) -> None:
        self.gap()
        self.mark((*path, names[-1]))
        self.mark((*path, names[-1], *index))
        self.put("[[" if index else "[")
        self.gap()
        for position, name in enumerate(names):
            self.put("." if position else "")
            self.gap()
            self.key(name)
            self.gap()
        self.put("]]" if index else "]")
        self.gap()
        self.rest()


@st.composite
def documents(draw: st.DrawFn) -> tuple[str, dict[str, object], dict[tuple[str | int, ...], int]]:
    """A text, what it says, and the line of each key."""
    writer = Writer(draw(st.randoms(use_true_random=False)))
    values: dict[str, object] = {}
    writer.rest()
    writer.section((), [], values, 0)
    return writer.text, values, writer.lines


def rim_only(table: Table) -> float:
    return table.take("rim", r.LENGTH)


def faults(text: str, build=rim_only, name: str = "cup.toml") -> str:
    with pytest.raises(Faults) as caught:
        read(text, name, build)
    return str(caught.value)


@given(documents())
def test_each_key_is_found_on_the_line_where_it_was_written_whatever_ends_the_lines(document) -> None:
    text, values, lines = document
    assert tomllib.loads(text) == values
    assert key_lines(text) == lines
    assert key_lines(text.replace("\n", "\r\n")) == lines


@given(
    st.recursive(
        st.integers(-9, 9) | st.booleans() | st.text(max_size=5),
        lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
        max_leaves=12,
    ).map(lambda value: {"top": value})
)
def test_the_paths_of_what_tomlkit_writes_are_those_of_its_values(values: dict[str, object]) -> None:
    text = tomlkit.dumps(values)

    def paths(value: object, path: tuple[str | int, ...]) -> set[tuple[str | int, ...]]:
        inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
        return {path}.union(*(paths(one, (*path, key)) for key, one in inner))

    assert set(key_lines(text)) == paths(tomllib.loads(text), ()) - {()}


@given(st.text(alphabet="ab.\"'[]{}=,#\n\\ 1-\t:_é", max_size=40))
def test_any_text_is_read_or_refused_with_a_line(text: str) -> None:
    try:
        read(text, "any.toml", lambda table: table.values)
    except Faults as refused:
        assert all(1 <= fault.line <= text.count("\n") + 1 for fault in refused.faults)
        assert refused.faults


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            "rim = 88 mm",
            '1:10: the line should end here; put text in quotes, such as "10 7/8 in", each key on its own line',
        ),
        (
            "\nrim = “88 mm”",
            "2:7: no value; give a number, true, false, a date such as 2026-03-01, or text in straight quotes",
        ),
        (
            "rim = \n",
            "1:7: no value; give a number, true, false, a date such as 2026-03-01, or text in straight quotes",
        ),
        ('rim = "88', "1:10: the text does not end; close it with a quote on the same line"),
        ('rim = "88\n"', "1:10: the text does not end; close it with a quote on the same line"),
        ('rim = "88\a"', "1:10: a character that cannot stand here; remove it"),
        ("rim = 1\nrim = 2\n", "2:8: this key stands there already; remove one of the two"),
        ("[rim]\n[rim]\n", "2:5: this table stands there already; remove or rename one of the two"),
        (
            "rim = 1\nbase diameter = 2\n",
            "2:6: a = is missing after the key; write key = value, and a key that holds spaces in quotes",
        ),
        ("“rim” = 1", "1:1: neither a key nor a table; write key = value or [table], with straight quotes"),
        ('rim = "c:\\q"', "1:12: a backslash in text in double quotes; write such text in single quotes"),
        ("rim = {base = 1", "1:16: this is not TOML (Unclosed inline table); mend what stands there"),
        ("\nrim = " + "[" * 20_000, "1: tables or lists are nested too deep; make it flatter"),
        ("rim" + ".rim" * DEEPEST + " = 1", "1: tables or lists are nested too deep; make it flatter"),
        ("\nrim = " + "1" * 5000, "2: a number has too many digits; shorten it"),
    ],
)
def test_text_that_is_not_toml_is_refused_with_line_and_column(text: str, message: str) -> None:
    assert faults(text) == f"cup.toml:{message}"


def test_a_key_of_the_greatest_depth_is_read() -> None:
    text = ".".join(["rim"] * DEEPEST) + " = 1"
    assert len(key_lines(text)) == DEEPEST


# --- kinds of values


@pytest.mark.parametrize(
    ("written", "mm"),
    [("88", 88), ("88.5", 88.5), ('"88mm"', 88), ('"8,8 cm"', 88), ('"3 1/2 in"', 88.9), ("'''3-1/2\"'''", 88.9)],
)
def test_a_length_is_a_number_of_mm_or_a_typed_length(written: str, mm: float) -> None:
    assert read(f"rim = {written}", "cup.toml", rim_only) == mm  # 1 in = 25.4 mm exactly


@pytest.mark.parametrize(("written", "turn_deg"), [("-30", -30), ("180.0", 180), ('"left"', -90), ('"30°"', 30)])
def test_a_turn_is_degrees_or_a_side(written: str, turn_deg: float) -> None:
    assert read(f"rim = {written}", "cup.toml", lambda table: table.take("rim", r.TURN)) == turn_deg


PAIR = r.row(r.LENGTH, 2, "a diameter and a height such as [88, 170]")
LENGTHS = "a length such as 88, 88mm, 8.8cm, 3.5in or 3 1/2 in"
TURNS = "front, right, back, left or degrees from -180 to 180"


@pytest.mark.parametrize(
    ("kind", "written", "what"),
    [
        (r.LENGTH, "true", f"must be {LENGTHS}, got true"),
        (r.LENGTH, '""', f"is empty; give {LENGTHS}"),
        (r.LENGTH, '"8x"', "unknown unit 'x' in '8x'; use mm, cm, in or \""),
        (r.LENGTH, "nan", "must be a finite number, got nan"),
        (r.LENGTH, "-inf", "must be a finite number, got -inf"),
        (r.LENGTH, "9" * 400, "must be a finite number, got a number too large"),
        (r.LENGTH, "[88]", f"must be {LENGTHS}, got a list"),
        (r.LENGTH, "{mm = 88}", f"must be {LENGTHS}, got a table"),
        (r.LENGTH, "2026-03-01", f"must be {LENGTHS}, got 2026-03-01"),
        (r.TURN, "181", "must be from -180° to 180°, got 181°"),
        (r.TURN, "false", f"must be {TURNS}, got false"),
        (r.TURN, "nan", "must be a finite number, got nan"),
        (r.TURN, '"up"', f"cannot read 'up'; give {TURNS}"),
        (r.TEXT, "88", "must be text in quotes, got 88"),
        (r.NUMBER, '"1.5"', "must be a number, got '1.5'"),
        (r.NUMBER, "inf", "must be a finite number, got inf"),
        (r.WHOLE, "1.0", "must be a whole number, got 1"),
        (r.WHOLE, "true", "must be a whole number, got true"),
        (r.FLAG, "1", "must be true or false, got 1"),
        (r.FLAG, '"yes"', "must be true or false, got 'yes'"),
        (r.DATE, '"2026-03-01"', "must be a date without quotes such as 2026-03-01, got '2026-03-01'"),
        (
            r.DATE,
            "2026-03-01T10:00:00",
            "must be a date without quotes such as 2026-03-01, got 2026-03-01 10:00:00",
        ),
        (r.choice("matt", "gloss"), '"mat"', "must be one of matt, gloss, got 'mat'"),
        (r.choice("matt", "gloss"), "3", "must be one of matt, gloss, got 3"),
        (r.above_zero(r.LENGTH), "0", "must be greater than 0, got 0"),
        (r.above_zero(r.LENGTH), '"-1 in"', "must be greater than 0, got '-1 in'"),
        (r.from_zero(r.LENGTH), "-0.5", "must be at least 0, got -0.5"),
        (PAIR, "[88]", "must be a diameter and a height such as [88, 170], got a list of 1"),
        (PAIR, "88", "must be a diameter and a height such as [88, 170], got 88"),
    ],
)
def test_what_a_key_cannot_hold_is_said_with_what_would_do(kind: Kind[object], written: str, what: str) -> None:
    assert faults(f"\nrim = {written}", lambda table: table.take("rim", kind)) == f"cup.toml:2: rim: {what}"


@pytest.mark.parametrize(
    ("kind", "written", "value"),
    [
        (r.TEXT, '"spring"', "spring"),
        (r.NUMBER, "3", 3.0),
        (r.WHOLE, "-3", -3),
        (r.FLAG, "false", False),
        (r.DATE, "2026-03-01", datetime.date(2026, 3, 1)),
        (r.choice("matt", "gloss"), '"gloss"', "gloss"),
        (r.above_zero(r.LENGTH), '"1 in"', 25.4),
        (r.from_zero(r.LENGTH), "0", 0.0),
        (PAIR, '["8.8 cm", 170]', (88.0, 170.0)),
    ],
)
def test_a_key_gives_its_value(kind: Kind[object], written: str, value: object) -> None:
    assert read(f"rim = {written}", "cup.toml", lambda table: table.take("rim", kind)) == value


def test_a_fault_deep_in_a_list_stands_on_its_own_line() -> None:
    text = "rings = [\n  [88,\n   170],\n  [70,\n   'zero'],\n  3,\n]\n"
    assert faults(text, lambda table: table.items("rings", PAIR)) == (
        f"cup.toml:5: rings[1][1]: cannot read 'zero'; give {LENGTHS}\n"
        "cup.toml:6: rings[2]: must be a diameter and a height such as [88, 170], got 3"
    )


# --- tables


def two_cups(root: Table) -> list[Cup | None]:
    cups = root.table("cups")
    return [] if cups is None else [one_cup(table) for table in cups.named().values()]


def one_cup(table: Table) -> Cup | None:
    rim, base, height = (table.take(key, r.LENGTH) for key in ("rim", "base", "height"))
    lip = table.take("bare_lip", r.LENGTH, 0.0)
    table.maybe("notes", r.TEXT)
    return table.make(
        lambda: Cup.frustum(rim, base, height, bare_lip=lip), {"rim_diameter": "rim", "base_diameter": "base"}
    )


def test_a_good_file_gives_its_values() -> None:
    text = "[cups.a]\nrim = 88\nbase = '7 cm'\nheight = 170\n[cups.'b c']\nrim = 1\nbase = 2\nheight = 3\nbare_lip = 1"
    assert read(text, "cup.toml", two_cups) == [Cup.frustum(88, 70, 170), Cup.frustum(1, 2, 3, bare_lip=1)]


def test_all_faults_are_reported_at_once_in_the_order_of_the_file() -> None:
    text = """# my cups
[cups.mug]
rim = "88 yards"       # no such unit
base = 70
hieght = 170

[cups."tapered 20"]
rim = 88
base = -70
height = 170

[cups.low]
rim = 88
base = 70
height = 20
bare_lip = 30
notes = 7

[cups]
tall = 3

[cup]
"""
    assert faults(text, two_cups) == (
        "cup.toml:2: cups.mug.height: is missing; give a length such as 88, 88mm, 8.8cm, 3.5in or 3 1/2 in\n"
        "cup.toml:3: cups.mug.rim: unknown unit 'yards' in '88 yards'; use mm, cm, in or \"\n"
        "cup.toml:5: cups.mug.hieght: unknown key; did you mean height?\n"
        'cup.toml:9: cups."tapered 20".base: must be at least 0 mm, got -70 mm\n'
        "cup.toml:17: cups.low.notes: must be text in quotes, got 7\n"
        "cup.toml:20: cups.tall: must be a table with keys, got 3\n"
        "cup.toml:22: cup: unknown key; did you mean cups?"
    )


def test_nothing_is_made_of_a_table_in_which_something_is_wrong() -> None:
    made = []

    def build(root: Table) -> None:
        made.append(root.make(lambda: 1))
        for table in root.tables("feet"):
            table.take("width", r.LENGTH)
            made.append(table.make(lambda: 2))
        made.append(root.make(lambda: 3))

    assert faults("feet = [{width = 14}, {width = true}]", build).startswith("cup.toml:1: feet[1].width: must be")
    assert made == [1, 2, None, None]


def test_an_error_of_a_value_is_put_at_the_key_that_its_field_came_from() -> None:
    text = "name = 'x'\nrings = [\n  [88, 170],\n  [70, 180],\n]\n"

    def build(root: Table) -> Cup | None:
        root.take("name", r.TEXT)
        pairs = root.items("rings", PAIR)
        return root.make(
            lambda: Cup(rings=tuple(Ring(diameter=diameter, height=height) for diameter, height in pairs)),
            {"rings[].height": "rings[][1]"},
        )

    assert faults(text, build) == ("cup.toml:4: rings[1][1]: must be below the ring before it (at 170 mm), got 180 mm")


def refuse(where: str) -> None:
    with within("handle"):
        raise CupgeomError(where, "will not do")


@pytest.mark.parametrize(
    ("where", "place"),
    [
        ("feet[0].top", "2: cup.feet[0].from: will not do"),
        ("feet[0].width", "2: cup.feet[0].width: will not do"),
        ("feet[0].colour", "2: cup.feet[0]: will not do"),
        ("feet[3].top", "2: cup.feet: will not do"),
        ("arch", "2: cup.feet: will not do"),
        ("clearance", '3: cup."free space": will not do'),
    ],
)
def test_the_longest_field_that_fits_tells_the_key(where: str, place: str) -> None:
    text = '[cup]\nfeet = [{ width = 14, from = 15 }]\n"free space" = 3\n'
    fields = {"handle": "feet", "handle.feet[]": "feet[]", "handle.feet[].top": "feet[].from"}

    def build(root: Table) -> None:
        table = root.table("cup")
        assert table is not None
        table.leave("feet", "free space")
        table.make(lambda: refuse(where), {**fields, "handle.clearance": "free space"})

    assert faults(text, build) == f"cup.toml:{place}"


def test_an_error_of_no_key_is_put_at_the_table_and_keeps_its_field() -> None:
    def build(root: Table) -> None:
        for table in root.tables("cup"):
            table.make(lambda: refuse("clearance"))

    assert faults("\n[[cup]]\n[[cup]]", build) == (
        "cup.toml:2: cup[0]: handle.clearance: will not do\ncup.toml:3: cup[1]: handle.clearance: will not do"
    )


def test_a_located_error_can_be_raised_long_after_the_file_was_read() -> None:
    def build(root: Table) -> Table:
        (table,) = root.tables("cup")
        table.leave("rim")
        return table

    table = read("[cup]\nrim = 3", "cup.toml", build)
    located = table.locate(CupgeomError("rim_diameter", "will not do"), {"rim_diameter": "rim"})
    assert str(located) == "cup.toml:2: cup.rim: will not do"
    assert located.faults == (Fault(file="cup.toml", line=2, key="cup.rim", what="will not do"),)


def test_a_plain_value_stands_for_a_table_with_one_key() -> None:
    def build(root: Table) -> list[float]:
        found = []
        for table in root.tables("rim", alone="read"):
            found.append(table.take("read", r.LENGTH))
            table.maybe("label", r.TEXT)
            table.make(lambda: refuse_read(found[-1]))
        return found

    def refuse_read(value: float) -> None:
        if value < 0:
            raise CupgeomError("read", "must be more")

    assert read("rim = 3", "cup.toml", build) == [3]
    assert read("rim = [3, '1in', {read = 5, label = 'x'}]", "cup.toml", build) == [3, 25.4, 5]
    assert faults("rim = [3, 'x', -1,\n {read = -1},\n {label = 'y'}, []]", build) == (
        f"cup.toml:1: rim[1]: cannot read 'x'; give {LENGTHS}\n"
        "cup.toml:1: rim[2]: must be more\n"
        "cup.toml:2: rim[3].read: must be more\n"
        f"cup.toml:3: rim[4].read: is missing; give {LENGTHS}\n"
        "cup.toml:3: rim[5]: must be a table with keys, got a list"
    )


def test_lists_and_tables_of_another_kind_are_refused() -> None:
    def build(root: Table) -> None:
        assert root.items("rings", PAIR) == ()
        assert root.table("cup") is None
        assert root.tables("feet") == ()

    assert faults("rings = 3\ncup = [1]\nfeet = 'a'", build) == (
        "cup.toml:1: rings: must be a list in brackets, each of it a diameter and a height such as [88, 170], got 3\n"
        "cup.toml:2: cup: must be a table with keys, got a list\n"
        "cup.toml:3: feet: must be a table with keys, got 'a'"
    )


def test_what_is_left_out_is_nothing() -> None:
    def build(root: Table) -> list[object]:
        return [
            root.items("rings", PAIR),
            root.table("cup"),
            root.tables("feet"),
            root.maybe("rim", r.LENGTH),
            root.take("base", r.LENGTH, 7.0),
            "rim" in root,
            root.values,
        ]

    assert read("", "cup.toml", build) == [(), None, (), None, 7.0, False, {}]


def test_unknown_keys_are_offered_the_nearest_name_or_all_of_them() -> None:
    def build(root: Table) -> None:
        root.maybe("rim", r.LENGTH)
        root.maybe("bare_lip", r.LENGTH)
        root.maybe("free space", r.LENGTH)

    assert faults("rin = 1\nbarelip = 2\n'freespace' = 1\nqq = 3", build) == (
        "cup.toml:1: rin: unknown key; did you mean rim?\n"
        "cup.toml:2: barelip: unknown key; did you mean bare_lip?\n"
        'cup.toml:3: freespace: unknown key; did you mean "free space"?\n'
        'cup.toml:4: qq: unknown key; use rim, bare_lip, "free space"'
    )
    assert nearest("rim", []) == "there are none"


# --- words


@pytest.mark.parametrize(
    ("path", "written"),
    [
        (("cups", "tapered 20", "feet", 0, "width"), 'cups."tapered 20".feet[0].width'),
        (("a-b_1", "7", ""), 'a-b_1.7.""'),
        (("é", 'q"q\n'), '"é"."q\\"q\\n"'),
        (("esc\x1b[31m",), '"esc\\u001b[31m"'),
        ((0, 1), "[0][1]"),
    ],
)
def test_a_key_is_shown_as_it_would_be_written(path: tuple[str | int, ...], written: str) -> None:
    assert key_text(path) == written
    if isinstance(path[0], str) and not any(isinstance(step, int) for step in path):
        assert list(key_lines(f"{written} = 1"))[-1] == path


def test_long_keys_and_values_are_shortened() -> None:
    assert key_text(["k" * 1000]) == f'"{"k" * 57}..."'
    assert shown("v" * 1000) == f"'{'v' * 37}...'"
    assert shown(10**400) == "a number too large"


def test_faults_survive_copying_and_pickling() -> None:
    faults = Faults([Fault(file="a", line=1, column=3, what="x", key="k"), Fault(file="a", line=2, what="y")])
    assert str(faults) == "a:1:3: k: x\na:2: y"
    for twin in (copy.copy(faults), pickle.loads(pickle.dumps(faults))):
        assert (str(twin), twin.faults) == (str(faults), faults.faults)
