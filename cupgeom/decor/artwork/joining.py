"""Fewer cubics for the same outline: neighbours that one cubic replaces."""

from __future__ import annotations

from cupgeom.drawing import Cubic

_STRAY = 20.0  # tolerances by which a point may slip along the outline
_BENT = 1e-2  # sine of the angle between neighbours beyond which they meet in a corner
_STRETCH = (0.8, 1.25)  # a candidate whose handles need more than this is not to be trusted


def joined(cubics: list[Cubic], tolerance: float) -> list[Cubic]:
    """Cubics that follow each other, two made one as long as that stays within a tolerance of both.

    The tolerance is that of one joining, straight across the outline; a cubic that has been joined may be joined again.
    """
    before = len(cubics) + 1
    while len(cubics) < before:
        before, following, left = len(cubics), list[Cubic](), cubics[:1]
        for cubic in cubics[1:]:
            whole = _whole(left[0], cubic, tolerance) if left else None
            if whole:
                following.append(whole)
                left = []
            else:
                following += left
                left = [cubic]
        cubics = following + left
    return cubics


def _whole(one: Cubic, two: Cubic, tolerance: float) -> Cubic | None:
    """One cubic in place of two, if it fits.

    Notes
    -----
    Had the two been one cubic cut at t, their handles at the cut would be as t to 1 − t long, and their outer handles
    would be t and 1 − t times the whole's (de Casteljau). That gives t and a candidate; both its handles are then
    stretched alike so that it passes the cut. Off the two it lies most near the middle of each, for at the ends it
    shares their points and directions.
    """
    start, end, cut = one.start, two.end, one.end
    into, out = cut - one.second, two.first - cut
    turn = into.conjugate() * out
    if turn.real <= 0 or abs(turn.imag) > _BENT * turn.real:
        return None
    before, after = abs(into), abs(out)
    t = before / (before + after)
    u = 1 - t
    first, second = (one.first - start) / t, (two.second - end) / u
    across = -1j * out / after  # its conjugate times a vector has the part across the outline as its real part
    reach = 3 * u * t * (u * first + t * second)  # of the cut, for each unit of stretch
    off = cut - start - t * t * (3 - 2 * t) * (end - start) - reach
    aside = reach.real * across.real + reach.imag * across.imag
    if aside:
        stretch = 1 + (off.real * across.real + off.imag * across.imag) / aside
        if not _STRETCH[0] < stretch < _STRETCH[1]:
            return None
        first, second = stretch * first, stretch * second
    whole = Cubic(start, start + first, end + second, end)
    for part, at in ((one, t / 2), (two, (1 + t) / 2)):
        off = whole.point(at) - (part.start + 3 * (part.first + part.second) + part.end) / 8
        along = part.second + part.end - part.start - part.first  # the direction in its middle
        if abs(off) > _STRAY * tolerance or abs((off * along.conjugate()).imag) > tolerance * abs(along):
            return None
    return whole
