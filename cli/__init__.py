"""The command line of cupgeom."""
