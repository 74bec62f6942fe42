"""The outside of a cup as a curve: pieces of radius and height from the top edge to the base."""

from cupgeom.profile.chain import Profile
from cupgeom.profile.curve import Curve
from cupgeom.profile.pieces import ROLES, Piece, Role, Round, Straight, Trace
from cupgeom.profile.smooth import Smooth
from cupgeom.profile.strain import SheetFit, Strain

__all__ = ["ROLES", "Curve", "Piece", "Profile", "Role", "Round", "SheetFit", "Smooth", "Straight", "Strain", "Trace"]
