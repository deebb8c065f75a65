"""
Where the power of a wire comes down: short skip, mid range, far, or not at all.

The rays are followed in `advisor.answers.far_places.footprint`; here the shares are
judged.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from advisor.answers.bearings import bearing_from, scan_bearings
from advisor.answers.far_places.footprint import hop_sky, landing_shares
from advisor.answers.first_end import first_end
from advisor.answers.uncertainty import on_ground, other_grounds, spread_words
from advisor.engine.engine import link_for
from advisor.engine.question import Question
from advisor.engine.targets import TargetAdvice, describe_targets
from advisor.engine.wires import far_end_patterns, patterns_of
from advisor.station.setup import SetUp
from geo.arrays import Bools, Floats, Names
from geo.records import ArrayRecord

SHORT_SKIP, MID_RANGE, DX = VERDICTS = ("short skip", "mid range", "DX")
SPLIT, NOTHING, UNUSED = "split", "nothing comes down", "not used"
"""Verdicts: the ring that has more than half of what comes down; or none of them has;
hardly anything comes down; a band the set-up is not cut for."""

LEAST_DOWN = 0.02
"""Share of the power below which hardly anything comes down, in all or in one ring. The
project's choice."""

ALSO = 0.25
"""Share of what comes down from which a ring counts as served. The project's
choice."""


class SetUpReach(ArrayRecord):
    """
    Where the power of one set-up comes down.

    Attributes
    ----------
    name, shape : str
        The set-up.
    wire_deg : float or None
        Bearing it is followed on; None where it is free and all bearings are
        averaged. [deg]
    first_end : str
        Name of the end that its bearing starts from; empty where it may run either
        way.
    works : numpy.ndarray of bool
        Shape (B,), bands it works on.
    share, share_low, share_high : numpy.ndarray
        Shape (6, T, B) in the order of `LANDINGS`: share of the radiated power, and its
        range under other assumptions; NaN on other bands.
    verdict : numpy.ndarray of str
        Shape (T, B).
    served : numpy.ndarray of bool
        Shape (3, T, B): whether near, mid and far have a good part of what comes down.
    """

    name: str
    shape: str
    wire_deg: float | None
    first_end: str
    works: Bools
    share: Floats
    share_low: Floats
    share_high: Floats
    verdict: Names
    served: Bools


class Reach(ArrayRecord):
    """
    Where the power of every set-up comes down.

    Attributes
    ----------
    question : Question
        What was asked.
    towards : TargetAdvice or None
        The target whose direction was looked into; None for all round.
    setups : tuple of SetUpReach
        In the order of the station.
    nearest_km, nearest_low_km, nearest_high_km : numpy.ndarray
        Shape (T, B): nearest distance the layers serve on half of the days, and its
        range over solar activity; NaN if there is none. [km]
    noon : int
        Place of the hour with the sun highest.
    varied : str
        What the ranges are over, in words.
    """

    question: Question
    towards: TargetAdvice | None
    setups: tuple[SetUpReach, ...]
    nearest_km: Floats
    nearest_low_km: Floats
    nearest_high_km: Floats
    noon: int
    varied: str


def reach(
    question: Question, *, towards: bool = False, cache_dir: Path | None = None
) -> Reach:
    """
    Follow the power of every set-up.

    Parameters
    ----------
    question : Question
        What is asked; its first target gives the direction if one is wanted.
    towards : bool, optional
        Look towards that target rather than all round. A wire that is free to turn is
        then hung as it suits the target best.
    cache_dir : pathlib.Path, optional
        Where the wire solver keeps its ground tables between runs.

    Returns
    -------
    reach : Reach
        Shares, verdicts and skip zones by hour and band.
    """
    link, target, azimuth = None, None, None
    if towards:
        far = far_end_patterns(question.station.far_end, question.bands, cache_dir)
        link = link_for(question, question.solar.r12, far, cache_dir=cache_dir)
        target = describe_targets(question, link)[0]
        if not target.is_all_round:
            azimuth = np.array([target.bearing_deg])
    solar = question.solar
    skies = [hop_sky(question, solar.r12, azimuth)]
    skies += [
        hop_sky(question, r12, azimuth)
        for r12 in (solar.low, solar.high)
        if not np.array_equal(r12, solar.r12)
    ]
    grounds = other_grounds(question)
    names = tuple(band.name for band in question.bands)
    setups = []
    for setup in question.station.setups:
        patterns = patterns_of(setup, question, cache_dir)
        wire = setup.bearing_deg
        if link is not None:
            scan = scan_bearings(question, link, patterns)
            wire = bearing_from(scan, wire).wire_deg
        tried = [landing_shares(sky, patterns, names, wire) for sky in skies]
        tried += [
            landing_shares(
                skies[0],
                patterns_of(setup, on_ground(question, ground), cache_dir),
                names,
                wire,
            )
            for ground in grounds
        ]
        end = first_end(setup, patterns.values())
        setups.append(_told(setup, wire, end, tried))
    nearest = np.stack([sky.nearest_km for sky in skies])
    return Reach(
        question=question,
        towards=target,
        setups=tuple(setups),
        nearest_km=nearest[0],
        nearest_low_km=np.fmin.reduce(nearest),
        nearest_high_km=np.fmax.reduce(nearest),
        noon=skies[0].noon,
        varied=spread_words(["sun"] * (len(skies) > 1) + ["ground"] * bool(grounds)),
    )


def _told(
    setup: SetUp, wire_deg: float | None, end: str, tried: list[Floats]
) -> SetUpReach:
    """Judge the shares of one set-up, those as asked first."""
    share = tried[0]
    down = share[:3].sum(axis=0)
    works = np.isfinite(share[0, 0])
    with np.errstate(divide="ignore", invalid="ignore"):
        parts = share[:3] / down
    some = down >= LEAST_DOWN
    verdict = np.select(
        [~np.broadcast_to(works, down.shape), ~some, *(parts > 0.5)],
        [UNUSED, NOTHING, *VERDICTS],
        SPLIT,
    )
    return SetUpReach(
        name=setup.name,
        shape=setup.shape,
        wire_deg=wire_deg,
        first_end=end,
        works=works,
        share=share,
        share_low=np.min(tried, axis=0),
        share_high=np.max(tried, axis=0),
        verdict=verdict,
        served=some & (parts >= ALSO) & (share[:3] >= LEAST_DOWN),
    )
