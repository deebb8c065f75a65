"""The rows of what to hang, and what stands beside them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields

from advisor.answers.hanging.found import HangAnswer, Hung, sizes_words
from advisor.answers.rows.inputs import (
    Form,
    QuestionInputs,
    Remedy,
    question_inputs,
    remedies,
)
from advisor.answers.rows.tonight import (
    AdviceRow,
    SetUpBearing,
    advice_rows,
    setup_bearings,
)
from advisor.antenna.shapes.search import AtHand
from advisor.station.cautions import cautions
from geo.fields import Count, Share, Whole, filled, record


@record
class HangInputs(QuestionInputs):
    """
    What was understood of the question.

    Attributes
    ----------
    at_hand : AtHand
        Supports, wire and space there are.
    """

    at_hand: AtHand


@record
class HangRow:
    """
    One shape.

    Attributes
    ----------
    rank : int or None
        Place, 1 for the best; None for a shape that does not fit.
    shape : str
        The shape.
    fits : bool
        Whether it fits.
    bands : str
        Bands it fits on, '; ' between; empty where it does not fit.
    dimensions : str
        What differs from its defaults, in words.
    supports : str
        Names of the supports that hold it, '; ' between; empty where they have no
        places.
    bearing_deg : float
        Bearing of the wire; NaN for a shape that does not fit or where turning changes
        nothing. [deg]
    wire_m : float
        Wire used, that of the band that takes most; NaN for a shape that does not fit
        or has no solved wire. [m]
    chance : float
        Mean over targets and hours of the best band's chance; NaN for a shape that does
        not fit.
    chance_low : float
        Low end of its range; NaN for a shape that does not fit.
    chance_high : float
        High end of its range; NaN for a shape that does not fit.
    equal_to_best : bool
        Whether it is level with the best.
    tried : int
        Number of candidates tried.
    reason : str
        Why it does not fit, or on which bands not.
    """

    rank: Count | None
    shape: str
    fits: bool
    bands: str
    dimensions: str
    supports: str
    bearing_deg: float
    wire_m: float
    chance: Share
    chance_low: Share
    chance_high: Share
    equal_to_best: bool
    tried: Whole
    reason: str


@record
class HangDetails:
    """
    What stands beside the rows.

    Attributes
    ----------
    stopped : bool
        Whether the search was stopped before its end.
    not_reached : tuple of str
        Shapes the search did not come to.
    varied : str
        What the ranges _low to _high are over, in words; empty if nothing was varied.
    remedies : tuple of Remedy
        What would help the best, best remedy first.
    chances : tuple of AdviceRow
        Chances of every shape, target, hour and band, as in tonight; setup names the
        shape.
    bearing : dict of str to SetUpBearing
        How each shape is turned, by its name.
    cautions : tuple of str
        Read them once.
    """

    stopped: bool
    not_reached: tuple[str, ...]
    varied: str
    remedies: tuple[Remedy, ...]
    chances: tuple[AdviceRow, ...]
    bearing: Mapping[str, SetUpBearing]
    cautions: tuple[str, ...]


FORM = Form("hang", HangInputs, HangRow, HangDetails)


def hang_inputs(found: HangAnswer) -> HangInputs:
    """
    Write what was understood of the question.

    Parameters
    ----------
    found : HangAnswer
        What was found.

    Returns
    -------
    inputs : HangInputs
        The set-ups are those found.
    """
    asked = question_inputs(found.advice.question)
    return HangInputs(**vars(asked), at_hand=found.at_hand)


def hang_rows(found: HangAnswer) -> list[HangRow]:
    """
    List the shapes found, best first, then those that do not fit.

    Parameters
    ----------
    found : HangAnswer
        What was found.

    Returns
    -------
    rows : list of HangRow
        One a shape.
    """
    rows = [_row(place, one) for place, one in enumerate(found.found, start=1)]
    nothing = dict.fromkeys((each.name for each in fields(HangRow)), float("nan"))
    for name, text in found.refused.items():
        blank = {"bands": "", "dimensions": "", "equal_to_best": False, "tried": 0}
        said = {"rank": None, "shape": name, "fits": False, "reason": text}
        said["supports"] = ""
        rows.append(HangRow(**(nothing | blank | said)))  # type: ignore[arg-type]
    return rows


def _row(place: int, one: Hung) -> HangRow:
    """Put the row of a shape that fits together."""
    nan = float("nan")
    bearing = one.advice.bearing.wire_deg
    return filled(
        HangRow,
        one,
        rank=place,
        shape=one.setup.shape,
        fits=True,
        bands="; ".join(one.setup.bands),
        dimensions=sizes_words(one.setup),
        supports="; ".join(post.name for post in one.rigging.posts)
        if one.rigging
        else "",
        bearing_deg=nan if bearing is None else bearing,
        chance=one.advice.score,
        chance_low=one.low,
        chance_high=one.high,
        equal_to_best=one.is_equal,
        reason="; ".join(f"{b}: {text}" for b, text in one.left_out.items()),
    )


def hang_details(found: HangAnswer) -> HangDetails:
    """
    Gather what stands beside the rows.

    Parameters
    ----------
    found : HangAnswer
        What was found.

    Returns
    -------
    details : HangDetails
        With the cautions of what hangs within reach first.
    """
    told = (*found.within_reach, *cautions())
    return filled(
        HangDetails,
        found,
        stopped=found.is_stopped,
        remedies=remedies(found.remedies),
        chances=tuple(advice_rows(found.advice)),
        bearing=setup_bearings(found.advice),
        cautions=tuple(each.text for each in told),
    )
