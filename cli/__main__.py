"""``python -m cupgeom_cli`` is ``cupgeom``."""

from .main import main

main()
