"""
Which beacon to listen for, and what hearing it or not would mean for a target.

A beacon tells of a target as far as its rays are turned near those of the target, and
as far as it is not sure beforehand whether it is heard.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np

from advisor.answers.advice import Answer
from advisor.answers.rows.inputs import utc_text
from advisor.answers.rows.tonight import BeaconRow
from advisor.engine.contact import contact_chance
from advisor.engine.engine import link_for, wire_gains
from advisor.engine.gains import Gains
from advisor.engine.heard import Heard, Reception, in_common, turned_at
from advisor.engine.hearing import drawn_days, given
from advisor.engine.link import Link
from advisor.engine.question import Question
from advisor.engine.targets import over_targets
from advisor.engine.wires import far_end_patterns
from advisor.station.beacons import (
    BEACON_END,
    BEACON_MHZ,
    Beacon,
    at_a_beacon,
    beacons,
)
from advisor.station.emissions import emission_by_name
from geo.arrays import Floats
from geo.ionosphere.sounding import correlation
from geo.places import Target

TOLD, TRIED = 4, 5
"""Beacons that are told for each target, and those that are worked out."""

WITHIN_H = 4
"""The target is looked at in its best hour of so many: later, what is heard now has
faded. The project's choice. [h]"""

LEAST_MOVED, LEAST_HEARD = 0.02, 0.05
"""A beacon whose hearing and silence both move the chance by less tells nothing; one
that is heard on fewer days is not worth waiting for."""


def beacon_rows(advice: Answer, cache_dir: Path | None = None) -> Iterator[BeaconRow]:
    """
    Say which beacons to listen for in the first hour.

    Parameters
    ----------
    advice : Answer
        The answer that is to move.
    cache_dir : pathlib.Path, optional
        Where solved wires and rays are kept between runs.

    Yields
    ------
    row : BeaconRow
        Those that tell most first, target by target; of a target of which none tells,
        the first that may be heard.
    """
    question, best = advice.question, advice.best
    sites, asked = beacons(), _asked(advice)
    if not asked.bands:
        return
    link, hear = _heard(advice, asked, cache_dir)
    there = turned_at(link.paths, 1)
    both: dict[tuple[int, int], tuple[Heard, Heard]] = {}

    def known(n: int, band: int) -> tuple[Heard, Heard]:
        if (n, band) not in both:
            both[n, band] = _either(question, sites[n], asked, band, cache_dir)
        return both[n, band]

    for k in range(len(question.targets)):
        chance = best.chance[k, :WITHIN_H]
        t, b = np.unravel_index(int(chance.argmax()), chance.shape)
        cell = narrow, own, _ = _cell(advice, k, int(t), int(b), cache_dir)
        tied = in_common(1, turned_at(own.paths, 1), there).T @ narrow.targets[0].weight
        tied = tied * correlation(0.0, float(t))
        worth = tied[:, None] * np.sqrt(hear * (1.0 - hear))
        first = sorted(np.argsort(-worth.max(axis=1))[:TRIED].tolist())
        rows = []
        for n in first:
            band = int(worth[n].argmax())
            told = known(n, band), asked.bands[band].name
            rows.append(_row(cell, sites[n], float(hear[n, band]), told))

        def moved(row: BeaconRow) -> float:
            return row.heard * abs(row.if_heard - row.chance) + (1.0 - row.heard) * abs(
                row.if_silent - row.chance
            )

        rows = [row for row in rows if row.heard >= LEAST_HEARD]
        best_first = sorted(rows, key=moved, reverse=True)[:TOLD]
        yield from [row for row in best_first if tells(row)] or best_first[:1]


def tells(row: BeaconRow) -> bool:
    """
    Say whether hearing a beacon, or silence, says anything of the target.

    Parameters
    ----------
    row : BeaconRow
        It.

    Returns
    -------
    does : bool
        Whether either moves its chance by `LEAST_MOVED`.
    """
    off = (abs(each - row.chance) for each in (row.if_heard, row.if_silent))
    return max(off) >= LEAST_MOVED


def _asked(advice: Answer) -> Question:
    """All beacons in the first hour, on bands on which they send and a wire works."""
    question = advice.question
    used = {band for setup in advice.question.station.setups for band in setup.bands}
    bands = tuple(b for b in question.bands if b.name in BEACON_MHZ and b.name in used)
    sites, cw = beacons(), emission_by_name("CW")
    lat = np.array([each.lat_deg for each in sites])
    lon = np.array([each.lon_deg for each in sites])
    alike = np.full(lat.size, 1.0 / lat.size)
    return replace(
        question,
        station=at_a_beacon(question.station, cw),
        targets=(Target("beacons", "point", lat, lon, alike, ""),),
        times=question.times[:1],
        bands=bands,
        emission=cw,
        solar=question.solar.at(np.array([0])),
        heard=None,
    )


def _heard(
    advice: Answer, asked: Question, cache_dir: Path | None
) -> tuple[Link, Floats]:
    """Sky towards all beacons, and on which share of days each is heard, (18, B)."""
    far = far_end_patterns(BEACON_END, asked.bands)
    link = link_for(asked, asked.solar.r12, far, cache_dir=cache_dir)
    each = [
        contact_chance(
            link,
            wire_gains(
                asked,
                link,
                advice.halves.patterns[setup.name],
                setup.bearing.wire_deg or 0.0,
            ),
        ).hear[0, :, 0]
        for setup in advice.setups
    ]
    return link, np.max(each, axis=0)


def _cell(
    advice: Answer, target: int, hour: int, band: int, cache_dir: Path | None
) -> tuple[Question, Link, Gains]:
    """Narrow the question down to one target, hour and band on its best wire."""
    question = advice.question
    one = question.bands[band]
    narrow = replace(
        question,
        targets=(question.targets[target],),
        times=question.times[hour : hour + 1],
        bands=(one,),
        solar=question.solar.at(np.array([hour])),
    )
    far = {one.name: advice.halves.far_patterns[one.name]}
    link = link_for(narrow, narrow.solar.r12, far, cache_dir=cache_dir)
    setup = max(advice.setups, key=lambda each: float(each.chance[target, hour, band]))
    patterns = advice.halves.patterns[setup.name]
    return (
        narrow,
        link,
        wire_gains(narrow, link, patterns, setup.bearing.wire_deg or 0.0),
    )


def _either(
    question: Question,
    beacon: Beacon,
    asked: Question,
    band: int,
    cache_dir: Path | None,
) -> tuple[Heard, Heard]:
    """Say what is known of today if a beacon is heard, and if it is not."""
    place = np.array([beacon.lat_deg]), np.array([beacon.lon_deg])
    target = Target(beacon.call_sign, "point", *place, np.ones(1), "")
    before = question.heard.receptions if question.heard else ()
    heard = Reception(asked.bands[band], target, asked.times[0], True, is_beacon=True)
    drawn = drawn_days(question, (*before, heard), cache_dir)
    found = (
        given(question, (*before, replace(heard, is_heard=each)), drawn).heard
        for each in (True, False)
    )
    first, second = (each for each in found if each is not None)
    return first, second


def _row(
    cell: tuple[Question, Link, Gains],
    beacon: Beacon,
    hear: float,
    told: tuple[tuple[Heard, Heard], str],
) -> BeaconRow:
    """Put the target's chance given the beacon, and given silence."""
    narrow, link, gains = cell
    (heard, silent), band = told

    def chance(sky: Link) -> float:
        return float(over_targets(narrow, contact_chance(sky, gains).both[0]).item())

    def after(what: Heard) -> float:
        today = what.over(link.paths, narrow.times, 1)
        # Nothing is known of the way round the other side.
        known = np.where(link.long_way == narrow.long_path, today.row, -1)
        return chance(replace(link, today=replace(today, row=known)))

    return BeaconRow(
        target=narrow.targets[0].name,
        utc=utc_text(narrow.times[0]),
        band=narrow.bands[0].name,
        chance=chance(link),
        beacon=beacon.call_sign,
        place=beacon.place,
        beacon_band=band,
        frequency_mhz=BEACON_MHZ[band],
        start_s=beacon.starts_s(band),
        heard=hear,
        if_heard=after(heard),
        if_silent=after(silent),
    )
