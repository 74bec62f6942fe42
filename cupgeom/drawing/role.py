"""The roles that items play on a page, in the order they are painted: the white underlay lies under the print."""

from __future__ import annotations

from typing import Literal, get_args

from cupgeom.errors import CupgeomError

Role = Literal["white", "print", "cut", "guide", "note"]
ROLES: tuple[Role, ...] = get_args(Role)


def require_role(where: str, role: Role) -> None:
    """Raise unless `role` is one of `ROLES`."""
    if role not in ROLES:
        raise CupgeomError(where, f"must be one of {', '.join(ROLES)}, got {role!r}")
