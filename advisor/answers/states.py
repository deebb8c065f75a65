"""What a band is in an hour: open, short of signal, hidden by hills, or dead."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from advisor.answers.best import Readings
from advisor.answers.limits import OPEN_CHANCE
from advisor.engine.link import Link
from advisor.engine.question import Question
from advisor.engine.targets import over_targets
from advisor.station.emissions import emission_by_name
from geo.arrays import Ints

STATES = (
    "open",
    "weak-signal",
    "short",
    "far too weak",
    "below the horizon",
    "no layer",
    "not cut",
)
"""What a band may be in an hour, the nearer to a contact the earlier."""

OPEN, WEAK_SIGNAL, SHORT, FAR_TOO_WEAK, BELOW_HORIZON, NO_LAYER, NOT_CUT = range(
    len(STATES)
)

WEAK_SIGNAL_EMISSION = "FT8"
"""What stands for the weak-signal modes in which contacts are made."""

FAR_SHORT_DB = 30.0
"""Shorter than this nothing a station has will bridge: a thousand times the power (the
project's choice). [dB]"""


def states(question: Question, link: Link, found: Readings) -> Ints:
    """
    Say of every target, hour and band whether it is open, and if not, why.

    Parameters
    ----------
    question : Question
        What was asked.
    link : Link
        The sky's half.
    found : Readings
        What a set-up gives, or the best of several.

    Returns
    -------
    states : numpy.ndarray of int
        Shape (K, T, B), places in `STATES`.

    Notes
    -----
    Open is a chance of `OPEN_CHANCE` and more. Else there is no layer if the layers
    return the band on fewer days than that, or, where they do, if the signal is enough
    on a middling day, so that the days are too few. It is below the horizon if what
    they return is hidden by hills on all but so many days. Else it is short by what the
    margin lacks; the weak-signal modes are those of `WEAK_SIGNAL_EMISSION`.
    """
    modes = link.modes
    along = found.by_ground_wave
    returned = over_targets(question, modes.returned.max(axis=-1))
    support = over_targets(question, modes.support.max(axis=-1))
    spared_db = weak_signal_db(question)
    return np.asarray(
        np.select(
            [
                np.broadcast_to(~found.works, found.chance.shape),
                found.chance >= OPEN_CHANCE,
                ~along & (returned < OPEN_CHANCE),
                ~along & (support < OPEN_CHANCE),
                ~(found.margin_db < 0.0),
                found.margin_db >= -spared_db,
                found.margin_db >= -FAR_SHORT_DB,
            ],
            [NOT_CUT, OPEN, NO_LAYER, BELOW_HORIZON, NO_LAYER, WEAK_SIGNAL, SHORT],
            FAR_TOO_WEAK,
        )
    )


def weak_signal_db(question: Question) -> float:
    """
    Say how much less signal a weak-signal mode needs.

    Parameters
    ----------
    question : Question
        Holds the emission.

    Returns
    -------
    spared_db : float
        0 or more. [dB]
    """
    least = emission_by_name(WEAK_SIGNAL_EMISSION).snr_db_hz
    return max(question.emission.snr_db_hz - least, 0.0)


def mark(state: int, margin_db: float) -> str:
    """
    Mark a band that is shut in a table.

    Parameters
    ----------
    state : int
        A place in `STATES`.
    margin_db : float
        What it lacks is its negative. [dB]

    Returns
    -------
    mark : str
        Empty for an open band.

    Examples
    --------
    >>> mark(SHORT, -12.4), mark(WEAK_SIGNAL, -8.0), mark(NO_LAYER, float("nan"))
    ('-12', 'w', '.')
    """
    if state == SHORT:
        return f"-{max(round(-margin_db), 1)}"
    return _MARKS.get(state, "")


_MARKS = {
    WEAK_SIGNAL: "w", FAR_TOO_WEAK: "x", BELOW_HORIZON: "h", NO_LAYER: ".",
    NOT_CUT: "-",
}  # fmt: skip

_KEYS = {
    WEAK_SIGNAL: "'w' open for weak-signal modes",
    SHORT: "-9 open but 9 dB short",
    FAR_TOO_WEAK: f"'x' over {FAR_SHORT_DB:.0f} dB short",
    BELOW_HORIZON: "'h' below your horizon",
    NO_LAYER: "'.' no layer returns it on one day in twenty",
    NOT_CUT: "'-' no wire here is cut for it",
}


def marks_key(seen: Iterable[int]) -> str:
    """
    Explain the marks that are in a table.

    Parameters
    ----------
    seen : iterable of int
        Places in `STATES`.

    Returns
    -------
    words : str
        Parts with commas between.
    """
    there = set(seen)
    return ", ".join(words for state, words in _KEYS.items() if state in there)
