"""The order list: what spreadsheets write, what people leave out, and ten thousand rows in little memory."""

from __future__ import annotations

import csv
import io
import tracemalloc

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cupgeom.errors import CupgeomError, Notice
from cupgeom.sheets.orders import OrderList

ROWS = [("Lyra", "2"), ("Mira", ""), ("Ørn; the 'eagle', \"small\"", "3"), ("two\nlines", "1"), ("نجمة", "1")]


def table(separator: str = ",", ending: str = "\r\n") -> str:
    file = io.StringIO()
    writer = csv.writer(file, delimiter=separator, lineterminator=ending)
    writer.writerows([("name", "qty"), *ROWS])
    return file.getvalue()


def read(data: bytes, **settings: object) -> list[tuple[str, int]]:
    return [(order["name"], order.quantity) for order in OrderList(data=data, **settings)]  # type: ignore[arg-type]


def refusal(data: bytes, **settings: object) -> str:
    with pytest.raises(CupgeomError) as caught:
        read(data, **settings)
    return str(caught.value)


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("ending", ["\r\n", "\n"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"], ids=["plain", "byte order mark"])
def test_tables_are_read_as_spreadsheets_write_them(separator, ending, mark):
    expected = [(name, int(count or 1)) for name, count in ROWS]
    assert read(mark + table(separator, ending).encode()) == expected


CELLS = st.text(st.characters(exclude_characters="\0\r", exclude_categories=["Cs"]), max_size=12)


@given(st.lists(st.tuples(CELLS, CELLS), min_size=1, max_size=6), st.sampled_from([",", ";", "\t"]))
def test_what_the_csv_module_writes_is_read_back(rows, separator):
    file = io.StringIO()
    csv.writer(file, delimiter=separator, quoting=csv.QUOTE_ALL).writerows([("name", "line 2"), *rows])
    orders = [(order["name"], order["line 2"]) for order in OrderList(data=file.getvalue().encode())]
    assert orders == [(a.strip(), b.strip()) for a, b in rows if a.strip() or b.strip()]


def test_bytes_may_come_in_pieces_of_any_size():
    data = b"\xef\xbb\xbf" + table().encode()
    for size in (1, 2, 3, 7, 100):
        pieces = [data[start : start + size] for start in range(0, len(data), size)]
        assert read(pieces) == read(data)


def test_a_column_may_have_another_name_in_the_file():
    data = b"Vorname;Anzahl\nLyra;4\n"
    assert read(data, rename={"name": "Vorname", "qty": "Anzahl"}) == [("Lyra", 4)]


def test_a_column_of_ours_that_is_renamed_away_is_not_read():
    data = b"name,first\nno,yes\n"
    assert read(data, rename={"name": "first"}) == [("yes", 1)]


def test_rows_are_numbered_as_the_lines_of_the_file():
    orders = list(OrderList(data=table().encode()))
    assert [order.row for order in orders] == [2, 3, 4, 5, 7]  # the fourth order takes two lines


def test_only_some_names():
    assert read(table().encode(), only=("Mira", "Lyra")) == [("Lyra", 2), ("Mira", 1)]
    message = "only: no row has 'Vega' in the column 'name'"
    assert refusal(table().encode(), only=("Mira", "Vega")) == message


def test_what_looks_like_a_formula_is_text():
    data = b'name,qty\n=1+1,1\n"=HYPERLINK(""x"")",1\n+49,1\n-5,1\n@star,1\n'
    assert [name for name, _ in read(data)] == ["=1+1", '=HYPERLINK("x")', "+49", "-5", "@star"]


def test_a_name_of_300_letters_is_read_whole():
    assert read(b"name\n" + b"a" * 300 + b"\n") == [("a" * 300, 1)]


def test_blank_doubled_and_unfilled_rows_are_told():
    orders = OrderList(data=b"name,qty\nLyra,1\n\n , \n,2\nMira,1\nLyra,1\n")
    assert [(order["name"], order.quantity) for order in orders] == [("Lyra", 1), ("", 2), ("Mira", 1), ("Lyra", 1)]
    assert orders.notices == [
        Notice("orders[3]", "is blank", "it is left out"),
        Notice("orders[4]", "is blank", "it is left out"),
        Notice("orders[5]", "has nothing in the column 'name'", "fill it in, or take the row out"),
        Notice("orders[7]", "is the same as row 2", "both are made"),
    ]


def test_many_doubts_are_counted():
    orders = OrderList(data=b"name\nLyra\n" + b"Mira\n" * 31)
    assert len(list(orders)) == 32
    assert len(orders.notices) == 21
    assert str(orders.notices[-1]) == "orders: 10 more rows are blank, doubled or lack something"


@pytest.mark.parametrize("text", ["0", "-1", "1.5", "two", "1e3", "²", "٣", "100001", "9" * 5000])
def test_a_quantity_that_is_none_is_refused_with_its_row(text):
    message = refusal(f"name,qty\nLyra,1\nMira,{text}\n".encode())
    assert message == f"orders[3].qty: must be a whole number from 1 to 100000, got {text[:40]!r}"


@pytest.mark.parametrize(
    ("data", "settings", "message"),
    [
        (b"", {}, "orders: has no rows; the first must name the columns"),
        (b"Name,qty\n", {}, "orders: has no column 'name'; its columns are 'Name', 'qty'"),
        (b"a;b\n", {"needs": ("a", "c")}, "orders: has no column 'c'; its columns are 'a', 'b'"),
        (b"a;b\n", {"needs": (), "only": ("x",)}, "orders: has no column 'name'; its columns are 'a', 'b'"),
        (b"a,b\n", {"rename": {"name": "c"}}, "orders: has no column 'c' for 'name'; its columns are 'a', 'b'"),
        (b"name,name\n", {}, "orders: has the column 'name' twice; name them differently"),
        (
            b"name,qty\nLyra,1,x\n",
            {},
            "orders[2]: has 3 cells, but there are 2 columns; put text with separators in quotes",
        ),
        (
            "name\nÖrn\n".encode() + "Jörg\n".encode("latin-1"),
            {},
            "orders[3]: is not UTF-8 at byte 2 ('J\ufffdrg'); save the whole list as UTF-8",
        ),
        ("name\nLyra\n".encode("utf-16"), {}, "orders: is UTF-16 text; save it as UTF-8"),
        (b"name\nLy\0ra\n", {}, "orders[2]: holds a zero byte, so it is no text; save the list as UTF-8"),
        (
            b'name\n"Lyra\nMira\n',
            {},
            "orders[2]: cannot be read: unexpected end of data; look at its quotation marks",
        ),
    ],
)
def test_bad_lists_are_refused(data, settings, message):
    assert refusal(data, **settings) == message


def test_a_line_without_an_end_is_refused_before_it_fills_the_memory():
    pieces = (b"a" * 65536 for _ in range(10**6))
    assert refusal(pieces) == "orders[1]: is longer than 100000 characters"  # type: ignore[arg-type]


def test_ten_thousand_rows_pass_through_little_memory():
    """The file has 10 MB; what is kept of it is a number for each row."""
    head, row = [b"name,text\n"], "x" * 1000
    pieces = (f"name {index},{row}\n".encode() for index in range(10_000))
    tracemalloc.start()
    count = sum(1 for _ in OrderList(data=(piece for group in (head, pieces) for piece in group)))
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert count == 10_000
    assert peak < 4e6
