"""Resin on the wall: what the film does, what to mix."""
