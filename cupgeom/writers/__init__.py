"""One module a file format, each with ``render(document) -> bytes``. They know pages and drawings, no cups."""
