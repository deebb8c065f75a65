"""The best wire and band of every hour, with few changes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import fields
from typing import Any

import numpy as np

from advisor.answers.limits import OPEN_CHANCE
from geo.arrays import Bools, Floats, Ints, Names
from geo.records import ArrayRecord

STAY_CHANCE = 0.05
"""A band is kept for the next hour if it is within this of the best."""


class Readings(ArrayRecord):
    """
    What is found of every hour and band, arrays of shape (K, T, B) over K targets.

    Attributes
    ----------
    works : numpy.ndarray of bool
        Shape (B,), bands that can be worked on.
    chance, chance_low, chance_high : numpy.ndarray
        Chance of a contact, and its range by the error of method and month.
    chance_month : numpy.ndarray
        Chance by the month alone, whatever was heard today.
    heard, hear : numpy.ndarray
        Chance in each direction.
    margin_db : numpy.ndarray
        Median signal over what is needed in the worse direction, on the middle one of
        the days with any way at all, at the middle station of the target; NaN where
        there is none. [dB]
    gain_dbi : numpy.ndarray
        My wire's gain towards the modes, by strength; NaN where no mode exists.
    through_low_deg, through_deg, through_high_deg : numpy.ndarray
        Take-off angles of what gets through, as of
        `advisor.answers.through.through_angles_deg`. [deg]
    mode : numpy.ndarray of str
        The mode that carries the contact, as of `advisor.answers.through.carried_by`;
        ground wave where that is stronger than the sky.
    by_ground_wave : numpy.ndarray of bool
        Whether the ground wave is stronger than the sky over most of the target.
    limit : numpy.ndarray of int
        What stands in the way, as a place in `LIMITS`.
    limit_cost : numpy.ndarray
        Chance that is lost to it.
    """

    works: Bools
    chance: Floats
    chance_low: Floats
    chance_high: Floats
    chance_month: Floats
    heard: Floats
    hear: Floats
    margin_db: Floats
    gain_dbi: Floats
    through_low_deg: Floats
    through_deg: Floats
    through_high_deg: Floats
    mode: Names
    by_ground_wave: Bools
    limit: Ints
    limit_cost: Floats


class Best(Readings):
    """
    The readings of the best set-up of every target, hour and band.

    Attributes
    ----------
    setup : numpy.ndarray of int
        Shape (K, T, B): which of the set-ups they are of. It is that of the greatest
        chance, or where all are closed of the most signal; the set-up to be on in that
        hour stands in where it is within `STAY_CHANCE` of it.
    wire, band : numpy.ndarray of int
        Shape (K, T): set-up and band to be on; -1 where all are closed.
    """

    setup: Ints
    wire: Ints
    band: Ints


def best_of(setups: Sequence[Readings]) -> Best:
    """
    Take the best set-up of every target, hour and band.

    Parameters
    ----------
    setups : sequence of SetUpAdvice
        Those that can be used, best first.

    Returns
    -------
    best : Best
        Their readings put together.
    """
    cut = np.stack([one.works for one in setups])
    works = cut[:, None, None]
    chance = np.where(works, np.stack([one.chance for one in setups]), -1.0)
    wire, band = best_ways(chance)
    setup = ranked(setups).argmax(axis=0)
    held = np.maximum(wire, 0)[None, ..., None]
    greatest = chance.max(axis=0)
    stays = np.take_along_axis(chance, held, axis=0)[0] >= np.maximum(
        greatest - STAY_CHANCE, OPEN_CHANCE
    )
    setup = np.where(stays & (wire >= 0)[..., None], held[0], setup)

    def of_best(values: Iterable[Floats | Ints | Bools | Names]) -> Any:
        return np.take_along_axis(np.stack(list(values)), setup[None], axis=0)[0]

    return Best(
        works=np.asarray(cut.any(axis=0)),
        setup=setup,
        wire=wire,
        band=band,
        **{
            each.name: of_best(getattr(one, each.name) for one in setups)
            for each in fields(Readings)
            if each.name != "works"
        },
    )


def ranked(setups: Sequence[Readings]) -> Floats:
    """
    Rank set-ups, hours and bands by their chance, closed ones by their signal.

    Parameters
    ----------
    setups : sequence of SetUpAdvice
        Those that can be used.

    Returns
    -------
    rank : numpy.ndarray
        Shape (S, K, T, B): greater is better; the closed count under any chance,
        bands that a set-up is not cut for under all.
    """
    chance = np.stack([one.chance for one in setups])
    margin_db = np.nan_to_num(np.stack([one.margin_db for one in setups]), nan=-400.0)
    rank = np.where(chance < OPEN_CHANCE, margin_db - 1e4, chance)
    works = np.stack([one.works for one in setups])[:, None, None]
    return np.asarray(np.where(works, rank, -np.inf))


def best_ways(chance: Floats) -> tuple[Ints, Ints]:
    """
    Best set-up and band each hour, with few changes.

    Parameters
    ----------
    chance : numpy.ndarray
        Shape (S, K, T, B) over S set-ups, best first; negative where one does not work.

    Returns
    -------
    wire, band : numpy.ndarray of int
        Shape (K, T); -1 where nothing reaches `OPEN_CHANCE`. Both are kept while they
        are within `STAY_CHANCE` of the best; then the set-up is, on another band; then
        the first in the ranking that is within it is taken up.

    Examples
    --------
    >>> one = [[0.5, 0.4], [0.5, 0.52], [0.1, 0.6], [0.0, 0.0]]
    >>> other = [[0.5, 0.4], [0.5, 0.52], [0.1, 0.3], [0.0, 0.4]]
    >>> best_ways(np.array([[one], [other]]))
    (array([[0, 0, 0, 1]]), array([[0, 0, 1, 1]]))
    """
    _, targets, hours, _ = chance.shape
    wire, band = np.full((2, targets, hours), -1)
    for k in range(targets):
        held = (-1, -1)
        for t in range(hours):
            cells = chance[:, k, t]
            if cells.max() < OPEN_CHANCE:
                held = (-1, -1)
                continue
            floor = max(cells.max() - STAY_CHANCE, OPEN_CHANCE)
            if min(held) < 0 or cells[held] < floor:
                peaks = cells.max(axis=1)
                if held[0] < 0 or peaks[held[0]] < floor:
                    held = (int((peaks >= floor).argmax()), -1)
                held = (held[0], int(cells[held[0]].argmax()))
            wire[k, t], band[k, t] = held
    return wire, band


def best_bands(chance: Floats) -> Ints:
    """
    Best band each hour of one set-up, with few changes.

    Parameters
    ----------
    chance : numpy.ndarray
        Shape (K, T, B).

    Returns
    -------
    best : numpy.ndarray of int
        Shape (K, T), see `best_ways`.

    Examples
    --------
    >>> best_bands(np.array([[[0.5, 0.4], [0.5, 0.52], [0.1, 0.6], [0.0, 0.0]]]))
    array([[ 0,  0,  1, -1]])
    """
    return best_ways(chance[None])[1]
