"""Geometry for hand-decorated drink cups. Names load when they are first used, so that the import is cheap."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from cupgeom.cup import Cup, Foot, Handle, Ring, Span, Wall
    from cupgeom.errors import CupgeomError, Notice
    from cupgeom.template import Template

__version__ = "0.1.0"
_HOME = {
    "Cup": "cup",
    "CupgeomError": "errors",
    "Foot": "cup",
    "Handle": "cup",
    "Notice": "errors",
    "Ring": "cup",
    "Span": "cup",
    "Template": "template",
    "Wall": "cup",
}
__all__ = ["Cup", "CupgeomError", "Foot", "Handle", "Notice", "Ring", "Span", "Template", "Wall"]


def __getattr__(name: str) -> object:
    if name not in _HOME:
        raise AttributeError(f"module 'cupgeom' has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(f"cupgeom.{_HOME[name]}"), name)
