"""
Lobe meets hop: chances and margins of one set-up over a link.

The routes a signal can take, with their margins, are laid out for
`advisor.reliability`, which knows of days and not of paths.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from advisor.engine.engine import GROUND_RECEIVE_DB
from advisor.engine.gains import NO_GAIN_DB, Gains
from advisor.engine.link import Link
from advisor.propagation.mode_axis import (
    E_RANKED,
    ES_RANKED,
    F2_RANKED,
    NO_MODE_DB,
    WEAK,
)
from advisor.propagation.modes import Modes
from advisor.propagation.noise import DECILE_SIGMAS
from advisor.reliability.chance import Ends, both_ways_weight, chance, median_margin_db
from advisor.reliability.day_states import NO_SIGNAL_DB, Routes
from geo.arrays import Floats
from geo.records import ArrayRecord

MOST_AT_ONCE = 25_000
"""Cells times bearings that are read at once, each with some 20 states of 16 bytes."""


class Contact(ArrayRecord):
    """
    Chances of one set-up, (G, P, T, B).

    Attributes
    ----------
    heard : numpy.ndarray
        Chance that the far end copies me.
    hear : numpy.ndarray
        Chance that I copy the far end.
    both : numpy.ndarray
        Chance of a contact: both at once.
    """

    heard: NDArray[np.float64]
    hear: NDArray[np.float64]
    both: NDArray[np.float64]


def contact_chance(link: Link, own: Gains) -> Contact:
    """
    Let lobe meet hop: chance in both directions.

    Parameters
    ----------
    link : Link
        The sky's half.
    own : Gains
        My wire's gains, G bearings.

    Returns
    -------
    contact : Contact
        Chances (G, P, T, B).
    """
    found = _in_blocks(chance, link, own)
    return Contact(*found.reshape(3, -1, *link.heard_db.shape))


def contact_margin_db(
    link: Link, own: Gains, *, scattered: bool = False
) -> NDArray[np.float64]:
    """
    Margin in the worse direction on the middle one of the days with any route at all.

    Parameters
    ----------
    link : Link
        The sky's half.
    own : Gains
        My wire's gains at one bearing.
    scattered : bool, optional
        Whether a day on which it only scatters is one with a way.

    Returns
    -------
    margin_db : numpy.ndarray
        Shape (P, T, B); NaN where no day has a route. [dB]
    """
    middle = partial(median_margin_db, scattered=scattered)
    return _in_blocks(middle, link, own).reshape(link.heard_db.shape)


def _in_blocks(
    read: Callable[[Routes, Ends], Floats], link: Link, own: Gains
) -> Floats:
    """Read the cells (P, T, B) in a row, so many at a time that memory bears them."""
    routes, ends = routes_and_ends(link, own)
    cells, step = link.heard_db.size, max(MOST_AT_ONCE // len(own.hop_db), 1)
    parts = (slice(first, first + step) for first in range(0, cells, step))
    each = [read(routes.of(part), ends.of(part)) for part in parts]
    return np.concatenate(each, axis=-1)


def routes_and_ends(link: Link, own: Gains) -> tuple[Routes, Ends]:
    """
    Lay out what the chance is made of.

    Parameters
    ----------
    link : Link
        The sky's half.
    own : Gains
        My wire's gains.

    Returns
    -------
    routes : Routes
        Cells of (P, T, B) in a row.
    ends : Ends
        Of the same cells.
    """
    return _routes(link, own), _ends(link, own)


def mode_chances(link: Link, own: Gains) -> NDArray[np.float64]:
    """
    Chance of a contact by each hop mode, were it the only way.

    Parameters
    ----------
    link : Link
        The sky's half.
    own : Gains
        My wire's gains at one bearing.

    Returns
    -------
    chances : numpy.ndarray
        Shape (P, T, B, M): mean over days on which the mode is there, and over the
        slices in which it is above the MUF or sporadic E, as in `contact_chance`.
    """
    modes, ends = link.modes, _ends(link, own)
    hop = _hop_margin_db(link) + own.hop_db[0]

    def works(margin_db: NDArray[np.float64]) -> NDArray[np.float64]:
        flat = margin_db.reshape(link.heard_db.size, -1)
        return np.asarray(ends.works(flat)[2].reshape(margin_db.shape))

    found = modes.support * works(hop)
    weak = works(hop[..., WEAK, None] - modes.above_db).mean(axis=-1)
    found[..., WEAK] += np.where(modes.clear[..., WEAK], weak, 0.0)
    es = works(hop[..., ES_RANKED, None] - modes.es_reflection_db)
    es = (modes.es_share[..., None, :] * es).sum(axis=-1)
    found[..., ES_RANKED] = np.where(modes.clear[..., ES_RANKED], es, 0.0)
    return found


def _hop_margin_db(link: Link) -> NDArray[np.float64]:
    """Margin of each mode at the far end before my gain and any reflection."""
    far = link.far
    level = link.heard_db - far.efficiency_db
    hop = level[..., None] + far.hop_db - link.modes.path_loss_db
    # Over tilted layers a ray may come in along the ground: no way, whatever is needed.
    return np.where(far.hop_db > NO_GAIN_DB, hop, NO_SIGNAL_DB)


def _ends(link: Link, own: Gains) -> Ends:
    """Say what the two ends make of a margin, cells of (P, T, B) in a row."""
    body = link.heard_db.shape

    def flat(values: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.broadcast_to(values, body).ravel()

    heard = link.heard_db - link.far.efficiency_db
    hear = link.hear_db - own.efficiency_db
    signal = 0.5 * (link.signal_spread_db[0] + link.signal_spread_db[1])
    noises = tuple(
        0.5 * (noise.upper_db + noise.lower_db)
        for noise in (link.noise_far, link.noise_here)
    )
    spreads = [
        tuple(flat(side) for side in ratio_spread_db(link, heard=heard))
        for heard in (True, False)
    ]
    # The sky is one for all of them, and lightning there; so is all of my noise.
    shared_noises = (
        link.lightning_share[0] * noises[0] ** 2,
        noises[1] ** 2,
    )
    common = [
        flat(signal**2 + shared) / (0.25 * (upper + lower) ** 2)
        for shared, (upper, lower) in zip(shared_noises, spreads, strict=True)
    ]
    return Ends(
        heard_spread_db=(spreads[0][0], spreads[0][1]),
        hear_spread_db=(spreads[1][0], spreads[1][1]),
        hear_offset_db=flat(hear - heard),
        both_ways_weight=flat(both_ways_weight(signal, *noises)),
        common=(common[0], common[1]),
        count=link.count,
    )


def _routes(link: Link, own: Gains) -> Routes:
    """Routes with the margins at the far end, cells of (P, T, B) in a row."""
    modes, far = link.modes, link.far
    body = link.heard_db.shape
    level = link.heard_db - far.efficiency_db
    hop = _hop_margin_db(link)
    es = np.where(
        modes.clear[..., ES_RANKED, None],
        hop[..., ES_RANKED, None] - modes.es_reflection_db,
        NO_SIGNAL_DB,
    )
    along = level + (far.ground_db - link.ground_loss_db)[:, None, :]

    def flat(values: NDArray[np.float64]) -> NDArray[np.float64]:
        return values.reshape(-1, *values.shape[3:])

    def turned(gain_db: NDArray[np.float64]) -> NDArray[np.float64]:
        every = np.broadcast_to(gain_db[:, :, None, :], (len(gain_db), *body))
        return every.reshape(len(gain_db), -1)

    today = link.today
    support = flat(modes.support)
    return Routes(
        e_support=support[:, E_RANKED],
        f2_support=support[:, F2_RANKED],
        e_margin_db=flat(hop)[:, E_RANKED],
        f2_margin_db=flat(hop)[:, F2_RANKED],
        es_share=flat(modes.es_share),
        es_margin_db=flat(es),
        ground_margin_db=flat(along) - GROUND_RECEIVE_DB,
        above_margin_db=flat(_above_muf(modes, hop)),
        above_modes=WEAK,
        hop_gain_db=own.hop_db.reshape(len(own.hop_db), -1, own.hop_db.shape[-1]),
        ground_gain_db=turned(own.ground_db),
        today=today and replace(today, row=today.row.ravel()),
    )


def _above_muf(modes: Modes, hop_db: NDArray[np.float64]) -> NDArray[np.float64]:
    """Margins of each mode above the MUF by slice of days, (P, T, B, L, V)."""
    each = hop_db[..., WEAK, None] - modes.above_db
    there = modes.clear[..., WEAK, None] & (modes.above_db < NO_MODE_DB)
    return np.where(there, np.maximum(each, NO_SIGNAL_DB), NO_SIGNAL_DB)


def ratio_spread_db(
    link: Link, *, heard: bool
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """
    Put the deciles of signal over noise together.

    Parameters
    ----------
    link : Link
        The sky's half.
    heard : bool
        Whether it is the far end that listens.

    Returns
    -------
    upper_db, lower_db : numpy.ndarray
        Distance from the median to either decile, (P, T, B). Those of signal, noise
        (its other side counts, ITU-R P.533 section 10) and the far end's station add as
        squares. [dB]
    """
    upper, lower = link.signal_spread_db
    noise = link.noise_far if heard else link.noise_here
    station = DECILE_SIGMAS * link.far_sigma_db[0 if heard else 1]
    return (
        np.hypot(np.hypot(upper, noise.lower_db), station),
        np.hypot(np.hypot(lower, noise.upper_db), station),
    )
