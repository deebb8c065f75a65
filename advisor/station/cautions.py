"""The safety texts that every answer shows."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from geo.tables import read_table

CAUTIONS_IN_BRIEF = (
    "Cautions: keep every wire clear of power lines; leave it at the first thunder; "
    "keep people 3 m from wire and feed, or farther where 'skiplobe wire' says so."
)
"""What is never left out, in one sentence."""


@dataclass(frozen=True)
class Caution:
    """
    One safety text.

    Attributes
    ----------
    topic : str
        What it is about, in a word or two.
    text : str
        What to do.
    """

    topic: str
    text: str


@cache
def cautions() -> tuple[Caution, ...]:
    """
    Return every safety text, in the order they are shown.

    Returns
    -------
    cautions : tuple of Caution
        The last defers to local rules and licensed practice.

    Examples
    --------
    >>> cautions()[0].topic, cautions()[-1].topic
    ('power lines', 'local rules')
    """
    return tuple(read_table("cautions").records(Caution))
