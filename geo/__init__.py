"""Where, when, and what the sky is doing."""

PART_OF = "skiplobe"
"""The name of this package is a common one: so it is told whose it is."""
