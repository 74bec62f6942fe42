"""What a wrap template refuses: every line whole, naming the field, what is wrong with it and what would do."""

from __future__ import annotations

import math

import pytest

from cupgeom import Cup, CupgeomError, Foot, Handle, Span, Template

from .test_template import MUG, only_piece, tumbler

WALL = "drop 0 to 170.24 mm"


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"wall_index": 1}, "wall_index: must be a whole number from 0 to 0, got 1"),
        ({"wall_index": math.nan}, "wall_index: must be a whole number from 0 to 0, got nan"),
        ({"seam": "sewn"}, "seam: must be one of blank, continued, butt, got 'sewn'"),
        ({"overlap": 0.0}, "overlap: must be greater than 0 mm, got 0 mm"),
        ({"overlap": 150.0}, "overlap: must be less than half the wrap's narrow end (219.9 mm), got 150 mm"),
        ({"bleed": 86.0}, "bleed: must be at most half the wrap's smaller side (170.2 mm), got 86 mm"),
        ({"safe": 90.0}, "safe: must be less than half the printed part's smaller side (170.2 mm), got 90 mm"),
        ({"trim": Span(top=100, bottom=200)}, f"trim: must be on the wall ({WALL}), got drop 100 to 200 mm"),
        ({"printed": Span(top=100, bottom=200)}, f"printed: must be on the wall ({WALL}), got drop 100 to 200 mm"),
        ({"trim": Span(top=100, bottom=100.5)}, "trim: leaves 0.5 mm of wall; it must be at least 1 mm"),
        (
            {"trim": Span(top=10, bottom=50), "printed": Span(top=60, bottom=90)},
            "printed: nothing is left to print between drops 60 and 90 mm (trim 10 to 50 mm, bare lip 0 mm)",
        ),
        ({"base_clearance": 171.0}, f"base_clearance: nothing is left of the wall ({WALL}); give less"),
        ({"gap": 0.0}, "gap: must be greater than 0 mm, got 0 mm"),
        ({"gap": 20.0, "closed": True}, "gap: a closed wrap has no gap; leave one of the two out"),
        ({"gap": 230.0}, "gap: 230 mm leaves nothing to print; give less"),
        (
            {"closed": False},
            "gap: an open wrap on a cup without a handle needs the width to leave free, such as 20mm",
        ),
        ({"splits_deg": (200.0,)}, "splits_deg: turn 200° (right, toward the back) is not on the wrap"),
        (
            {"gap": 60.0, "splits_deg": (170.0,)},
            "splits_deg: turn 170° (right, toward the back) is not on the wrap",
        ),
        (
            {"splits_deg": (30.0, 30.0)},
            "splits_deg: turn 30° (right, seen from the front) is there twice; leave one out",
        ),
        (
            {"splits_deg": (30.0, 31.0)},
            "overlap: must be less than half the wrap's narrow end (0.6 mm), got 8 mm",
        ),
    ],
)
def test_what_does_not_fit_is_refused_with_one_clear_line(changes, message):
    with pytest.raises(CupgeomError) as caught:
        tumbler(**changes)
    assert str(caught.value) == message


@pytest.mark.parametrize("field", ["overlap", "bleed", "safe", "rim_band", "base_clearance"])
@pytest.mark.parametrize(
    ("value", "what"),
    [
        (math.nan, "must be a finite number of mm, got nan"),
        (math.inf, "must be a finite number of mm, got inf"),
        (-1.0, "must be at least 0 mm, got -1 mm"),
        (1e9, "must be at most 10000 mm, got 1000000000 mm"),
        ("8", "must be a number of mm, got '8'"),
    ],
)
def test_every_width_refuses_what_is_no_width(field, value, what):
    with pytest.raises(CupgeomError) as caught:
        tumbler(**{field: value})
    assert str(caught.value) == f"{field}: {what}"


@pytest.mark.parametrize("value", [math.nan, math.inf, "front"])
def test_gap_and_splits_refuse_what_is_no_number(value):
    for field, unit, where in (("gap", "mm", "gap"), ("splits_deg", "degrees", "splits_deg[1]")):
        with pytest.raises(CupgeomError) as caught:
            tumbler(**{field: value if field == "gap" else (0.0, value)})
        kind = f"a number of {unit}, got 'front'" if value == "front" else f"a finite number of {unit}, got {value}"
        assert str(caught.value) == f"{where}: must be {kind}"


def test_a_wrap_on_the_point_of_a_cone_is_refused():
    with pytest.raises(CupgeomError) as caught:
        Template(cup=Cup.frustum(80, 0, 100), gap=20)
    assert str(caught.value) == "trim: reaches the point of the cup, where a wrap has no edge; end it above"
    ends_above = Template(cup=Cup.frustum(80, 0, 100), trim=Span(top=0, bottom=80))
    assert only_piece(ends_above).cut.area() != 0


def test_a_saucer_is_refused_before_its_wrap_would_meet_itself():
    with pytest.raises(CupgeomError) as caught:
        _ = Template(cup=Cup.frustum(160, 60, 10), seam="butt").pieces
    # sector of 360°·(80 − 30)/√(10² + 50²) = 353.0°
    assert str(caught.value) == "cup: the wall is so flat that its wrap covers 353° of a disc"


def test_a_bare_lip_that_covers_the_trim_leaves_nothing_to_print():
    with pytest.raises(CupgeomError) as caught:
        Template(cup=Cup.frustum(80, 80, 100, bare_lip=30), trim=Span(top=0, bottom=25))
    assert str(caught.value) == (
        "trim: nothing is left to print between drops 0 and 25 mm (trim 0 to 25 mm, bare lip 30 mm)"
    )


def test_a_split_through_the_handle_is_refused():
    with pytest.raises(CupgeomError) as caught:
        Template(cup=Cup.frustum(82, 82, 95, handle=MUG), closed=True, splits_deg=(-170.0,))
    # free within 180° − asin(10/41) = 165.9°
    assert str(caught.value) == (
        "splits_deg: turn −170° (left, toward the back) runs through the handle; split at the back or within ±165°"
    )


@pytest.mark.parametrize(
    ("foot", "message"),
    [
        ((90, 10, 30), "handle.feet[0].width: must be less than the cup there (82 mm across), got 90 mm"),
        ((10, 80, 120), "handle.feet[0].bottom: must be on the wall (drop 0 to 95 mm), got 120 mm"),
    ],
)
def test_a_handle_wider_than_the_cup_or_outside_the_wall_is_refused(foot, message):
    with pytest.raises(CupgeomError) as caught:
        Cup.frustum(82, 82, 95, handle=Handle(feet=(Foot(width=foot[0], top=foot[1], bottom=foot[2]),)))
    assert str(caught.value) == message
