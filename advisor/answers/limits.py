"""What stands in the way: each factor is lifted by itself and the chance redone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from advisor.antenna.pattern import Pattern
from advisor.engine.engine import Contact, Gains, Link, contact_chance, steep_loss_db
from advisor.engine.question import Question
from advisor.engine.targets import over_targets

OPEN_CHANCE = 0.05
"""Below one day in twenty a band counts as closed."""

LIMITS = (
    "none",
    "layer too weak",
    "stopped by the E layer",
    "absorbed",
    "no radiation at that angle",
    "close to the noise",
    "below the horizon",
    "band not on this set-up",
)
"""Names of the limiting factors."""

_NO_LIMIT_CHANCE = 0.9

_MORE_SIGNAL_DB = 10.0
"""What is added to the signal to see whether noise is the limit. [dB]"""

_STRONGER_LAYER = 1.3
"""How far a layer may be lifted to see whether it is the limit: with more, modes
would join that no day of any month has."""

_HELPS = 0.02
"""Least gain in chance that counts as help."""


def limiting_factors(
    question: Question,
    link: Link,
    gains: Gains,
    patterns: Mapping[str, Pattern],
    contact: Contact,
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """
    Name what stands in the way: that whose removal helps the chance most.

    Parameters
    ----------
    question : Question
        What is asked.
    link : Link
        The sky's half.
    gains : Gains
        My wire's gains at one bearing.
    patterns : mapping of str to Pattern
        Pattern for each band the set-up works on.
    contact : Contact
        Chances at that bearing.

    Returns
    -------
    limit : numpy.ndarray of int
        Shape (K, T, B), places in `LIMITS`.
    cost : numpy.ndarray
        Shape (K, T, B): chance that lifting it would bring; 0 where lifting any one
        thing alone brings nothing.

    Notes
    -----
    What is lifted is not of one size: a layer a third stronger, no E screening, no
    absorption at all, the wire's best gain everywhere, 10 dB more signal, no hills.
    The name says what to look at first, not what is easiest to mend.
    """
    now = over_targets(question, contact.both[0])
    gained = np.full((len(LIMITS), *now.shape), -1.0)
    for name, (sky, wire) in _lifted(question, link, gains, patterns).items():
        both = over_targets(question, contact_chance(sky, wire).both[0])
        gained[LIMITS.index(name)] = both - now
    limit = gained.argmax(axis=0)
    # Where lifting one thing alone is no use, what comes first on the way counts.
    returned = over_targets(question, link.modes.returned.max(axis=-1))
    support = over_targets(question, link.modes.support.max(axis=-1))
    first = np.select(
        [returned < OPEN_CHANCE, support < OPEN_CHANCE],
        [LIMITS.index("layer too weak"), LIMITS.index("below the horizon")],
        LIMITS.index("absorbed"),
    )
    cost = gained.max(axis=0)
    limit = np.where(cost < _HELPS, first, limit)
    cost = np.where(cost < _HELPS, 0.0, cost)
    limit = np.where(now >= _NO_LIMIT_CHANCE, LIMITS.index("none"), limit)
    idle = np.array([band.name not in patterns for band in question.bands])
    return np.where(idle, LIMITS.index("band not on this set-up"), limit), cost


def _lifted(
    question: Question,
    link: Link,
    gains: Gains,
    patterns: Mapping[str, Pattern],
) -> dict[str, tuple[Link, Gains]]:
    """Link and gains with one factor lifted, by the name of the factor."""
    modes = link.modes
    in_reach = _STRONGER_LAYER * modes.muf_mhz >= modes.frequency_mhz[:, None]
    stronger = replace(modes, returned=np.where(in_reach, 1.0, modes.returned))
    unscreened = replace(modes, screened=np.zeros_like(modes.screened))
    steep_db = steep_loss_db(question, link)[:, None]
    lossless = replace(modes, absorption_db=np.zeros_like(modes.absorption_db))
    louder = np.full(len(question.bands), _MORE_SIGNAL_DB)
    return {
        "layer too weak": (
            replace(
                link,
                modes=stronger,
                longpath=link.longpath.with_stronger_layer(_STRONGER_LAYER),
            ),
            gains,
        ),
        "stopped by the E layer": (replace(link, modes=unscreened), gains),
        "absorbed": (
            replace(link, modes=lossless, longpath=link.longpath.without_absorption()),
            gains,
        ),
        "no radiation at that angle": (
            link,
            _at_peak(question, gains, patterns, steep_db),
        ),
        "close to the noise": (link, gains.raised_by(louder)),
        "below the horizon": (
            replace(link, modes=replace(modes, clear=modes.takeoff_deg >= 0.0)),
            replace(gains, longpath_db=gains.longpath_db + steep_db),
        ),
    }


def _at_peak(
    question: Question,
    gains: Gains,
    patterns: Mapping[str, Pattern],
    steep_db: NDArray[np.float64],
) -> Gains:
    """Gains as they were if the wire sent its best everywhere in the sky."""
    peak = np.array(
        [
            patterns[band.name].peak().gain_dbi if band.name in patterns else -300.0
            for band in question.bands
        ]
    )
    return replace(
        gains,
        hop_db=np.broadcast_to(peak[:, None], gains.hop_db.shape),
        longpath_db=np.broadcast_to(peak - steep_db, gains.longpath_db.shape),
    )
