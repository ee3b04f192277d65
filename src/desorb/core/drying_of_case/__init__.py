"""Drying under way, read from the case."""
