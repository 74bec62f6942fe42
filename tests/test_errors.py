"""Errors and notices: what they say, word by word, and how a field's path grows on the way up."""

from __future__ import annotations

import copy
import math
import pickle

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cupgeom.errors import (
    CupgeomError,
    Notice,
    number,
    require_at_least,
    require_at_most,
    require_finite,
    require_positive,
    within,
)


def test_an_error_names_the_field_and_what_would_do() -> None:
    error = CupgeomError("cup.rings[1].height", "must be below the ring before it")
    assert str(error) == "cup.rings[1].height: must be below the ring before it"
    assert (error.where, error.what) == ("cup.rings[1].height", "must be below the ring before it")
    assert isinstance(error, ValueError)


def test_an_error_without_a_field_says_only_what_is_wrong() -> None:
    assert str(CupgeomError("", "nothing to draw")) == "nothing to draw"


@pytest.mark.parametrize("remake", [copy.copy, copy.deepcopy, lambda error: pickle.loads(pickle.dumps(error))])
def test_an_error_survives_copying_and_pickling(remake) -> None:
    again = remake(CupgeomError("height", "is missing"))
    assert (type(again), str(again)) == (CupgeomError, "height: is missing")


@pytest.mark.parametrize(
    ("outer", "inner", "path"),
    [
        (["cup"], "height", "cup.height"),
        (["cup", "rings"], "[1].height", "cup.rings[1].height"),
        (["job", "cup", "handle.feet[0]"], "width", "job.cup.handle.feet[0].width"),
        (["cup"], "", "cup"),
    ],
)
def test_the_path_grows_on_the_way_up(outer: list[str], inner: str, path: str) -> None:
    def descend(parts: list[str]) -> None:
        if not parts:
            raise CupgeomError(inner, "is wrong")
        with within(parts[0]):
            descend(parts[1:])

    with pytest.raises(CupgeomError) as caught:
        descend(outer)
    assert str(caught.value) == f"{path}: is wrong"
    assert caught.value.__suppress_context__  # one line for the reader, not a chain


def test_within_leaves_other_errors_alone() -> None:
    with pytest.raises(KeyError, match="rim"), within("cup"):
        raise KeyError("rim")


def test_a_notice_reads_where_what_and_mend() -> None:
    assert str(Notice("rim band", "lips touch here", "go lower")) == "rim band: lips touch here; go lower"
    assert str(Notice("caption", "one letter is missing")) == "caption: one letter is missing"
    assert Notice("a", "b", "c") == Notice("a", "b", "c")
    assert len({Notice("a", "b"), Notice("a", "b"), Notice("a", "c")}) == 2


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (88.0, "88"),
        (88, "88"),
        (88.5, "88.5"),
        (0.1 + 0.2, "0.3"),
        (1 / 3, "0.3333333333"),
        (123456.789, "123456.789"),
        (1e12, "1e+12"),
        (-3.25, "-3.25"),
        (0.0, "0"),
        (-0.0, "0"),
        (1e-12, "1e-12"),
        (math.inf, "inf"),
    ],
)
def test_a_number_is_written_short(value: float, text: str) -> None:
    assert number(value) == text


@given(st.floats(min_value=-1e300, max_value=1e300, allow_subnormal=False))
def test_a_written_number_is_true_to_ten_digits(value: float) -> None:
    assert math.isclose(float(number(value)), value, rel_tol=5.0001e-10)


@pytest.mark.parametrize(
    ("value", "what"),
    [
        (math.nan, "must be a finite number of mm, got nan"),
        (math.inf, "must be a finite number of mm, got inf"),
        (-math.inf, "must be a finite number of mm, got -inf"),
        (10**400, "must be a finite number of mm, got an integer too large for that"),
        pytest.param(
            -(10**5000), "must be a finite number of mm, got an integer too large for that", id="five thousand digits"
        ),
        (True, "must be a number of mm, got True"),
        ("88", "must be a number of mm, got '88'"),
        (None, "must be a number of mm, got None"),
        ([88.0], "must be a number of mm, got [88.0]"),
        (1j, "must be a number of mm, got 1j"),
    ],
)
@pytest.mark.parametrize(
    "require",
    [
        require_finite,
        require_positive,
        lambda where, value: require_at_least(where, value, 0),
        lambda where, value: require_at_most(where, value, 100),
    ],
)
def test_what_is_no_finite_number_is_refused_by_every_check(require, value: object, what: str) -> None:
    with pytest.raises(CupgeomError) as caught:
        require("height", value)
    assert str(caught.value) == f"height: {what}"


def test_a_long_value_is_shortened_in_the_message() -> None:
    with pytest.raises(CupgeomError) as caught:
        require_finite("height", "9" * 100_000)
    assert len(str(caught.value)) < 100


@pytest.mark.parametrize("value", [1, 1.0, 1e300, 10**300])
def test_a_number_in_range_passes(value: float) -> None:
    require_finite("height", value)
    require_positive("height", value)
    require_at_least("height", value, 1)
    require_at_most("height", value, value)


@pytest.mark.parametrize(
    ("check", "message"),
    [
        (lambda: require_positive("height", 0), "height: must be greater than 0 mm, got 0 mm"),
        (lambda: require_positive("height", -0.0), "height: must be greater than 0 mm, got 0 mm"),
        (lambda: require_positive("height", -3), "height: must be greater than 0 mm, got -3 mm"),
        (lambda: require_positive("volume_ml", -1, "mL"), "volume_ml: must be greater than 0 mL, got -1 mL"),
        (lambda: require_at_least("bleed", -0.5, 0), "bleed: must be at least 0 mm, got -0.5 mm"),
        (lambda: require_at_least("rate", 0.5, 1, "rpm"), "rate: must be at least 1 rpm, got 0.5 rpm"),
        (lambda: require_at_most("width", 5081, 5080.0), "width: must be at most 5080 mm, got 5081 mm"),
    ],
)
def test_a_number_out_of_range_is_refused_with_its_unit(check, message: str) -> None:
    with pytest.raises(CupgeomError) as caught:
        check()
    assert str(caught.value) == message
