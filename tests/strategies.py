"""Cups and points that the property tests draw from."""

from __future__ import annotations

from hypothesis import strategies as st

from cupgeom import Cup

DIAMETERS = st.floats(min_value=20, max_value=150)
HEIGHTS = st.floats(min_value=20, max_value=300)


@st.composite
def frusta(draw: st.DrawFn) -> Cup:
    """A frustum of any taper: wide, slight down to 1e-12 mm, none, upside down."""
    rim, height = draw(DIAMETERS), draw(HEIGHTS)
    difference = draw(
        st.one_of(
            st.just(0.0),
            st.floats(min_value=-rim + 10, max_value=rim - 10),
            st.sampled_from([1e-12, -1e-12, 1e-9, -1e-6, 1e-3]),
        )
    )
    return Cup.frustum(rim, rim - difference, height)
