"""The safety texts that every answer shows."""

from __future__ import annotations

from collections.abc import Sequence
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


def cautions_in_brief(own: Sequence[Caution] = ()) -> str:
    """
    Say what is never left out, what these very wires call for first.

    Parameters
    ----------
    own : sequence of Caution, optional
        Of the wires; of each only what it names.

    Returns
    -------
    words : str
        A few sentences.

    Examples
    --------
    >>> cautions_in_brief([Caution("low", "Low: my V. Raise it.")])[:40]
    'Cautions: Low: my V. Keep every wire cle'
    """
    if not own:
        return CAUTIONS_IN_BRIEF
    head, _, rest = CAUTIONS_IN_BRIEF.partition(": ")
    named = " ".join(f"{each.text.partition('. ')[0]}." for each in own)
    return f"{head}: {named} {rest[0].upper()}{rest[1:]}"


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
