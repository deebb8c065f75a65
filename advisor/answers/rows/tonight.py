"""The rows of the main answer, and its words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import field, replace
from typing import Any

import numpy as np

from advisor.answers.advice import Answer, SetUpAdvice
from advisor.answers.bearings import Bearing
from advisor.answers.limits import LIMITS
from advisor.answers.rows.inputs import Form, QuestionInputs, utc_text
from advisor.answers.shut import ShutBand, shut_bands
from advisor.answers.states import STATES, states
from advisor.answers.storm_doubt import storm_doubt
from advisor.answers.words import headline, reasons
from advisor.station.cautions import cautions
from advisor.station.segments import Segment, segments
from geo.fields import LEFT_OUT, Share, Utc, Whole, record


@record
class AdviceRow:
    """
    One set-up, target, hour and band the set-up works on.

    Attributes
    ----------
    setup : str
        Name of the set-up.
    target : str
        Name of the target.
    utc : str
        Beginning of the hour, UTC to the minute, such as 2026-12-05T14:00Z.
    band : str
        The band.
    frequency_mhz : float
        Frequency worked with on that band. [MHz]
    chance : float
        Share of days on which a station picked at random in the target can be worked
        both ways.
    chance_low : float
        Low end of the range by the error of the method and of the month.
    chance_high : float
        High end of that range.
    chance_heard : float
        Share of days on which they copy me.
    chance_hear : float
        Share of days on which I copy them.
    margin_db : float
        Median signal over what is needed, in the worse direction, on the middle one of
        the days with any way at all, at the middle station of the target; NaN where
        there is none. [dB]
    takeoff_low_deg : float
        A tenth of what the sky offers leaves below this angle; NaN where no mode
        exists. [deg]
    takeoff_deg : float
        Take-off angle that halves what the sky offers; NaN where no mode exists. [deg]
    takeoff_high_deg : float
        A tenth of what the sky offers leaves above this angle; NaN where no mode
        exists. [deg]
    gain_dbi : float
        What the set-up gives over all that, feed losses taken off; NaN where no mode
        exists. [dBi]
    through_low_deg : float
        A tenth of what gets through this set-up leaves below this angle; NaN where no
        mode exists. [deg]
    through_deg : float
        Take-off angle that halves what gets through; NaN where no mode exists. [deg]
    through_high_deg : float
        A tenth of what gets through leaves above this angle; NaN where no mode exists.
        [deg]
    mode : str
        Mode that carries the contact, such as 2F2: that with the greatest chance were
        it the only way; ground wave where that is stronger than the sky, the angles
        being those of the sky beside it; scatter for the ground beyond the skip zone;
        empty where there is no mode.
    support : float
        Share of days on which the best mode exists, a mean over the points by weight.
    state : str
        Open, or what keeps it shut: open for weak-signal modes, short of signal by the
        margin, far too weak, below the horizon, or no layer.
    limit : str
        What stands in the way most.
    chance_month : float
        The chance by the month alone, where something was heard today.
    emission : str
        What is sent, where several were asked about.
    """

    setup: str
    target: str
    utc: Utc
    band: str
    frequency_mhz: float
    chance: Share
    chance_low: Share
    chance_high: Share
    chance_heard: Share
    chance_hear: Share
    margin_db: float
    takeoff_low_deg: float
    takeoff_deg: float
    takeoff_high_deg: float
    gain_dbi: float
    through_low_deg: float
    through_deg: float
    through_high_deg: float
    mode: str
    support: Share
    state: str
    limit: str
    chance_month: Share = field(default=LEFT_OUT, kw_only=True)
    emission: str = field(default=LEFT_OUT, kw_only=True)


@record
class SetUpBearing(Bearing):
    """
    How one set-up is turned.

    Attributes
    ----------
    declination_deg : float
        Magnetic declination at the station, east positive; a bearing less this is by
        compass. [deg]
    """

    declination_deg: float


@record
class HourAnswer:
    """
    What to be on in one hour.

    Attributes
    ----------
    utc : str
        Beginning of the hour, UTC to the minute, such as 2026-12-05T14:00Z.
    setup : str
        Set-up to be on; empty where nothing is open.
    band : str
        Band to be on; empty where nothing is open.
    chance : float
        Chance of a contact there; the greatest of all where nothing is open.
    state : str
        State of the best band.
    """

    utc: Utc
    setup: str
    band: str
    chance: Share
    state: str


@record
class TargetAnswer:
    """
    The answer for one target.

    Attributes
    ----------
    target : str
        Name of the target.
    distance_km : float
        Mean distance of its points. [km]
    bearing_deg : float
        Mean bearing of the way taken, clockwise from true north. [deg]
    headline : str
        Which band when, in words.
    reasons : tuple of str
        Why, in words.
    storm_doubt : str
        Why the figures are not to be relied on in the storm assumed; else empty.
    hours : tuple of HourAnswer
        Set-up and band to be on, hour by hour.
    not_open : tuple of ShutBand
        Bands that no set-up opens to the target.
    emission : str
        What is sent, where several were asked about.
    """

    target: str
    distance_km: float
    bearing_deg: float
    headline: str
    reasons: tuple[str, ...]
    storm_doubt: str
    hours: tuple[HourAnswer, ...]
    not_open: tuple[ShutBand, ...]
    emission: str = field(default=LEFT_OUT, kw_only=True)


@record
class BeaconRow:
    """
    One beacon to listen for, and what it would mean.

    Attributes
    ----------
    target : str
        Name of the target it tells of.
    utc : str
        The hour looked at, UTC to the minute.
    band : str
        The band looked at, the best of that hour.
    chance : float
        Chance of a contact there as it stands.
    beacon : str
        Call sign of the beacon.
    place : str
        Where it stands.
    beacon_band : str
        Band to listen on.
    frequency_mhz : float
        Frequency to listen on. [MHz]
    start_s : int
        When it begins to send, into every three minutes from the full hour. [s]
    heard : float
        Chance to hear it in the first hour, if it is on the air.
    if_heard, if_silent : float
        What the chance becomes if it is heard, and if it is not.
    """

    target: str
    utc: Utc
    band: str
    chance: Share
    beacon: str
    place: str
    beacon_band: str
    frequency_mhz: float
    start_s: Whole
    heard: Share
    if_heard: Share
    if_silent: Share


@record
class AdviceDetails:
    """
    What stands beside the rows.

    Attributes
    ----------
    answer : tuple of TargetAnswer
        The answer in words, one a target; of several emissions, target by target.
    bearing : dict of str to SetUpBearing
        How each set-up is turned, by its name.
    cautions : tuple of str
        Read them once.
    segments : tuple of Segment
        Where the emission belongs on each band, by its band plan; of several, the first
        emission's.
    beacons : tuple of BeaconRow
        Beacons to listen for.
    """

    answer: tuple[TargetAnswer, ...]
    bearing: Mapping[str, SetUpBearing]
    cautions: tuple[str, ...]
    segments: tuple[Segment, ...]
    beacons: tuple[BeaconRow, ...] = field(default=LEFT_OUT, kw_only=True)


FORM = Form("tonight", QuestionInputs, AdviceRow, AdviceDetails)


def advice_rows(advice: Answer, *others: Answer) -> list[AdviceRow]:
    """
    List every result: one row per set-up, target, hour and band.

    Parameters
    ----------
    advice : Answer
        The answer.
    *others : Answer
        The same for other emissions.

    Returns
    -------
    rows : list of AdviceRow
        Set-ups best first; bands a set-up does not work on are left out. Emission by
        emission where there are several.
    """
    return [
        row for each in (advice, *others) for row in _rows(each, _sent(each, others))
    ]


def _sent(advice: Answer, others: Sequence[Answer]) -> Any:
    """Name the emission of an answer, where there are others."""
    return advice.question.emission.name if others else LEFT_OUT


def _rows(advice: Answer, sent: Any) -> Iterator[AdviceRow]:
    """List the results of one emission."""
    for setup in advice.setups:
        state = states(advice.question, advice.halves.link, setup)
        for k, t, b in np.ndindex(setup.chance.shape):
            if setup.works[b]:
                row = _row(advice, setup, STATES[int(state[k, t, b])], (k, t, b))
                yield replace(row, emission=sent)


def _hour(advice: Answer, k: int, t: int) -> HourAnswer:
    """Say what to be on in one hour."""
    best = advice.best
    band, wire = int(best.band[k, t]), int(best.wire[k, t])
    return HourAnswer(
        utc=utc_text(advice.question.times[t]),
        setup=advice.setups[wire].name if wire >= 0 else "",
        band=advice.question.bands[band].name if band >= 0 else "",
        chance=float(best.chance[k, t, band] if band >= 0 else best.chance[k, t].max()),
        state=STATES[int(advice.states[k, t].min())],
    )


def _row(
    advice: Answer, setup: SetUpAdvice, state: str, place: tuple[int, int, int]
) -> AdviceRow:
    """Put one row together."""
    k, t, b = place
    target, band = advice.targets[k], advice.question.bands[b]
    return AdviceRow(
        setup=setup.name,
        target=target.name,
        utc=utc_text(advice.question.times[t]),
        band=band.name,
        frequency_mhz=band.planning_mhz,
        chance=float(setup.chance[k, t, b]),
        chance_low=float(setup.chance_low[k, t, b]),
        chance_high=float(setup.chance_high[k, t, b]),
        chance_heard=float(setup.heard[k, t, b]),
        chance_hear=float(setup.hear[k, t, b]),
        margin_db=float(setup.margin_db[k, t, b]),
        takeoff_low_deg=float(target.takeoff_low_deg[t, b]),
        takeoff_deg=float(target.takeoff_deg[t, b]),
        takeoff_high_deg=float(target.takeoff_high_deg[t, b]),
        gain_dbi=float(setup.gain_dbi[k, t, b]),
        through_low_deg=float(setup.through_low_deg[k, t, b]),
        through_deg=float(setup.through_deg[k, t, b]),
        through_high_deg=float(setup.through_high_deg[k, t, b]),
        mode=str(setup.mode[k, t, b]),
        support=float(target.support[t, b]),
        state=state,
        limit=LIMITS[int(setup.limit[k, t, b])],
        chance_month=LEFT_OUT
        if advice.question.heard is None
        else float(setup.chance_month[k, t, b]),
    )


def advice_details(
    advice: Answer, *others: Answer, beacons: tuple[BeaconRow, ...] | None = None
) -> AdviceDetails:
    """
    Put into words what stands beside the rows.

    Parameters
    ----------
    advice : Answer
        The answer.
    *others : Answer
        The same for other emissions.
    beacons : tuple of BeaconRow, optional
        Beacons to listen for, if that was asked.

    Returns
    -------
    details : AdviceDetails
        Words, bearings and cautions.
    """
    return AdviceDetails(
        answer=tuple(
            _target(each, k, _sent(each, others))
            for k in range(len(advice.targets))
            for each in (advice, *others)
        ),
        bearing=setup_bearings(advice),
        cautions=tuple(each.text for each in cautions()),
        beacons=LEFT_OUT if beacons is None else beacons,
        segments=segments(advice.question.bands, advice.question.emission),
    )


def _target(advice: Answer, k: int, sent: Any) -> TargetAnswer:
    """Answer for one target."""
    target = advice.targets[k]
    return TargetAnswer(
        target=target.name,
        distance_km=target.mean_km,
        bearing_deg=target.bearing_deg,
        headline=headline(advice, k),
        reasons=tuple(reasons(advice, k)),
        storm_doubt=storm_doubt(advice.question, k),
        hours=tuple(_hour(advice, k, t) for t in range(advice.question.times.size)),
        not_open=shut_bands(advice, k),
        emission=sent,
    )


def setup_bearings(advice: Answer) -> dict[str, SetUpBearing]:
    """
    Say how each set-up is turned.

    Parameters
    ----------
    advice : Answer
        The answer.

    Returns
    -------
    bearings : dict of str to SetUpBearing
        By the set-up's name.
    """
    declination = advice.question.declination_deg
    return {
        setup.name: SetUpBearing(**vars(setup.bearing), declination_deg=declination)
        for setup in advice.setups
    }
