"""The rows of set-ups side by side, and their ranking."""

from __future__ import annotations

import numpy as np

from advisor.answers.compare import Comparison, Lead, SetUpCompared
from advisor.answers.rows.inputs import Form, QuestionInputs
from advisor.answers.rows.tonight import AdviceRow, advice_rows
from advisor.engine.question import Question
from geo.fields import Count, Share, filled, record


@record
class CompareRow(AdviceRow):
    """
    One set-up, target, hour and band the set-up works on.

    Attributes
    ----------
    rank : int
        Place of the set-up, 1 for the best.
    over_vertical_db : float
        Gain at the angles that matter over a quarter-wave vertical on the ground; NaN
        where no mode exists. [dB]
    over_dipole_db : float
        The same over a half-wave dipole as high as the top; NaN where no mode exists.
        [dB]
    """

    rank: Count
    over_vertical_db: float
    over_dipole_db: float


@record
class RankedBand:
    """
    One band.

    Attributes
    ----------
    band : str
        The band.
    top_m : float
        Height of the wire's top. [m]
    efficiency_db : float
        Part of the power into the wire that reaches the sky. [dB]
    feed_loss_db : float
        Loss of transformer, line and mismatch. [dB]
    """

    band: str
    top_m: float
    efficiency_db: float
    feed_loss_db: float


@record
class RankedSetUp:
    """
    One set-up.

    Attributes
    ----------
    setup : str
        Name of the set-up.
    score : float
        Mean over targets and hours of the best band's chance.
    score_low : float
        Low end of its range.
    score_high : float
        High end of its range.
    wire_deg : float or None
        Bearing of the wire; None where turning changes nothing. [deg]
    mean_over_vertical_db : float
        Mean, by chance, of over_vertical_db; NaN where nothing opens. [dB]
    mean_over_dipole_db : float
        Mean, by chance, of over_dipole_db; NaN where nothing opens. [dB]
    bands : tuple of RankedBand
        Bands it works on.
    """

    setup: str
    score: Share
    score_low: Share
    score_high: Share
    wire_deg: float | None
    mean_over_vertical_db: float
    mean_over_dipole_db: float
    bands: tuple[RankedBand, ...]


@record
class CompareDetails:
    """
    What stands beside the rows.

    Attributes
    ----------
    ranking : tuple of RankedSetUp
        Set-ups, best first.
    leads : tuple of Lead
        Why the first set-up stands before each other.
    varied : str
        What the ranges _low to _high are over, in words; empty if nothing was varied.
    """

    ranking: tuple[RankedSetUp, ...]
    leads: tuple[Lead, ...]
    varied: str


FORM = Form("compare", QuestionInputs, CompareRow, CompareDetails)


def compare_rows(comparison: Comparison) -> list[CompareRow]:
    """
    List every result: the rows of `advice_rows` with dB over the yardsticks.

    Parameters
    ----------
    comparison : Comparison
        What `advisor.answers.compare.compare` found.

    Returns
    -------
    rows : list of CompareRow
        In the order of `advice_rows`.
    """
    cells = (
        (place, each, cell)
        for place, each in enumerate(comparison.setups, start=1)
        for cell in np.ndindex(each.advice.chance.shape)
        if each.advice.works[cell[-1]]
    )
    return [
        CompareRow(
            **vars(row),
            rank=place,
            over_vertical_db=float(each.over_vertical_db[cell]),
            over_dipole_db=float(each.over_dipole_db[cell]),
        )
        for row, (place, each, cell) in zip(
            advice_rows(comparison.advice), cells, strict=True
        )
    ]


def compare_details(comparison: Comparison) -> CompareDetails:
    """
    List the ranking and its reasons.

    Parameters
    ----------
    comparison : Comparison
        What `advisor.answers.compare.compare` found.

    Returns
    -------
    details : CompareDetails
        Best first.
    """
    question = comparison.advice.question
    return CompareDetails(
        ranking=tuple(_ranked(question, each) for each in comparison.setups),
        leads=comparison.leads,
        varied=comparison.varied,
    )


def _ranked(question: Question, each: SetUpCompared) -> RankedSetUp:
    """Put one set-up of the ranking together."""
    return filled(
        RankedSetUp,
        each,
        setup=each.advice.name,
        score=each.advice.score,
        wire_deg=each.advice.bearing.wire_deg,
        bands=tuple(
            RankedBand(
                band=band.name,
                top_m=float(each.top_m[b]),
                efficiency_db=float(each.efficiency_db[b]),
                feed_loss_db=float(each.feed_loss_db[b]),
            )
            for b, band in enumerate(question.bands)
            if each.advice.works[b]
        ),
    )
