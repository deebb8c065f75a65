"""What was heard, weighed: which days of the month today is like."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from advisor.engine.contact import contact_chance, routes_and_ends
from advisor.engine.engine import link_for, wire_gains
from advisor.engine.gains import Gains
from advisor.engine.heard import DAYS, DRAWN, Heard, Reception, among, turned_at
from advisor.engine.question import Question
from advisor.engine.targets import median_point, point_of
from advisor.engine.wires import far_end_patterns, patterns_of
from advisor.propagation.normal import normal_deviate, normal_share
from advisor.reliability.chance import Ends, chance
from advisor.reliability.day_states import Routes
from advisor.reliability.today import LEAST_SPREAD, Today
from advisor.station.beacons import at_a_beacon
from advisor.station.emissions import emission_by_name
from geo.arrays import Floats, Indices
from geo.errors import InputError
from geo.records import ArrayRecord

ON_THE_AIR = 0.5
"""Chance that somebody there was sending whom I would have heard: so little does
silence tell. The project's choice, no source."""

MISTAKEN = 0.02
"""Share of what is told as heard that comes of no kind of day: another country, a way
the method does not know. The project's choice."""

READING_DB = 3.0
"""A ratio told is good to this either way. The project's choice. [dB]"""

_ANY_BEARING_DEG = 15.0


def after_hearing(
    question: Question,
    receptions: tuple[Reception, ...],
    cache_dir: Path | None = None,
) -> Question:
    """
    Put a question given what was heard.

    Parameters
    ----------
    question : Question
        What is asked.
    receptions : tuple of Reception
        What was heard and what was not, at least one.
    cache_dir : pathlib.Path, optional
        Where solved wires and rays are kept between runs.

    Returns
    -------
    question : Question
        The same, with what is known of today.

    Raises
    ------
    InputError
        If no set-up works on a band that was listened on.

    Notes
    -----
    Days are drawn evenly (a Sobol sequence) with the correlation that the ranks have
    between the receptions, weighed by how likely it is to hear on such a day what was
    heard, and `DAYS` of them are kept, spread evenly over the weight.
    """
    return given(question, receptions, drawn_days(question, receptions, cache_dir))


class DrawnDays(ArrayRecord):
    """
    Days of the month, and on which of them each of K receptions is heard.

    Attributes
    ----------
    lat_deg, lon_deg : numpy.ndarray
        Shapes (3, K, 2), as in `Heard`. [deg]
    deviates : numpy.ndarray
        Shape (3, K, N), of the ranks on N days.
    usual : numpy.ndarray
        Shape (K,), as in `Heard`.
    heard : numpy.ndarray
        Shape (K, N): chance that it is heard on each day.
    """

    lat_deg: Floats
    lon_deg: Floats
    deviates: Floats
    usual: Floats
    heard: Floats


def drawn_days(
    question: Question,
    receptions: tuple[Reception, ...],
    cache_dir: Path | None = None,
) -> DrawnDays:
    """
    Draw days of the month, and say on which of them receptions are heard.

    Parameters
    ----------
    question, receptions, cache_dir
        As in `after_hearing`; whether each was heard is of no account.

    Returns
    -------
    drawn : DrawnDays
        `DRAWN` days.
    """
    cells = [cell_of(question, each, cache_dir) for each in receptions]
    lat, lon = (np.stack([cell[2][k] for cell in cells], axis=1) for k in (0, 1))
    days = _of_the_month(receptions, lat, lon)
    return DrawnDays(
        lat,
        lon,
        days,
        np.array([float(chance(*cell[:2])[1].item()) for cell in cells]),
        np.stack(
            [
                heard_on(days[:, k], routes, ends, reception, question)
                for k, (reception, (routes, ends, _)) in enumerate(
                    zip(receptions, cells, strict=True)
                )
            ]
        ),
    )


def given(
    question: Question, receptions: tuple[Reception, ...], drawn: DrawnDays
) -> Question:
    """
    Put a question given which receptions were heard.

    Parameters
    ----------
    question, receptions
        As in `after_hearing`.
    drawn : DrawnDays
        Of the same receptions.

    Returns
    -------
    question : Question
        The same, with what is known of today.
    """
    weight = np.ones(DRAWN)
    for reception, heard in zip(receptions, drawn.heard, strict=True):
        if reception.is_heard:
            weight *= MISTAKEN + (1.0 - MISTAKEN) * heard
        else:
            weight *= 1.0 - ON_THE_AIR * heard
    kept = drawn.deviates[..., _evenly(drawn.deviates, weight)]
    where = drawn.lat_deg, drawn.lon_deg
    return replace(question, heard=Heard(receptions, drawn.usual, *where, kept))


def cell_of(
    question: Question, reception: Reception, cache_dir: Path | None = None
) -> tuple[Routes, Ends, tuple[Floats, Floats]]:
    """
    Work out one reception on my best wire.

    Parameters
    ----------
    question : Question
        Holds station, place and sky.
    reception : Reception
        What was heard or not.
    cache_dir : pathlib.Path, optional
        Where solved wires and rays are kept between runs.

    Returns
    -------
    routes, ends
        Of one cell.
    turned : tuple of numpy.ndarray
        Latitudes and longitudes, (3, 2), where E, F2 and sporadic E turn the rays.
    """
    target, band, station = reception.target, reception.band, question.station
    off = np.abs(question.times - reception.time)
    place = question.place
    asked = replace(
        question,
        targets=(point_of(target, median_point(target, place.lat_deg, place.lon_deg)),),
        times=np.array([reception.time], dtype="datetime64[s]"),
        bands=(band,),
        solar=question.solar.at(np.array([int(off.argmin())])),
        heard=None,
    )
    if reception.is_beacon:
        cw = emission_by_name("CW")
        station = at_a_beacon(station, cw)
        asked = replace(asked, station=station, emission=cw)
    far = far_end_patterns(station.far_end, (band,), cache_dir)
    link = link_for(asked, asked.solar.r12, far, own_way=True, cache_dir=cache_dir)
    best: tuple[float, Gains] | None = None
    for setup in station.setups:
        if band.name not in setup.bands:
            continue
        patterns = patterns_of(setup, asked, cache_dir)
        bearings = (
            np.arange(0.0, 360.0, _ANY_BEARING_DEG)
            if setup.bearing_deg is None
            else np.array([setup.bearing_deg])
        )
        tried = wire_gains(asked, link, patterns, bearings)
        hear = contact_chance(link, tried).hear.ravel()
        bearing = bearings[[int(hear.argmax())]]
        if best is None or hear.max() > best[0]:
            best = float(hear.max()), wire_gains(asked, link, patterns, bearing)
    if best is None:
        raise InputError(
            f"no set-up of the station works on {band.name}: on which wire was "
            f"{target.name} listened for?"
        )
    turned = [turned_at(link.paths, layer) for layer in range(3)]
    lat, lon = (np.concatenate(each) for each in zip(*turned, strict=True))
    return *routes_and_ends(link, best[1]), (lat, lon)


def _of_the_month(
    receptions: tuple[Reception, ...], lat_deg: Floats, lon_deg: Floats
) -> Floats:
    """Draw days of the month: deviates of the ranks at every reception, (3, K, N)."""
    from scipy.stats.qmc import Sobol

    evenly = Sobol(3 * len(receptions), seed=_SEED).random(DRAWN)
    alone = normal_deviate(evenly.T.reshape(len(receptions), 3, DRAWN))
    return np.stack(
        [
            np.linalg.cholesky(among(receptions, layer, lat_deg[layer], lon_deg[layer]))
            @ alone[:, layer]
            for layer in range(3)
        ]
    )


def heard_on(
    days: Floats, routes: Routes, ends: Ends, reception: Reception, question: Question
) -> Floats:
    """
    Chance to hear a station, or to read the ratio told, day by day.

    Parameters
    ----------
    days : numpy.ndarray
        Shape (3, N): deviates of the ranks of E, F2 and sporadic E.
    routes : Routes
        One cell.
    ends : Ends
        Of it.
    reception : Reception
        Says whether a ratio was read.
    question : Question
        Says what is needed.

    Returns
    -------
    chance : numpy.ndarray
        Shape (N,).
    """
    count = days.shape[1]
    known = Today(np.arange(count), days[..., None], np.full(days.shape, LEAST_SPREAD))
    alone = np.zeros(count, dtype=np.intp)
    each = replace(routes.of(alone), today=known)
    there = ends.of(alone)
    if reception.snr_db_hz is None:
        return np.asarray(chance(each, there)[1]).ravel()
    over = reception.snr_db_hz - question.emission.snr_db_hz
    least, most = (
        chance(each, replace(there, hear_offset_db=there.hear_offset_db - over + by))
        for by in (READING_DB, -READING_DB)
    )
    return np.asarray(least[1] - most[1]).ravel()


_SEED = 1
"""Of the sequence; any."""


def _evenly(days: Floats, weight: Floats) -> Indices:
    """Keep days evenly over their weight, those alike beside each other."""
    mean = days.mean(axis=1)
    e, f2, es = normal_share(mean / mean.std(axis=1, keepdims=True))
    # To and fro, so that neighbours in the row are neighbours.
    row = np.floor(_PARTS * f2)
    column = np.floor(_PARTS * es) * (1.0 - 2.0 * (row % 2.0))
    along = e * (1.0 - 2.0 * ((row + column) % 2.0))
    order = np.lexsort((along, column, row))
    total = np.cumsum(weight[order])
    wanted = (np.arange(DAYS) + 0.5) / DAYS * total[-1]
    return np.asarray(order[np.searchsorted(total, wanted)])


_PARTS = 12.0
