"""A document in the format that a file's ending asks for: one PDF, or a file a page."""

from __future__ import annotations

from collections.abc import Sequence
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING

from cupgeom.errors import CupgeomError

if TYPE_CHECKING:
    from cupgeom.pages import Document


def require_ending(path: Path, endings: Sequence[str], option: str = "-o") -> None:
    """Refuse a name whose ending is no format of ours."""
    if path.suffix.lower() not in endings:
        choices = " or ".join(endings)
        raise CupgeomError(option, f"unknown ending of {str(path)!r}; give a name that ends in {choices}")


def written(path: Path, pages: Document, dpi: float = 300.0) -> dict[Path, bytes]:
    """The bytes to write: one PDF, or one file a page of another format, named after the page where it has a name."""
    ending = path.suffix.lower()
    write = import_module(f"cupgeom.writers.{ending[1:]}").render
    if ending == ".pdf":
        return {path: write(pages)}
    settings = {"dpi": dpi} if ending == ".png" else {}
    return {page_path(path, part): write(part, **settings) for part in pages.split()}


def page_path(path: Path, part: Document) -> Path:
    """The file of one page."""
    name = part.pages[0].name
    return path.with_name(f"{path.stem}-{name}{path.suffix}") if name else path
