"""Angle by hour: what the sky offers over the hours, and where the wire is strong."""

from __future__ import annotations

import numpy as np

from advisor.answers.limits import OPEN_CHANCE
from advisor.answers.pictures.fan import EDGE_DEG, scene_ways, towards_dbi
from advisor.answers.pictures.scene import Moment, Scene
from advisor.answers.through import by_angle
from advisor.engine.question import Question
from geo.arrays import Bools, Floats
from geo.records import ArrayRecord

NEAR_DB, FAR_DB = 3.0, 10.0
"""How far under its best a wire still counts as strong, and as of some use. [dB]"""


class BandAngles(ArrayRecord):
    """
    One band over the hours.

    Attributes
    ----------
    band : str
        Its name.
    offered : numpy.ndarray
        Shape (T, N), share of what the sky offers between the edges of `EDGE_DEG`; all
        0 in hours without a way.
    low_deg, high_deg : numpy.ndarray
        Shape (T,), deciles of what the sky offers; NaN in such hours. [deg]
    is_open : numpy.ndarray of bool
        Shape (T,), whether the chance counts.
    takeoff_deg, gain_dbi : numpy.ndarray
        Shape (E,), the wire towards the target. [deg], [dBi]
    strong : float
        Share of what is offered, over the open hours, at angles where the wire is
        within `NEAR_DB` of its best; NaN where the band never opens.
    """

    band: str
    offered: Floats
    low_deg: Floats
    high_deg: Floats
    is_open: Bools
    takeoff_deg: Floats
    gain_dbi: Floats
    strong: float


class Angles(ArrayRecord):
    """
    One target over the hours, band by band.

    Attributes
    ----------
    setup, target : str
        Names.
    question : Question
        Holds the hours.
    bands : tuple of BandAngles
        Those that open at some hour.
    """

    setup: str
    target: str
    question: Question
    bands: tuple[BandAngles, ...]


def angles(scene: Scene, target: int = 0, setup: int = 0) -> Angles:
    """
    Follow the angles that the sky offers over the hours.

    Parameters
    ----------
    scene : Scene
        The answer with its patterns.
    target, setup : int, optional
        Which target, which set-up in order of rank.

    Returns
    -------
    record : Angles
        For a chart.
    """
    advice = scene.advice
    one, question, seen = advice.setups[setup], advice.question, advice.targets[target]
    ways = scene_ways(scene, target, setup)
    offered = by_angle(ways.offered, ways.takeoff_deg, EDGE_DEG)
    middle = 0.5 * (EDGE_DEG[:-1] + EDGE_DEG[1:])
    bands = []
    for b, band in enumerate(question.bands):
        is_open = one.chance[target, :, b] >= OPEN_CHANCE
        if not is_open.any() or not one.works[b]:
            continue
        hour = int(one.chance[target, :, b].argmax())
        takeoff, gain = towards_dbi(scene, Moment(hour, b), target, setup)
        strong = np.interp(middle, takeoff, gain) >= gain.max() - NEAR_DB
        share = offered[is_open, b]
        bands.append(
            BandAngles(
                band=band.name,
                offered=offered[:, b],
                low_deg=seen.takeoff_low_deg[:, b],
                high_deg=seen.takeoff_high_deg[:, b],
                is_open=is_open,
                takeoff_deg=takeoff,
                gain_dbi=gain,
                strong=float(share[:, strong].sum() / max(share.sum(), 1e-9)),
            )
        )
    return Angles(one.name, seen.name, question, tuple(bands))
