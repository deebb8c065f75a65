"""
What a log can be held against a chance with: times at which a way was tried.

A file of spots holds no silence. It is put in: in an hour in which anybody was heard on
a band, the far ends that were heard there in another hour of that day were on the air,
and were not heard. They still send, or listen, in some of the slots only: how often an
open way shows itself is found from the spots alone.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

import numpy as np

from advisor.logs.sightings import CONTACT, WAYS, Sightings
from geo.arrays import Bools, Floats, Indices
from geo.records import ArrayRecord

PRIOR_PAIRS = 10.0
"""A far end's share of slots is drawn towards that of all as if seen in so many pairs
of slots (the project's choice)."""

_CONTACT = WAYS.index(CONTACT)


class Spot(NamedTuple):
    """One signal: hour, minute, channel (band and what goes with it), far end."""

    hour: int
    minute: int
    channel: Hashable
    who: Hashable
    power_dbw: float
    ratio_db: float


class Cell(NamedTuple):
    """One hour of a channel and far end: median ratio or NaN, share shown, heard."""

    hour: int
    channel: Hashable
    who: Hashable
    power_dbw: float
    ratio_db: float
    shown: float
    counts: bool
    happened: bool


def shown_shares(days: Iterable[Sequence[Spot]]) -> dict[Hashable, float]:
    """
    Find the share of slots in which a far end heard in an hour shows itself.

    Parameters
    ----------
    days : iterable of sequence of Spot
        Spots day by day.

    Returns
    -------
    shares : dict of hashable to float
        By far end: how often one heard in one slot of an hour is heard in another slot
        of it in which anybody was, with the mean of all as a prior of `PRIOR_PAIRS`. 1
        where nothing is known.
    """
    pairs: dict[Hashable, list[int]] = defaultdict(lambda: [0, 0])
    for rows in days:
        slots, heard = defaultdict(set), defaultdict(set)
        for hour, minute, channel, who, *_ in rows:
            slots[hour, channel].add(minute)
            heard[hour, channel, who].add(minute)
        for (hour, channel, who), minutes in heard.items():
            n, k = len(minutes), len(slots[hour, channel])
            pairs[who][0] += n * (n - 1)
            pairs[who][1] += n * (k - 1)
    again, most = (sum(each[i] for each in pairs.values()) for i in (0, 1))
    mean = again / most if most else 1.0
    return {
        who: (each[0] + PRIOR_PAIRS * mean) / (each[1] + PRIOR_PAIRS)
        for who, each in pairs.items()
    }


def day_cells(rows: Sequence[Spot], shows: Mapping[Hashable, float]) -> Iterator[Cell]:
    """
    List the hours of one day in which a far end was heard, and those it was not.

    Parameters
    ----------
    rows : sequence of Spot
        Spots of the day.
    shows : mapping of hashable to float
        As of `shown_shares`.

    Yields
    ------
    cell : Cell
        ``shown`` is the share of such hours in which an open way shows itself in the
        slots there were, ``counts`` whether another hour proves that the far end was on
        the air.
    """
    ratios, slots, hours = defaultdict(list), defaultdict(set), defaultdict(set)
    power: dict[Hashable, float] = {}
    listened = defaultdict(set)
    for hour, minute, channel, who, power_dbw, ratio in rows:
        slots[hour, channel].add(minute)
        listened[channel].add(hour)
        hours[channel, who].add(hour)
        ratios[hour, channel, who].append(ratio)
        power[channel, who] = power_dbw
    for (channel, who), when in hours.items():
        silent, power_dbw = 1.0 - shows[who], power[channel, who]
        for hour in listened[channel]:
            shown = 1.0 - silent ** len(slots[hour, channel])
            if hour not in when:
                yield Cell(hour, channel, who, power_dbw, np.nan, shown, True, False)
                continue
            seen = ratios[hour, channel, who]
            ratio = float(np.median(seen)) if len(seen) > 1 else seen[0]
            proven = len(when) > 1
            yield Cell(hour, channel, who, power_dbw, ratio, shown, proven, True)


class Trials(ArrayRecord):
    """
    M times at which a way was tried, or heard.

    Attributes
    ----------
    row : numpy.ndarray of int
        Shape (M,), a row of the sightings with the same place, far end, band, way and
        emission.
    day, hour : numpy.ndarray of int
        Shape (M,), days since 1970 and hour, UTC.
    power_dbw : numpy.ndarray
        Shape (M,), power of the sender; NaN where it was not told. [dBW]
    ratio_db : numpy.ndarray
        Shape (M,), signal over noise in 2.5 kHz; NaN where it was not told. [dB]
    happened : numpy.ndarray of bool
        Shape (M,), whether it was heard or worked.
    shown : numpy.ndarray
        Shape (M,), share of such times in which an open way shows itself.
    counts : numpy.ndarray of bool
        Shape (M,), whether it can be held against a chance.
    """

    row: Indices
    day: Indices
    hour: Indices
    power_dbw: Floats
    ratio_db: Floats
    happened: Bools
    shown: Floats
    counts: Bools

    def where(self, wanted: Bools | Indices) -> Trials:
        """
        Keep some.

        Parameters
        ----------
        wanted : numpy.ndarray of bool or int
            Which.

        Returns
        -------
        trials : Trials
            Those.
        """
        return Trials(*(each[wanted] for each in vars(self).values()))


def trials_of(seen: Sightings) -> Trials:
    """
    Say at which times a way was tried.

    Parameters
    ----------
    seen : Sightings
        Rows of the files.

    Returns
    -------
    trials : Trials
        If the rows name failures, the rows themselves; else the hours of spots with the
        silent ones put in, and contacts, which cannot be held against a chance.
    """
    minute = seen.times.astype("datetime64[m]").astype(np.int64)
    day, of_day = np.divmod(minute, 1440)
    hour = of_day // 60
    ratio = np.where(np.isfinite(seen.hear_db), seen.hear_db, seen.heard_db)
    sender = np.where(seen.way == 1, seen.own_power_w, seen.far_power_w)
    power = 10.0 * np.log10(sender)
    # Of a contact the powers are asked row by row.
    power[seen.way == _CONTACT] = np.nan
    if not seen.worked.all():
        whole = np.ones(day.size)
        return Trials(
            *(np.arange(day.size), day, hour, power, ratio, seen.worked, whole),
            whole > 0.0,
        )
    is_spot = seen.way != _CONTACT
    contacts = np.flatnonzero(~is_spot)
    nothing = np.zeros(contacts.size)
    kept = Trials(
        *(contacts, day[contacts], hour[contacts], power[contacts], ratio[contacts]),
        *(nothing == 0.0, nothing + 1.0, nothing > 0.0),
    )
    spots = np.flatnonzero(is_spot)
    if not spots.size:
        return kept
    _, channel = np.unique(
        np.stack(
            [
                np.unique(each, return_inverse=True)[1]
                for each in (seen.band, seen.way, seen.emission, seen.own_lat_deg)
            ]
        ),
        axis=1,
        return_inverse=True,
    )
    channel = channel.ravel()
    by_day: dict[int, list[Spot]] = defaultdict(list)
    first: dict[tuple[int, int], int] = {}
    for i in spots.tolist():
        first.setdefault((int(channel[i]), int(seen.who[i])), i)
        by_day[int(day[i])].append(
            Spot(
                int(hour[i]),
                int(of_day[i] % 60),
                int(channel[i]),
                int(seen.who[i]),
                float(power[i]),
                float(ratio[i]),
            )
        )
    shows = shown_shares(by_day.values())
    listed = [
        (
            first[cell.channel, cell.who],  # type: ignore[index]
            each_day,
            cell.hour,
            cell.power_dbw,
            cell.ratio_db,
            cell.happened,
            cell.shown,
            cell.counts,
        )
        for each_day, rows in by_day.items()
        for cell in day_cells(rows, shows)
    ]
    columns = list(zip(*listed, strict=True))
    put_in = [
        np.concatenate([mine, np.array(column, dtype=mine.dtype)])
        for mine, column in zip(vars(kept).values(), columns, strict=True)
    ]
    return Trials(*put_in)
