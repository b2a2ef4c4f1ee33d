"""Ranks which seal of a machine leaks, from what was seen wet, what was dry, and how it stood."""
