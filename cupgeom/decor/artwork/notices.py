"""Doubts about a file, gathered while it is read: the same doubt about many elements is one notice."""

from __future__ import annotations

from cupgeom.errors import Notice

_NAMED = 3  # elements that one notice names before it counts the rest


class Notices:
    """Collects doubts in the order they first arise."""

    def __init__(self, name: str) -> None:
        self._name = name
        self._labels: dict[tuple[str, str], dict[str, None]] = {}

    def add(self, label: str, what: str, mend: str = "") -> None:
        """A doubt about an element, or about the whole file when the label is empty."""
        self._labels.setdefault((what, mend), {})[label] = None

    def all(self) -> tuple[Notice, ...]:
        """One notice for each doubt, naming its first elements."""
        return tuple(Notice(self._where(list(labels)), what, mend) for (what, mend), labels in self._labels.items())

    def _where(self, labels: list[str]) -> str:
        named = [label for label in labels if label][:_NAMED]
        rest = len([label for label in labels if label]) - len(named)
        return ", ".join([self._name, *named]) + (f" and {rest} more" if rest else "")
