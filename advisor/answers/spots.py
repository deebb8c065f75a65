"""Where on the plot to hang a wire, out of spots that are named."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from advisor.answers.advice import Answer
from advisor.answers.aim import Aim
from advisor.answers.ask import answer
from advisor.engine.wires import gain_over_hills
from advisor.station.spots import Spot, standing_on
from geo.errors import InputError
from geo.fields import Share, record

HERE = "here"
"""The station's own place among the spots."""

MOST_SPOTS = 12


@record
class SpotAdvice:
    """
    A spot and the set-up that does best there.

    Attributes
    ----------
    name : str
        What it is called.
    azimuth_deg : float
        Where it lies from the station's place, clockwise from true north. [deg]
    distance_m : float
        How far it is from there. [m]
    setup : str
        The set-up with the highest chance there.
    wire_deg : float or None
        Bearing it runs there; None where turning changes nothing. [deg]
    chance : float
        Mean over hours and targets of the best band's chance.
    band : str
        Band that is best most with that set-up, at the station's own place.
    takeoff_deg : float
        Angle mostly asked for on it; NaN where nothing opens. [deg]
    gain_db : float
        What it gives there towards the targets, over the same set-up at the station's
        own place; NaN towards what lies all round. [dB]
    """

    name: str
    azimuth_deg: float
    distance_m: float
    setup: str
    wire_deg: float | None
    chance: Share
    band: str
    takeoff_deg: float
    gain_db: float


def rank_spots(
    advice: Answer, aim: Aim, spots: Sequence[Spot], cache_dir: Path | None = None
) -> tuple[SpotAdvice, ...]:
    """
    Answer a question from every spot.

    Parameters
    ----------
    advice : Answer
        The answer at the station's own place, which is one of them.
    aim : Aim
        The same with every set-up turned.
    spots : sequence of Spot
        The others.
    cache_dir : pathlib.Path, optional
        Where solved wires and hills are kept between runs.

    Returns
    -------
    ranked : tuple of SpotAdvice
        Best first; of those alike the station's own, then as named.

    Raises
    ------
    geo.errors.InputError
        If two have one name, there are too many, or nothing is known of the ground.
    """
    names = [HERE, *(spot.name for spot in spots)]
    if len({name.casefold() for name in names}) < len(names):
        raise InputError("two spots have one name, or one is called 'here': rename it")
    if len(spots) > MOST_SPOTS:
        raise InputError(f"{len(spots)} spots: name {MOST_SPOTS} at most")
    question = advice.question
    moved = [
        replace(question, station=standing_on(question.station, spot)) for spot in spots
    ]
    found = [_best(Spot(HERE, 0.0, 0.0), advice, advice, aim)]
    for spot, asked in zip(spots, moved, strict=True):
        found.append(_best(spot, answer(asked, cache_dir), advice, aim))
    return tuple(sorted(found, key=lambda one: -round(one.chance, 3)))


def _best(spot: Spot, there: Answer, here: Answer, aim: Aim) -> SpotAdvice:
    """Say what the best set-up of an answer does at a spot."""
    best = max(there.setups, key=lambda one: one.score)
    told = next(one for one in aim.setups if one.name == best.name)
    gains = [
        _gain_db(each, best.name, told.lobe_band, told.lobe_takeoff_deg)
        for each in (there, here)
    ]
    return SpotAdvice(
        name=spot.name,
        azimuth_deg=spot.azimuth_deg,
        distance_m=spot.distance_m,
        setup=best.name,
        wire_deg=best.bearing.wire_deg,
        chance=best.score,
        band=told.lobe_band,
        takeoff_deg=told.lobe_takeoff_deg,
        gain_db=gains[0] - gains[1],
    )


def _gain_db(advice: Answer, name: str, band: str, takeoff_deg: float) -> float:
    """Mean gain of a set-up towards the targets as it hangs there."""
    setup = next(one for one in advice.setups if one.name == name)
    pattern = advice.halves.patterns[name].get(band)
    towards = [t.bearing_deg for t in advice.targets if not t.is_all_round]
    if pattern is None or not towards or np.isnan(takeoff_deg):
        return float("nan")
    bearing = np.array(towards)
    off = bearing - (setup.bearing.wire_deg or 0.0)
    gain = gain_over_hills(advice.question, pattern, takeoff_deg, off, bearing)
    return float(np.mean(10.0 * np.log10(np.maximum(gain, 1e-12))))
