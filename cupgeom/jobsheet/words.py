"""Text as the font has it."""

from __future__ import annotations

import unicodedata


def plain(text: str) -> str:
    """The text with letters and their marks joined, and one space wherever there is room of any kind."""
    return unicodedata.normalize("NFC", " ".join(text.split()))
