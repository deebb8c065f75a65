"""
What a log teaches of the station: corrections in decibels, drawn towards none.

Levels that were heard are held against what is told of them, by band and by who heard
whom. What I hear is weaker by more noise here, what is heard of me by less level of my
set-up, and both by a far end that has less than the usual one. A common part of all
bands and both ways is laid to the last.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from advisor.answers.rows.check import CheckDetails, CheckInputs, Correction
from advisor.answers.uncertainty import METHOD_RMS_DB
from advisor.answers.verification.scores import error_of_mean
from advisor.answers.verification.told import (
    PER_HZ_DB,
    Setting,
    needs_db,
    powers_dbw,
    share_above,
)
from advisor.answers.verification.trials import Trials
from advisor.logs.sightings import HEARD, HEARD_ME, WAYS, Sightings
from advisor.station.station import Station
from geo.arrays import Floats, Indices
from geo.records import ArrayRecord

NOISE, LEVEL, FAR_END = "noise here", "level", "usual far end"
"""What is learned."""

SURE = 3.5
"""Errors by which the levels of some band and way must be off before anything is
learned, more of them where few days or far ends tell the error: one log in a hundred
without cause (18 bands and ways, and both ways as wholes). The project's choice."""

LEAST_TOLD = 0.01
"""Rows that are told a lower chance say nothing of levels: of so rare days nothing is
known but that they are rare. The project's choice."""

LEAST_DB = 0.5
"""A smaller correction is not worth its line. The project's choice. [dB]"""

SHARES = np.linspace(0.0, 1.0, 5)
"""Shares of a correction that are tried against what came."""

HOURS_A_PART = 4
"""The method's error, which is over circuits and hours alike, is taken to be one for
all ways to one Maidenhead field in so many hours. The project's choice. [h]"""

_NOISE_DB, _LEVEL_DB, _FAR_DB = (np.arange(low, 15.1) for low in (5.0, 4.0, 0.0))
"""Spreads that are tried: places of a kind differ by 4.5 to 6.6 dB in noise (ITU-R
P.372-16, Table 2, deciles over 1.28; from memory), stations of a kind by 4 dB in what
they send (power and gain, tables/far_ends.csv); of the usual far end nothing is known.
[dB]"""

_OFF_DB = (-25.0, 40.0)
_FLATTEST = 0.002


class Levels(ArrayRecord):
    """
    Rows with what was told of them.

    Attributes
    ----------
    seen : Sightings
        Rows of the files.
    trials : Trials
        M of them.
    shares : numpy.ndarray
        Shape (N, M), as of `advisor.answers.verification.told.told_shares`.
    """

    seen: Sightings
    trials: Trials
    shares: Floats


@dataclass(frozen=True)
class _Off:
    """How much weaker than told levels of one way are, on a band or on all."""

    way: str
    band: str
    weaker_db: float
    error_db: float
    is_sure: bool
    with_method_db: float
    levels: int
    days: int
    far_ends: int


def corrections(
    everything: Sequence[Levels], setting: Setting
) -> tuple[Correction, ...]:
    r"""
    Propose corrections of a station.

    Parameters
    ----------
    everything : sequence of Levels
        Levels heard here and there.
    setting : Setting
        Who was told.

    Returns
    -------
    corrections : tuple of Correction
        In place of those the station has already; none if no band and way is off by
        `SURE` errors, nor a way on all bands together.

    Notes
    -----
    The levels of band and way :math:`j` are :math:`y_j` weaker than told, and

    .. math:: y_j = n_j + f + \varepsilon_j, \quad y_j = l_j + f + \varepsilon_j

    for what I hear and what is heard of me. The error holds that of the rows and that
    of the method, `METHOD_RMS_DB` over the root of the number of parts of world and
    day they come from. Noise, level and far end are normal about none; the spread of
    each kind is the one that makes the rows most likely, from what such stations differ
    by. What is proposed is their mean given the rows.

    References
    ----------
    Morris 1983, J. Am. Stat. Assoc. 78, 47, parametric empirical Bayes (from memory).
    """
    offs = list(_offs(everything, setting))
    if not any(each.is_sure for each in offs):
        return ()
    found = [each for each in offs if each.band]
    if not found:
        return ()
    learned = setting.station.learned
    noise = dict(learned.noise_db)
    wires = {each.name: dict(each.level_db) for each in setting.station.setups}
    names = {
        band: [wire.name for wire in setting.wires if wire.name and wire.on(band)]
        for band in {each.band for each in found}
    }

    def before_of(each: Correction) -> float:
        if each.what == FAR_END:
            return learned.far_end_db
        own = noise if each.what == NOISE else wires[each.setup]
        return own.get(each.band, 0.0)

    # The station may have learned before: all is what it is off without that.
    before = [
        noise.get(each.band, 0.0)
        if each.way == HEARD
        else -max([wires[one].get(each.band, 0.0) for one in names[each.band]] or [0.0])
        for each in found
    ]
    off = np.array([each.weaker_db for each in found]) + before
    if len({each.way for each in found}) > 1:
        off -= learned.far_end_db
    mean, error = _drawn_in(off, found)
    proposed = tuple(_proposed(found, off, mean, error, names))
    believed = []
    for each in proposed:
        share = _believed(each, before_of(each), everything, setting)
        if share * abs(each.learned_db) >= LEAST_DB:
            believed.append(replace(each, learned_db=share * each.learned_db))
    return tuple(believed)


def learned_table(
    station: Station, checked: CheckInputs, details: CheckDetails
) -> dict[str, Any]:
    """
    Lay out what a station has learned now as its file holds it.

    Parameters
    ----------
    station : Station
        With what it had learned before, which stays for the bands that are not in the
        log, and for the far end if the log has levels of one way only.
    checked : CheckInputs
        What was read.
    details : CheckDetails
        What it teaches.

    Returns
    -------
    values : dict
        Keys of `advisor.station.learned.LEARNED_KEYS`.
    """
    before, proposed = station.learned, details.corrections

    def of(what: str, setup: str, old: Sequence[tuple[str, float]]) -> dict[str, float]:
        kept = {band: more for band, more in old if band not in checked.bands}
        return kept | {
            each.band: round(each.learned_db, 1)
            for each in proposed
            if (each.what, each.setup) == (what, setup)
        }

    far = [round(each.learned_db, 1) for each in proposed if each.what == FAR_END]
    both_ways = len({each.way for each in details.levels}) > 1
    levels = {each.name: of(LEVEL, each.name, each.level_db) for each in station.setups}
    values = {
        "noise_db": of(NOISE, "", before.noise_db),
        "level_db": {name: each for name, each in levels.items() if each},
        "far_end_db": (far or [0.0])[0] if both_ways else before.far_end_db,
    }
    when = f"{checked.first[:10]} to {checked.last[:10]}"
    source = f"{', '.join(checked.files)[:50]}, {when}"
    return {"source": source, **{key: each for key, each in values.items() if each}}


def _proposed(
    found: Sequence[_Off],
    off: Floats,
    mean: Floats,
    error: Floats,
    names: dict[str, list[str]],
) -> Iterator[Correction]:
    """Write what is twice its error and worth a line: the far end, then by band."""
    is_sure = abs(mean) > np.maximum(2.0 * error, LEAST_DB)
    if is_sure[-1]:
        # What stands against the far end goes with it: a log of one way weak on all
        # bands tells the sum of both, and the far end by itself would make the way
        # wrong that was right.
        is_sure |= (mean * mean[-1] < 0.0) & (abs(mean) > LEAST_DB)
        weight = 1.0 / np.array([each.with_method_db for each in found]) ** 2
        yield Correction(
            *(FAR_END, "", "", -mean[-1], error[-1]),
            *(-float(np.average(off, weights=weight)), float(weight.sum() ** -0.5)),
            levels=sum(each.levels for each in found),
            days=max(each.days for each in found),
            far_ends=max(each.far_ends for each in found),
        )
    for k, each in enumerate(found):
        sign = 1.0 if each.way == HEARD else -1.0
        for name in [""] if each.way == HEARD else names[each.band]:
            if is_sure[k]:
                yield Correction(
                    *(NOISE if each.way == HEARD else LEVEL, each.band, name),
                    *(sign * mean[k], error[k], sign * off[k], each.error_db),
                    *(each.levels, each.days, each.far_ends),
                )


def _believed(
    one: Correction, before_db: float, everything: Sequence[Levels], setting: Setting
) -> float:
    """Find the share of a correction that fits what came; all where nothing tells."""
    errors = np.zeros(SHARES.size)
    for each in everything:
        seen, trials = each.seen, each.trials
        way, band = seen.way[trials.row], seen.band[trials.row]
        heard = way == WAYS.index(HEARD)
        mine = trials.counts & (heard | (way == WAYS.index(HEARD_ME)))
        if one.what != FAR_END:
            mine &= (band == one.band) & (heard == (one.what == NOISE))
        if not mine.any():
            continue
        own, far = powers_dbw(seen, trials.row[mine], setting)
        least = needs_db(seen, trials.row[mine], setting)
        least -= np.where(heard[mine], far, own)
        sign = 1.0 if one.what == NOISE else -1.0
        for k, share in enumerate(SHARES):
            weaker_db = sign * (share * one.learned_db - before_db)
            told = share_above(each.shares[:, mine], least + weaker_db)
            off = told * trials.shown[mine] - trials.happened[mine]
            errors[k] += (off**2).sum()
    # Of equal ones the last, which is all of it.
    return float(SHARES[::-1][errors[::-1].argmin()])


def _offs(everything: Sequence[Levels], setting: Setting) -> Iterator[_Off]:
    """How much weaker than told, by way and band, and by way on all bands at once."""
    for each in everything:
        seen, trials = each.seen, each.trials
        way, band = seen.way[trials.row], seen.band[trials.row]
        for name in (HEARD, HEARD_ME):
            mine = (way == WAYS.index(name)) & np.isfinite(trials.ratio_db)
            for on in ("", *(one.name for one in setting.bands)):
                some = np.flatnonzero(mine & ((band == on) | (on == "")))
                found = some.size and _off(each, some, setting, name, on)
                if found:
                    yield found


def _off(
    each: Levels, some: Indices, setting: Setting, way: str, band: str
) -> _Off | None:
    """Find by how much levels are weaker: so that they lie evenly among those told."""
    seen = each.seen
    rows, day = each.trials.row[some], each.trials.day[some]
    own, far = powers_dbw(seen, rows, setting)
    power = far if way == HEARD else own
    least = needs_db(seen, rows, setting) - power
    ratio = np.maximum(each.trials.ratio_db[some] + PER_HZ_DB - power, least)
    shares = each.shares[:, some]
    kept = share_above(shares, least) > LEAST_TOLD
    if not kept.any():
        return None
    shares, rows, day = shares[:, kept], rows[kept], day[kept]

    def rank(weaker_db: float) -> Floats:
        above = share_above(shares, ratio[kept] + weaker_db)
        shown = share_above(shares, least[kept] + weaker_db)
        return np.asarray(np.where(shown > 0.0, above / np.maximum(shown, 1e-12), 0.0))

    low, high = _OFF_DB
    for _ in range(16):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if rank(middle).mean() > 0.5 else (low, middle)
    slope = 0.5 * float(rank(middle - 1.0).mean() - rank(middle + 1.0).mean())
    if slope < _FLATTEST:
        return None
    who = seen.who[rows]
    error = _error(rank(middle) - 0.5, day, who) / slope
    clusters = 1.0 / max(_alike(day), _alike(who))
    field = seen.far_lat_deg[rows] // 10.0 + 100.0 * (seen.far_lon_deg[rows] // 20.0)
    part = each.trials.hour[some][kept] // HOURS_A_PART
    method = METHOD_RMS_DB * np.sqrt(_alike(field + 1e4 * part))
    return _Off(
        *(way, band, middle, error, abs(middle) > _sure(clusters) * error),
        *(float(np.hypot(error, method)), rows.size),
        *(np.unique(day).size, np.unique(who).size),
    )


def _alike(key: Floats | Indices) -> float:
    """Chance that two rows drawn have the same key: one over how many there are."""
    share = np.unique(key, return_counts=True)[1] / key.size
    return float((share**2).sum())


def _error(off: Floats, day: Indices, who: Indices) -> float:
    r"""
    Error of the mean of ranks of which those of a day and of a far end go together.

    Notes
    -----
    Clusters in two ways at once: the variance by days and that by far ends, less that
    of both together.

    References
    ----------
    Cameron, Gelbach and Miller 2011, J. Bus. Econ. Stat. 29, 238 (from memory).
    """
    by_day, by_who = (np.nan_to_num(error_of_mean(off, key)) for key in (day, who))
    both = np.nan_to_num(error_of_mean(off, day + 1e6 * who))
    return float(max(by_day**2 + by_who**2 - both**2, by_day**2, by_who**2) ** 0.5)


def _sure(clusters: float) -> float:
    """
    Errors that are as rare as `SURE`, the error being told by so many clusters.

    Student's t of one less, as usual for errors by clusters (Cameron and Miller 2015,
    J. Human Resources 50, 317, from memory).
    """
    from scipy.special import ndtr, stdtrit

    if clusters < 1.5:
        return np.inf
    return float(stdtrit(clusters - 1.0, float(ndtr(SURE))))


def _drawn_in(off: Floats, found: Sequence[_Off]) -> tuple[Floats, Floats]:
    """Mean and error of each band and way by itself, and last of the far end."""
    count = off.size
    noise = np.array([each.way == HEARD for each in found])
    error = np.diag([each.with_method_db**2 for each in found])
    both_ways = bool(noise.any() and not noise.all())
    spreads = [
        each if is_there else np.zeros(1)
        for each, is_there in (
            (_NOISE_DB, noise.any()),
            (_LEVEL_DB, not noise.all()),
            (_FAR_DB, both_ways),
        )
    ]
    tried = np.stack(np.meshgrid(*spreads, indexing="ij"), axis=-1).reshape(-1, 3) ** 2
    own = np.where(noise, tried[:, :1], tried[:, 1:2])
    whole = error + own[:, :, None] * np.eye(count) + tried[:, 2, None, None]
    size = np.linalg.slogdet(whole)[1]
    fit = np.linalg.solve(whole, np.broadcast_to(off, (len(tried), count))[..., None])
    best = int((size + (off * fit[..., 0]).sum(axis=1)).argmin())
    spread = np.append(own[best], tried[best, 2])
    onto = np.hstack([np.eye(count), np.ones((count, 1))]) * spread
    gain = np.linalg.solve(whole[best], onto).T
    left = spread - np.einsum("ij,ji->i", gain, onto)
    return gain @ off, np.sqrt(np.maximum(left, 0.0))
