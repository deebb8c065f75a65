"""Chances to the whole world at one hour on one band, however the wire may run."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np

from advisor.antenna.pattern import Pattern
from advisor.engine.contact import contact_chance
from advisor.engine.engine import Link, link_for, wire_gains
from advisor.engine.question import Question
from geo.arrays import Floats
from geo.places import Target
from geo.sphere import EARTH_CIRCUMFERENCE_KM, destination

RING_KM = np.concatenate(
    [
        np.arange(0.0, 3000.0, 250.0),
        np.linspace(3000.0, 0.5 * EARTH_CIRCUMFERENCE_KM, 18),
    ]
)
"""Edges of the rings: close together where the skip zone is. [km]"""

RAYS_DEG = np.arange(0.0, 360.0, 15.0)
"""Bearings of the cells, and of a wire that is turned. [deg]"""

_RINGS = 5
"""Rings worked out together: between them one can leave off."""

_AT_ONCE = 4
"""Bearings of the wire worked out together: fast, and still small in memory."""


def world_links(
    question: Question, far_pattern: Pattern, cache_dir: Path | None = None
) -> Iterator[tuple[Question, Link]]:
    """
    Work out the sky to the middle of every cell, some rings at a time.

    Parameters
    ----------
    question : Question
        Of one hour and one band; its targets do not matter.
    far_pattern : Pattern
        The far end's on that band.
    cache_dir : pathlib.Path, optional
        Where rays are kept between runs.

    Yields
    ------
    question : Question
        The same about some of the cells, the innermost rings first.
    link : Link
        The sky's half of it.
    """
    middle_km, place = 0.5 * (RING_KM[1:] + RING_KM[:-1]), question.place
    for first in range(0, middle_km.size, _RINGS):
        away_km, towards_deg = (
            grid.ravel()
            for grid in np.meshgrid(
                middle_km[first : first + _RINGS], RAYS_DEG, indexing="ij"
            )
        )
        lat, lon = destination(place.lat_deg, place.lon_deg, towards_deg, away_km)
        weight = np.full(lat.size, 1.0 / lat.size)
        some = replace(
            question, targets=(Target("world", "point", lat, lon, weight, ""),)
        )
        far = {question.bands[0].name: far_pattern}
        yield some, link_for(some, question.solar.r12, far, cache_dir=cache_dir)


def turned_chances(question: Question, link: Link, pattern: Pattern) -> Floats:
    """
    Turn the wire and find the chance in every cell.

    Parameters
    ----------
    question, link
        From `world_links`.
    pattern : Pattern
        My set-up's on that band.

    Returns
    -------
    chance : numpy.ndarray
        Shape (G, R, A): wire on `RAYS_DEG`, as far as they differ; these rings;
        bearings.
    """
    whole_deg = 180.0 if pattern.is_reversible else 360.0
    turns = RAYS_DEG[whole_deg > RAYS_DEG]
    each = []
    for first in range(0, turns.size, _AT_ONCE):
        some = turns[first : first + _AT_ONCE]
        gains = wire_gains(question, link, {question.bands[0].name: pattern}, some)
        each.append(contact_chance(link, gains).both[:, :, 0, 0])
    chance = np.concatenate(each)
    return chance.reshape(turns.size, -1, RAYS_DEG.size)
