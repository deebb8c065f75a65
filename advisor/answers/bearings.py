"""How a wire is best turned, and how far off one may be."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from advisor.antenna.pattern import Pattern
from advisor.engine.contact import contact_chance
from advisor.engine.engine import GROUND_RECEIVE_DB, wire_gains
from advisor.engine.gains import Gains
from advisor.engine.link import Link
from advisor.engine.question import Question
from advisor.engine.targets import over_targets
from advisor.reliability.chance import FAINT_DB
from geo.arrays import Bools, Floats
from geo.fields import record
from geo.records import ArrayRecord

BEARING_STEP_DEG = 5.0
"""Wire bearings are tried in steps that a person can pace out. [deg]"""

TOLERANCE_DB = 1.0
"""What a bearing may cost and still count as good. [dB]"""

TOLERANCE_CHANCE = 0.05
"""What a bearing may cost in mean chance and still count as good."""

MOST_GAINS = 1_500_000
"""Gains towards modes worked on at once; each takes some 40 bytes."""

_LEAST_POWER = 1e-40
"""Ratio of powers that stands for none."""

AS_GOOD = 0.002
"""Bearings whose mean chance is this close to the best are told apart by strength."""


@record
class Bearing:
    """
    How a set-up is best turned.

    Attributes
    ----------
    wire_deg : float or None
        Bearing of the wire worked with, clockwise from true north; None where turning
        changes nothing. [deg]
    is_free : bool
        Whether it was chosen here rather than given.
    best_deg : float or None
        Best bearing, whether or not it is the one worked with; None where turning
        changes nothing. [deg]
    good_from_deg : float or None
        Beginning, clockwise, of the bearings that cost under 1 dB; None if all of them
        do. [deg]
    good_to_deg : float or None
        End of those bearings; None if all of them do. [deg]
    loss_db : float
        What the bearing worked with costs against the best. [dB]
    """

    wire_deg: float | None
    is_free: bool
    best_deg: float | None
    good_from_deg: float | None
    good_to_deg: float | None
    loss_db: float


class Scan(ArrayRecord):
    """
    A wire turned through every bearing that can make a difference.

    Attributes
    ----------
    tried_deg : numpy.ndarray
        Shape (G,), wire bearings; one alone where turning changes nothing. [deg]
    turn_deg : float
        Turn after which everything repeats: 180 or 360. [deg]
    chance : numpy.ndarray
        Shape (G, K, T, B), chance of a contact by target, hour and band.
    level_db : numpy.ndarray
        Shape (G, K, T, B), mean level of the signal over what is needed. [dB]
    """

    tried_deg: Floats
    turn_deg: float
    chance: Floats
    level_db: Floats

    def for_target(self, target: int) -> Scan:
        """
        Keep one target.

        Parameters
        ----------
        target : int
            Which.

        Returns
        -------
        scan : Scan
            The same with one target.
        """
        one = slice(target, target + 1)
        return Scan(
            self.tried_deg, self.turn_deg, self.chance[:, one], self.level_db[:, one]
        )

    @property
    def is_round(self) -> bool:
        """Whether turning changes nothing."""
        return self.tried_deg.size == 1

    @property
    def score(self) -> Floats:
        """Mean over the hours of the best band's chance, (G, K)."""
        return np.asarray(self.chance.max(axis=-1).mean(axis=-1))

    @property
    def mean_db(self) -> Floats:
        """Mean level where and when there is something to win, (G,), in dB."""
        worth = self.chance.max(axis=0) + 1e-6
        return np.asarray((self.level_db * worth).sum(axis=(1, 2, 3)) / worth.sum())

    @property
    def best(self) -> int:
        """Place of the best bearing: by chance, and of those alike by strength."""
        score = self.score.mean(axis=1)
        # Of those alike in the tenth of a day that is shown: the best is never seen
        # to stand below another.
        alike = score.round(2) == score.max().round(2)
        rivals = alike & (score >= score.max() - AS_GOOD)
        return int(np.argmax(np.where(rivals, self.mean_db, -np.inf)))


def scan_bearings(
    question: Question, link: Link, patterns: Mapping[str, Pattern]
) -> Scan:
    """
    Turn a wire through every bearing.

    Parameters
    ----------
    question : Question
        What is asked.
    link : Link
        The sky's half.
    patterns : mapping of str to Pattern
        Pattern for each band the set-up works on.

    Returns
    -------
    scan : Scan
        In steps of `BEARING_STEP_DEG`.
    """
    turn = 180.0 if all(p.is_reversible for p in patterns.values()) else 360.0
    is_round = all(pattern.is_round for pattern in patterns.values())
    tried = np.zeros(1) if is_round else np.arange(0.0, turn, BEARING_STEP_DEG)
    chances, levels = [], []
    at_once = max(MOST_GAINS // link.modes.hops.size, 1)
    parts = np.split(tried, range(at_once, tried.size, at_once))
    for some in parts:
        gains = wire_gains(question, link, patterns, some, open_only=True)
        contact = contact_chance(link, gains).both
        chances.append(over_targets(question, contact, axis=1))
        levels.append(over_targets(question, mean_level_db(link, gains), axis=1))
    level_db = np.concatenate(levels)
    if not np.ptp(level_db) and tried.size > 1:
        # Too faint everywhere: what the wire gives towards the target tells them apart.
        towards = (
            wire_gains(question, link, patterns, some).hop_db.max(axis=-1)
            for some in parts
        )
        level_db = np.concatenate(
            [over_targets(question, most_db, axis=1) for most_db in towards]
        )
    return Scan(tried, turn, np.concatenate(chances), level_db)


def bearing_from(scan: Scan, given_deg: float | None) -> Bearing:
    """
    Read the best bearing from a scan.

    Parameters
    ----------
    scan : Scan
        The wire turned.
    given_deg : float or None
        Bearing it hangs on, if that is settled. [deg]

    Returns
    -------
    bearing : Bearing
        Best bearing with its tolerance.
    """
    if scan.is_round:
        return Bearing(None, given_deg is None, None, None, None, 0.0)
    tried, turn, best, mean_db = scan.tried_deg, scan.turn_deg, scan.best, scan.mean_db
    score = scan.score.mean(axis=1)
    # A bearing is good that costs little in level and little in days.
    cost = np.maximum(
        (mean_db[best] - mean_db) / TOLERANCE_DB,
        (score[best] - score) / TOLERANCE_CHANCE,
    )
    good = good_range(tried, turn, -cost, best, 1.0)
    worked = float(tried[best]) if given_deg is None else float(given_deg) % 360.0
    at_worked = np.interp(
        worked % turn, np.append(tried, turn), np.append(mean_db, mean_db[0])
    )
    return Bearing(
        wire_deg=worked,
        is_free=given_deg is None,
        best_deg=float(tried[best]),
        good_from_deg=good[0],
        good_to_deg=good[1],
        loss_db=float(max(mean_db[best] - at_worked, 0.0)),
    )


def worse_margin_db(link: Link, gains: Gains) -> Floats:
    """
    Margin of each hop mode alone in the worse direction.

    Parameters
    ----------
    link : Link
        The sky's half.
    gains : Gains
        My wire's gains, G bearings.

    Returns
    -------
    margin_db : numpy.ndarray
        Shape (G, P, T, B, M). [dB]
    """
    both = gains.hop_db + link.far.hop_db - link.modes.loss_db
    return np.asarray(both + _worse_level_db(link, gains)[..., None])


def _worse_level_db(link: Link, gains: Gains) -> Floats:
    """Level before gains and losses in the worse direction, (P, T, B)."""
    return np.minimum(
        link.heard_db - link.far.efficiency_db, link.hear_db - gains.efficiency_db
    )


def ground_margin_db(link: Link, gains: Gains) -> Floats:
    """
    Margin of the ground wave in the worse direction.

    Parameters
    ----------
    link : Link
        The sky's half.
    gains : Gains
        My wire's gains, G bearings.

    Returns
    -------
    margin_db : numpy.ndarray
        Shape (G, P, T, B); -inf out of its reach. [dB]
    """
    both = gains.ground_db[:, :, None, :] + link.far.ground_db[:, None, :]
    lost = link.ground_loss_db[:, None, :] + GROUND_RECEIVE_DB
    return np.asarray(both + _worse_level_db(link, gains) - lost)


def sum_db(margin_db: Floats, support: Floats) -> Floats:
    """
    Add up the powers of the modes, each counted as often as it exists.

    Parameters
    ----------
    margin_db : numpy.ndarray
        Shape (..., M). [dB]
    support : numpy.ndarray
        Broadcasts to it, 0 to 1.

    Returns
    -------
    sum_db : numpy.ndarray
        Without the last axis; -400 where nothing is left. [dB]
    """
    power = (support * 10.0 ** (np.clip(margin_db, -400.0, 400.0) / 10.0)).sum(axis=-1)
    return np.asarray(10.0 * np.log10(np.maximum(power, _LEAST_POWER)))


def mean_level_db(link: Link, gains: Gains) -> Floats:
    """
    Level of the signal over what is needed, a mean over all days.

    Parameters
    ----------
    link : Link
        The sky's half.
    gains : Gains
        My wire's gains, G bearings.

    Returns
    -------
    level_db : numpy.ndarray
        Shape (G, P, T, B), -40 where it is less. [dB]
    """
    modes, body = link.modes, link.heard_db.shape
    mean = modes.mean_power.reshape(-1, modes.hops.shape[-1])
    cells, places = np.nonzero(mean > _LEAST_POWER)
    place = cells * mean.shape[-1] + places
    level = np.broadcast_to(_worse_level_db(link, gains), body).ravel()
    fixed = link.far.hop_db.ravel()[place] + level[cells]
    power = gains.hop_db.reshape(len(gains.hop_db), -1)[:, place] + fixed
    power = mean.ravel()[place] * 10.0 ** (np.clip(power, -400.0, 400.0) / 10.0)
    summed = np.zeros((len(power), level.size))
    starts = np.flatnonzero(np.diff(cells, prepend=-1))
    if starts.size:
        summed[:, cells[starts]] = np.add.reduceat(power, starts, axis=1)
    # What is too faint to count is all alike, or unreachable points would decide.
    summed = np.maximum(summed, 10.0 ** (FAINT_DB / 10.0))
    return np.asarray(10.0 * np.log10(summed.reshape(-1, *body)))


def good_range(
    tried_deg: Floats, turn_deg: float, values: Floats, best: int, tolerance: float
) -> tuple[float | None, float | None]:
    """
    Widest run of bearings about the best that stays within a tolerance.

    Parameters
    ----------
    tried_deg : numpy.ndarray
        Shape (G,), bearings in steps of `BEARING_STEP_DEG`. [deg]
    turn_deg : float
        Turn after which everything repeats. [deg]
    values : numpy.ndarray
        Shape (G,), what is to be kept up.
    best : int
        Place of the best bearing.
    tolerance : float
        What may be lost, in the unit of the values.

    Returns
    -------
    from_deg, to_deg : float or None
        Ends of the run, clockwise; None if every bearing is in it. [deg]

    Examples
    --------
    >>> good_range(np.array([0.0, 5.0, 10.0, 15.0]), 20.0,
    ...            np.array([9.0, 8.5, 2.0, 8.1]), 0, 1.0)
    (15.0, 5.0)
    """
    fine = values >= values[best] - tolerance
    if fine.all():
        return None, None
    size = tried_deg.size
    down = next(i for i in range(1, size) if not fine[(best - i) % size])
    up = next(i for i in range(1, size) if not fine[(best + i) % size])
    low = tried_deg[best] - (down - 1) * BEARING_STEP_DEG
    high = tried_deg[best] + (up - 1) * BEARING_STEP_DEG
    return float(low % turn_deg), float(high % turn_deg)


def is_by_ground_wave(question: Question, link: Link, gains: Gains) -> Bools:
    """
    Say where the ground wave carries the contact over most of a target.

    Parameters
    ----------
    question : Question
        What is asked.
    link : Link
        The sky's half.
    gains : Gains
        The wire's gains at one bearing.

    Returns
    -------
    by_ground_wave : numpy.ndarray of bool
        Shape (K, T, B): it is stronger than the sky, and not too faint to count.
    """
    sky = mean_level_db(link, gains)[0]
    stronger = ground_margin_db(link, gains)[0] > np.maximum(sky, FAINT_DB)
    return np.asarray(over_targets(question, stronger.astype(float)) > 0.5)
