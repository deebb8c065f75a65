"""The rows of the plan of an outing, and what stands beside them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from advisor.answers.one_wire.wire import BandWork, WireWork, own_cautions
from advisor.answers.outing.battery import Battery, battery_use
from advisor.answers.outing.packing import Item
from advisor.answers.outing.plan import Activation
from advisor.answers.outing.timetable import Costs
from advisor.answers.outing.twilight import GreyBoth, SunAt, take_down_by, turn_back_by
from advisor.answers.rows.inputs import Form, QuestionInputs, Remedy, remedies, utc_text
from advisor.answers.rows.tonight import SetUpBearing, setup_bearings
from advisor.antenna.exposure import LEAST_DISTANCE_M
from advisor.station.cautions import cautions
from advisor.station.emissions import Emission
from advisor.station.segments import Segment, segments
from geo.fields import LEFT_OUT, Count, Share, Utc, Whole, filled, record


@dataclass(frozen=True)
class Outing:
    """
    All that is shown of an outing.

    Attributes
    ----------
    plan : Activation
        Timetable and bearings.
    works : tuple of WireWork
        The wires of the plan on the bands of the plan.
    suns : tuple of SunAt
        The sun here and at the targets.
    greys : tuple of GreyBoth
        Grey line at both ends at once.
    items : tuple of Item
        What to take along.
    declination_deg : float
        Magnetic declination at the station, east positive. [deg]
    """

    plan: Activation
    works: tuple[WireWork, ...]
    suns: tuple[SunAt, ...]
    greys: tuple[GreyBoth, ...]
    items: tuple[Item, ...]
    declination_deg: float

    @property
    def battery(self) -> Battery | None:
        """What the plan takes from the battery; None where none is known."""
        question = self.plan.advice.question
        hours = float(question.times.size)
        return battery_use(question.station, question.emission, hours)

    @property
    def segments(self) -> tuple[Segment, ...]:
        """Where the emission belongs on each band of the plan."""
        return self.segments_of(self.plan.advice.question.emission)

    def segments_of(self, sent: Emission) -> tuple[Segment, ...]:
        """
        Say where an emission belongs on each band of the plan.

        Parameters
        ----------
        sent : Emission
            That of the plan, or another of the station.

        Returns
        -------
        segments : tuple of Segment
            Of the bands it is used on.
        """
        question, slots = self.plan.advice.question, self.plan.slots
        used = {band for each in slots for band in (each.band, each.backup_band)}
        bands = [band for b, band in enumerate(question.bands) if b in used]
        return segments(filter(sent.fits, bands), sent)

    @property
    def keep_clear_m(self) -> float:
        """Longest exposure distance of any band, at least 3 m."""
        found = [b.exposure.distance_m for work in self.works for b in work.bands]
        return max([LEAST_DISTANCE_M, *found])


@record
class ActivationRow:
    """
    One slot and target.

    Attributes
    ----------
    slot : int
        Number of the slot, from 1.
    utc_first : str
        Its beginning, UTC to the minute, such as 2026-12-05T14:00Z.
    utc_end : str
        Its end, UTC to the minute, such as 2026-12-05T14:00Z.
    hours : int
        Its length in hours. [h]
    band : str
        The band; empty where nothing opens.
    frequency_mhz : float
        Frequency worked with; NaN in a slot in which nothing opens. [MHz]
    setup : str
        Name of the set-up; empty where nothing opens.
    bearing_deg : float
        Bearing of the wire; NaN in a slot in which nothing opens or where turning
        changes nothing. [deg]
    target : str
        Name of the target.
    weight : float
        What the target counts, the sum being 1.
    chance : float
        Mean chance to this target over the slot.
    chance_peak : float
        Chance in its best hour.
    slot_chance : float
        Mean over the targets by weight.
    slot_chance_low : float
        Low end of its range.
    slot_chance_high : float
        High end of its range.
    backup_band : str
        Band to try if the first is dead; empty if there is none.
    backup_setup : str
        Set-up for it; empty if there is none.
    backup_chance : float
        Mean chance on it; NaN if there is none.
    segment_low_mhz : float
        Lower edge of where the emission belongs on the band; NaN where none is known.
        [MHz]
    segment_high_mhz : float
        Upper edge of that; NaN where none is known. [MHz]
    """

    slot: Count
    utc_first: Utc
    utc_end: Utc
    hours: Count
    band: str
    frequency_mhz: float
    setup: str
    bearing_deg: float
    target: str
    weight: float
    chance: Share
    chance_peak: Share
    slot_chance: Share
    slot_chance_low: Share
    slot_chance_high: Share
    backup_band: str
    backup_setup: str
    backup_chance: Share
    segment_low_mhz: float
    segment_high_mhz: float


@record
class PlanDetails:
    """
    The plan as a whole.

    Attributes
    ----------
    chance : float
        Mean over the hours of the chance, targets by weight.
    chance_low : float
        Low end of its range.
    chance_high : float
        High end of its range.
    chance_changing_every_hour : float
        The most there is if changes cost nothing.
    changes : int
        Number of changes of band or wire.
    costs : Costs
        What changes are taken to cost.
    enough_h : float or None
        Expected hours after which a target counts half; None if hours are not shared
        out. [h]
    varied : str
        What the ranges _low to _high are over, in words; empty if nothing was varied.
    expected_h : Mapping[str, float]
        Sum of the chances, by target. [h]
    remedies : tuple of Remedy
        What would help.
    also_sent : dict of str to tuple of float
        What each other emission would do in the plan: mean chance slot by slot, targets
        by weight, NaN on a band that it is not used on; only with several emissions.
    """

    chance: Share
    chance_low: Share
    chance_high: Share
    chance_changing_every_hour: Share
    changes: Whole
    costs: Costs
    enough_h: float | None
    varied: str
    expected_h: Mapping[str, float]
    remedies: tuple[Remedy, ...]
    also_sent: Mapping[str, tuple[float, ...]] = field(default=LEFT_OUT, kw_only=True)


@record
class PlannedWire:
    """
    One wire on one band of the plan.

    Attributes
    ----------
    setup : str
        Name of the set-up.
    band : str
        The band.
    frequency_mhz : float
        Frequency worked with. [MHz]
    cut_m : float
        Length to cut. [m]
    add_mm : float
        To add for resonance, negative to cut off; NaN without a resonance near the
        band. [mm]
    line_swr : float
        Standing-wave ratio on the line at the feedpoint; NaN if it has no bound.
    radio_swr : float
        Standing-wave ratio at the radio before any tuner; NaN if it has no bound.
    voltage_v : float
        Rms voltage at the feedpoint at the station's power. [V]
    current_a : float
        Rms current there. [A]
    exposure_m : float
        Distance from the wire to keep people off. [m]
    mean_power_w : float
        Mean power at the wire. [W]
    """

    setup: str
    band: str
    frequency_mhz: float
    cut_m: float
    add_mm: float
    line_swr: float
    radio_swr: float
    voltage_v: float
    current_a: float
    exposure_m: float
    mean_power_w: float


@record
class SunHours:
    """
    The sun at one end.

    Attributes
    ----------
    place : str
        Here, or name of the target.
    lat_deg : float
        Latitude. [deg]
    lon_deg : float
        Longitude. [deg]
    civil_dawn : str or None
        Sun 6 degrees down before sunrise; None where it does not happen.
    rise : str or None
        Sunrise; None where it does not happen.
    set : str or None
        Sunset; None where it does not happen.
    civil_dusk : str or None
        Sun 6 degrees down after sunset; None where it does not happen.
    grey_line : tuple of tuple[str, str]
        Spans of twilight.
    """

    place: str
    lat_deg: float
    lon_deg: float
    civil_dawn: Utc | None
    rise: Utc | None
    set: Utc | None
    civil_dusk: Utc | None
    grey_line: tuple[tuple[Utc, Utc], ...]


@record
class GreySpan:
    """
    One span.

    Attributes
    ----------
    place : str
        Name of the target.
    begin : str
        Beginning.
    end : str
        End.
    """

    place: str
    begin: Utc
    end: Utc


@record
class ActivationDetails:
    """
    What stands beside the rows.

    Attributes
    ----------
    plan : PlanDetails
        The plan as a whole.
    bearing : dict of str to SetUpBearing
        How each set-up is turned, by its name.
    wires : tuple of PlannedWire
        Wires of the plan.
    keep_clear_m : float or None
        Greatest distance to keep people off; None without a wire in the plan. [m]
    sun : tuple of SunHours
        Here, then the middle of each target.
    grey_line_both : tuple of GreySpan
        When both ends are in twilight.
    packing : tuple of Item
        What to take along.
    cautions : tuple of str
        Read them once.
    segments : tuple of Segment
        Where the emission belongs on each band of the plan, by its band plan.
    turn_back_by : str or None
        When to leave the site to be back by sunset; None without a sunset.
    take_down_by : str or None
        When to begin to take down for that; None without a sunset.
    battery : Battery or None
        What the plan takes from the battery; None where none is known.
    """

    plan: PlanDetails
    bearing: Mapping[str, SetUpBearing]
    wires: tuple[PlannedWire, ...]
    keep_clear_m: float | None
    sun: tuple[SunHours, ...]
    grey_line_both: tuple[GreySpan, ...]
    packing: tuple[Item, ...]
    cautions: tuple[str, ...]
    segments: tuple[Segment, ...]
    turn_back_by: Utc | None
    take_down_by: Utc | None
    battery: Battery | None


FORM = Form("activation", QuestionInputs, ActivationRow, ActivationDetails)


def activation_rows(plan: Activation) -> list[ActivationRow]:
    """
    List the timetable: one row a slot and target.

    Parameters
    ----------
    plan : Activation
        The plan.

    Returns
    -------
    rows : list of ActivationRow
        Empty names where nothing opens.
    """
    return [
        _row(plan, place, k)
        for place in range(len(plan.slots))
        for k in range(len(plan.advice.targets))
    ]


def _row(plan: Activation, place: int, k: int) -> ActivationRow:
    """Put one row together."""
    question, slot, nan = plan.advice.question, plan.slots[place], float("nan")
    is_open, is_backed = slot.setup >= 0, slot.backup_band >= 0
    band = question.bands[slot.band]
    turn = plan.advice.setups[slot.setup].bearing.wire_deg if is_open else None
    where = segments([band] if is_open else [], question.emission)
    return filled(
        ActivationRow,
        slot,
        slot=place + 1,
        utc_first=utc_text(question.times[slot.first]),
        utc_end=utc_text(question.times[slot.last] + np.timedelta64(1, "h")),
        band=band.name if is_open else "",
        frequency_mhz=band.planning_mhz if is_open else nan,
        setup=plan.setups[slot.setup].name if is_open else "",
        bearing_deg=nan if turn is None else turn,
        target=plan.advice.targets[k].name,
        weight=float(plan.weights[k]),
        chance=float(slot.chance[k]),
        chance_peak=float(slot.peak[k]),
        slot_chance=slot.mean,
        slot_chance_low=slot.low,
        slot_chance_high=slot.high,
        backup_band=question.bands[slot.backup_band].name if is_backed else "",
        backup_setup=plan.setups[slot.backup_setup].name if is_backed else "",
        backup_chance=slot.backup_mean,
        segment_low_mhz=where[0].low_mhz if where else nan,
        segment_high_mhz=where[0].high_mhz if where else nan,
    )


def activation_details(outing: Outing) -> ActivationDetails:
    """
    Gather what stands beside the rows.

    Parameters
    ----------
    outing : Outing
        What is taken to the hill.

    Returns
    -------
    details : ActivationDetails
        With the cautions of these very wires first.
    """
    plan = outing.plan
    names = [target.name for target in plan.advice.targets]
    told = (*own_cautions(outing.works), *cautions())
    here, walk_min = outing.suns[0].events, plan.advice.question.station.walk_min
    sent = plan.advice.question.station.also_sent
    return ActivationDetails(
        plan=filled(
            PlanDetails,
            plan,
            chance=plan.score,
            chance_low=plan.low,
            chance_high=plan.high,
            chance_changing_every_hour=plan.best_possible,
            expected_h=dict(zip(names, plan.expected_h.tolist(), strict=True)),
            remedies=remedies(plan.remedies),
            also_sent={
                each.name: tuple(slot.also[k] for slot in plan.slots)
                for k, each in enumerate(sent)
            }
            or LEFT_OUT,
        ),
        bearing=setup_bearings(plan.advice),
        wires=tuple(_wire(work, one) for work in outing.works for one in work.bands),
        keep_clear_m=outing.keep_clear_m if outing.works else None,
        sun=tuple(_sun(each) for each in outing.suns),
        grey_line_both=tuple(
            GreySpan(grey.name, utc_text(grey.begin), utc_text(grey.end))
            for grey in outing.greys
        ),
        packing=outing.items,
        cautions=tuple(each.text for each in told),
        segments=outing.segments,
        turn_back_by=_moment(turn_back_by(here, walk_min)),
        take_down_by=_moment(take_down_by(here, walk_min)),
        battery=outing.battery,
    )


def _wire(work: WireWork, one: BandWork) -> PlannedWire:
    """One wire on one band."""
    return filled(
        PlannedWire,
        one,
        one.feed,
        setup=work.setup.name,
        cut_m=one.hanging.wire_m,
        add_mm=one.feed.resonance.add_mm,
        exposure_m=one.exposure.distance_m,
        mean_power_w=one.mean_w,
    )


def _sun(at: SunAt) -> SunHours:
    """Write the sun at one end."""
    events = at.events
    return filled(
        SunHours,
        at,
        place=at.name,
        civil_dawn=_moment(events.civil_dawn),
        rise=_moment(events.rise),
        set=_moment(events.set),
        civil_dusk=_moment(events.civil_dusk),
        grey_line=tuple((utc_text(a), utc_text(b)) for a, b in at.grey),
    )


def _moment(time: np.datetime64) -> str | None:
    """Write a moment in full; None where it does not happen."""
    return None if np.isnat(time) else utc_text(time)
