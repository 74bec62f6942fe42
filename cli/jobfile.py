"""A job file at the edge: read with the shop file beside it; the files that it names come from its own folder."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from cupgeom.errors import CupgeomError

from . import shop, store

if TYPE_CHECKING:
    from cupgeom.job import Job

FONTS = (".ttf", ".otf", ".woff2")


def job_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """The options of a command that reads job files; `job_file` reads them."""
    for decorate in (
        click.option("--allow-outside", is_flag=True, help="Let the job name files outside its folder."),
        click.option("--shop", type=click.Path(), metavar="FILE", help="The shop file. [shop.toml beside the job]"),
    ):
        command = decorate(command)
    return command


@dataclass(frozen=True, slots=True, kw_only=True)
class JobFile:
    """A job and where it was read.

    Parameters
    ----------
    path
        Of the job file.
    job
        What it says.
    fonts
        The shop file's folder of fonts; None without a shop file.
    outside
        Whether files may lie outside the job's folder.
    """

    path: Path
    job: Job
    fonts: Path | None = None
    outside: bool = False

    def read(self, name: str) -> bytes:
        """What a file that the job names holds; a name that is no file may be that of a font of the shop.

        Raises
        ------
        CupgeomError
            When there is no such file, or it leads out of the job's folder by a link.
        OSError
            When the disk refuses.
        """
        path = self.path.parent / name
        if not path.exists():
            known = self._known_fonts()
            if name in known:
                return store.bytes_of(known[name])
            hint = ""
            if known and not path.suffix:
                from cupgeom.records import nearest

                hint = f", and it is no font of {self.fonts}; {nearest(name, known)}"
            raise CupgeomError(str(path), f"does not exist{hint or '; check its name and folder'}")
        if not self.outside and not path.resolve().is_relative_to(self.path.parent.resolve()):
            raise CupgeomError(str(path), "leads out of the job's folder; copy the file there, or give --allow-outside")
        if not path.is_file():
            raise CupgeomError(str(path), "is no file; give a file of art, a font or a list")
        return store.bytes_of(path)

    def _known_fonts(self) -> dict[str, Path]:
        if self.fonts is None or not self.fonts.is_dir():
            return {}
        return {one.stem: one for one in sorted(self.fonts.iterdir()) if one.suffix.lower() in FONTS}

    def changed(self, **values: Any) -> JobFile:
        """The same with other values of the job, those that are None left as they are."""
        given = {key: value for key, value in values.items() if value is not None}
        return replace(self, job=replace(self.job, **given)) if given else self


def job_file(path: Path, given: Mapping[str, Any]) -> JobFile:
    """The job in a file, with what the shop file adds.

    Raises
    ------
    CupgeomError
        With all that is wrong in either file.
    OSError
        When the disk refuses.
    """
    from cupgeom.job import read_job
    from cupgeom.shelf import Shelf

    home = Path(given["shop"]) if given["shop"] else path.parent / shop.FILE
    text = store.text_of(path)
    there = given["shop"] or home.exists()
    shelf = shop.shelf({"shop": str(home)}) if there else Shelf(source=f"{home}, which is not there,")
    outside = given["allow_outside"]
    job = read_job(text, str(path), shelf, rates=shelf.rates, outside=outside)
    return JobFile(path=path, job=job, fonts=home.parent / shelf.fonts if there else None, outside=outside)
