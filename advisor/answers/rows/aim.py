"""The rows of a wire turned round, and what was found for each set-up."""

from __future__ import annotations

import math
from collections.abc import Mapping

from advisor.answers.aim import Aim, SetUpAim, TargetAim, TwoBearings
from advisor.answers.rows.inputs import Form, QuestionInputs
from advisor.answers.rows.tonight import SetUpBearing
from advisor.answers.runs import run_words
from advisor.answers.spots import SpotAdvice
from geo.fields import LEFT_OUT, Share, filled, record


@record
class AimRow:
    """
    One set-up, bearing and target.

    Attributes
    ----------
    setup : str
        Name of the set-up.
    target : str
        Name of the target.
    wire_deg : float
        Bearing of the wire, clockwise from true north. [deg]
    compass_deg : float
        The same by compass. [deg]
    is_best : bool
        Whether it is the best one.
    is_given : bool
        Whether the wire hangs on it.
    chance : float
        Mean over the hours of the best band's chance.
    peak_chance : float
        Chance of the best band in the best hour.
    level_db : float
        Mean level against the target's own best bearing; NaN where nothing opens. [dB]
    target_deg : float
        Mean bearing of the target; NaN if it lies all round. [deg]
    lobes_deg : str
        Where the main lobes point, strongest first, degrees with blanks between; empty
        without lobes.
    off_lobe_deg : float
        Angle from the nearest main lobe to the target; NaN where there is no lobe or
        the target lies all round. [deg]
    """

    setup: str
    target: str
    wire_deg: float
    compass_deg: float
    is_best: bool
    is_given: bool
    chance: Share
    peak_chance: Share
    level_db: float
    target_deg: float
    lobes_deg: str
    off_lobe_deg: float


@record
class AimedSetUp(SetUpBearing):
    """
    What was found for one set-up.

    Attributes
    ----------
    has_front : bool
        Whether the two ends differ, so that it matters which way it runs.
    is_open : bool
        Whether any bearing opens any band in any hour.
    chance : float
        Mean over the hours of the best band's chance, on the best bearing.
    chance_low : float
        Low end of its range.
    chance_high : float
        High end of its range.
    given_chance : float or None
        The same on the bearing that is given; None if it is free.
    lobe_band : str
        Band the lobes are told for.
    lobe_takeoff_deg : float
        Take-off angle they are told for; NaN where nothing opens. [deg]
    targets : tuple of TargetAim
        What each target loses by the common bearing.
    two : TwoBearings or None
        Two bearings instead of one; None for one target or where turning changes
        nothing.
    chance_good_from_deg : float or None
        Beginning, clockwise, of the bearings that cost under half a day in ten; None
        if all of them do. [deg]
    chance_good_to_deg : float or None
        End of those bearings; None if all of them do. [deg]
    words : str
        The best bearing in words; left out where turning changes nothing.
    """

    has_front: bool
    is_open: bool
    chance: Share
    chance_low: Share
    chance_high: Share
    given_chance: Share | None
    lobe_band: str
    lobe_takeoff_deg: float
    targets: tuple[TargetAim, ...]
    two: TwoBearings | None
    chance_good_from_deg: float | None
    chance_good_to_deg: float | None
    words: str = LEFT_OUT


@record
class AimDetails:
    """
    What stands beside the rows.

    Attributes
    ----------
    bearing : dict of str to AimedSetUp
        What was found for each set-up, by its name.
    varied : str
        What the ranges _low to _high are over, in words; empty if nothing was varied.
    spots : tuple of SpotAdvice
        Spots to hang a wire on, best first; left out where none is named.
    """

    bearing: Mapping[str, AimedSetUp]
    varied: str
    spots: tuple[SpotAdvice, ...] = LEFT_OUT


FORM = Form("aim", QuestionInputs, AimRow, AimDetails)


def aim_rows(aim: Aim) -> list[AimRow]:
    """
    List every bearing shown: one row per set-up, bearing and target.

    Parameters
    ----------
    aim : Aim
        What `advisor.answers.aim.aim` found.

    Returns
    -------
    rows : list of AimRow
        Set-ups best first; none of one that turning changes nothing for.
    """
    declination = aim.question.declination_deg
    return [
        AimRow(
            setup=setup.name,
            target=target.name,
            wire_deg=turned.wire_deg,
            compass_deg=(turned.wire_deg - declination) % 360.0,
            is_best=turned.is_best,
            is_given=turned.is_given,
            chance=turned.chance[k],
            peak_chance=turned.peak[k],
            level_db=turned.level_db[k],
            target_deg=math.nan if target.is_all_round else target.bearing_deg,
            lobes_deg=" ".join(f"{deg:.1f}" for deg in turned.lobes_deg),
            off_lobe_deg=turned.off_lobe_deg[k],
        )
        for setup in aim.setups
        for turned in setup.rows
        for k, target in enumerate(aim.targets)
    ]


def aim_details(aim: Aim, spots: tuple[SpotAdvice, ...] = ()) -> AimDetails:
    """
    List what was found for each set-up besides the table.

    Parameters
    ----------
    aim : Aim
        What `advisor.answers.aim.aim` found.
    spots : tuple of SpotAdvice, optional
        What `advisor.answers.spots.rank_spots` found.

    Returns
    -------
    details : AimDetails
        Set-ups best first.
    """
    declination = aim.question.declination_deg
    found = {setup.name: _aimed(setup, declination) for setup in aim.setups}
    return AimDetails(found, aim.varied, spots or LEFT_OUT)


def _aimed(setup: SetUpAim, declination_deg: float) -> AimedSetUp:
    """Put together what was found for one set-up."""
    best = setup.bearing.best_deg
    return filled(
        AimedSetUp,
        setup.bearing,
        setup,
        declination_deg=declination_deg,
        chance_good_from_deg=setup.good_from_deg,
        chance_good_to_deg=setup.good_to_deg,
        words=LEFT_OUT
        if best is None
        else run_words(best, declination_deg, setup.first_end),
    )
