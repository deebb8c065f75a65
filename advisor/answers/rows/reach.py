"""The rows of where the power of a wire comes down."""

from __future__ import annotations

from collections.abc import Mapping

from advisor.answers.far_places.footprint import LANDINGS
from advisor.answers.far_places.reach import Reach, SetUpReach
from advisor.answers.rows.inputs import Form, QuestionInputs, utc_text
from geo.fields import Share, Utc, record


@record
class ReachRow:
    """
    One set-up, hour and band the set-up works on.

    Attributes
    ----------
    setup : str
        Name of the set-up.
    utc : str
        Beginning of the hour, UTC to the minute, such as 2026-12-05T14:00Z.
    band : str
        The band.
    frequency_mhz : float
        Frequency worked with. [MHz]
    share_near : float
        Share of the power to the sky that comes down within 800 km.
    share_near_low : float
        Low end of its range over solar activity and ground.
    share_near_high : float
        High end of its range.
    share_mid : float
        Share of the power to the sky that comes down from 800 to 2500 km.
    share_mid_low : float
        Low end of its range over solar activity and ground.
    share_mid_high : float
        High end of its range.
    share_far : float
        Share of the power to the sky that comes down beyond 2500 km.
    share_far_low : float
        Low end of its range over solar activity and ground.
    share_far_high : float
        High end of its range.
    share_through : float
        Share that goes through the layers.
    share_absorbed : float
        Share that loses more than 30 dB in the D region.
    share_blocked : float
        Share that meets the horizon.
    nearest_km : float
        Nearest distance the layers serve on half of the days, a mean round the
        compass; NaN if they serve none. [km]
    nearest_low_km : float
        Low end of its range over solar activity; NaN if they serve none. [km]
    nearest_high_km : float
        High end of its range; NaN if they serve none. [km]
    verdict : str
        Short skip, mid range, DX, split or nothing comes down.
    """

    setup: str
    utc: Utc
    band: str
    frequency_mhz: float
    share_near: Share
    share_near_low: Share
    share_near_high: Share
    share_mid: Share
    share_mid_low: Share
    share_mid_high: Share
    share_far: Share
    share_far_low: Share
    share_far_high: Share
    share_through: Share
    share_absorbed: Share
    share_blocked: Share
    nearest_km: float
    nearest_low_km: float
    nearest_high_km: float
    verdict: str


@record
class ReachedSetUp:
    """
    What was found for one set-up.

    Attributes
    ----------
    wire_deg : float or None
        Bearing it is followed on; None if all bearings are averaged. [deg]
    sentences : dict of str to str
        What kind of wire it is, by band.
    """

    wire_deg: float | None
    sentences: Mapping[str, str]


@record
class ReachDetails:
    """
    What stands beside the rows.

    Attributes
    ----------
    setups : dict of str to ReachedSetUp
        What was found, by the set-up's name.
    varied : str
        What the ranges _low to _high are over, in words; empty if nothing was varied.
    """

    setups: Mapping[str, ReachedSetUp]
    varied: str


FORM = Form("reach", QuestionInputs, ReachRow, ReachDetails)


def reach_rows(reach: Reach) -> list[ReachRow]:
    """
    List every result: one row per set-up, hour and band.

    Parameters
    ----------
    reach : Reach
        What `advisor.answers.far_places.reach.reach` found.

    Returns
    -------
    rows : list of ReachRow
        Bands a set-up does not work on are left out.
    """
    question = reach.question
    return [
        ReachRow(
            setup=setup.name,
            utc=utc_text(time),
            band=band.name,
            frequency_mhz=band.planning_mhz,
            **_shares(setup, t, b),
            nearest_km=float(reach.nearest_km[t, b]),
            nearest_low_km=float(reach.nearest_low_km[t, b]),
            nearest_high_km=float(reach.nearest_high_km[t, b]),
            verdict=str(setup.verdict[t, b]),
        )
        for setup in reach.setups
        for t, time in enumerate(question.times)
        for b, band in enumerate(question.bands)
        if setup.works[b]
    ]


def _shares(setup: SetUpReach, t: int, b: int) -> dict[str, float]:
    """Shares by what becomes of the power, those of the rings with their ranges."""
    ranges = {"": setup.share, "_low": setup.share_low, "_high": setup.share_high}
    return {
        f"share_{name}{end}": float(share[i, t, b])
        for i, name in enumerate(LANDINGS)
        for end, share in ranges.items()
        if not end or i < setup.served.shape[0]
    }
