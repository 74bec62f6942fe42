"""What goes on the wall: artwork and lettering, bent to read level, placed where it can be seen."""
