"""
The records of one figure laid open, and where each of their lines comes from.

Filled by `advisor.answers.why`; shown by `advisor.show.text.why`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import field
from typing import Any, Literal

from advisor.answers.perturb import Change
from advisor.propagation.losses import LOSSES
from geo.fields import KEYS, LEFT_OUT, Count, Share, Utc, as_mapping, record

GROUND_WAVE_NAME = "ground wave"
"""Stands for a mode where the wave follows the ground."""

_SOURCES = {
    "opens_utc": "chance, hour by hour",
    "opens_chance": "chance, hour by hour",
    "distance_km": "great circle on a sphere of 6371 km",
    "bearing_deg": "great circle",
    "far_bearing_deg": "great circle",
    "magnetic_bearing_deg": "IGRF-14 declination",
    "far_magnetic_bearing_deg": "IGRF-14 declination",
    "along_km": "quarters of the path",
    "local_hour": "local mean time",
    "sun_elevation_deg": "JPL DE421 through skyfield",
    "foe_mhz": "ITU-R P.1239, section 4",
    "fof1_mhz": "ITU-R P.1239, section 3",
    "fof2_mhz": "ITU-R P.1239 maps",
    "fof2_lower_mhz": "public ionograms of 2019: days and error of the map",
    "fof2_upper_mhz": "public ionograms of 2019: days and error of the map",
    "m3000f2": "ITU-R P.1239 maps",
    "hmf2_km": "such that rays give M(3000)F2, docs/method.md",
    "foes_lower_mhz": "sporadic-E maps",
    "foes_mhz": "sporadic-E maps",
    "foes_upper_mhz": "sporadic-E maps",
    "takeoff_deg": "rays through the layers, docs/method.md",
    "landing_deg": "rays through the layers, docs/method.md",
    "height_km": "rays through the layers, docs/method.md",
    "muf_mhz": "rays through the layers, docs/method.md",
    "support": "ITU-R P.533-14, section 3.6 (from memory)",
    "above_db": "ITU-R P.533-14, section 5.2 (from memory)",
    "is_clear": "horizon of the station",
    "share": "mean over the days of the power at the receiver",
    "power_dbw": "station",
    "gain_dbi": "pattern of the set-up, feed included",
    "hill_db": "ground on that bearing, docs/method.md",
    "learned_db": "your log, by check --learn",
    "far_learned_db": "your log, by check --learn",
    "learned": "your log, by check --learn",
    "below_peak_db": "pattern of the set-up",
    "far_gain_dbi": "antenna assumed there, mean over azimuth",
    "loss_db": "sum of the losses",
    "received_dbw": "power and gains less losses",
    "noise_dbw": "noise below, receiving antenna, 2.5 kHz",
    "snr_db": "in 2.5 kHz",
    "needed_snr_db": "emission, in 2.5 kHz",
    "margin_db": "ratio less need",
    "man-made": "ITU-R P.372-16, Part 6",
    "galactic": "ITU-R P.372-16, Part 4",
    "lightning": "flashes by satellite (NASA, 2013)",
    "total": "ITU-R P.372-16, Part 8 (from memory)",
    "receiving_efficiency_db": "antenna at that end",
    "path_support": "best mode",
    "spread_upper_db": "ITU-R P.842 and P.372, added as squares (from memory)",
    "spread_lower_db": "ITU-R P.842 and P.372, added as squares (from memory)",
    "reliability": "ITU-R P.533-14, section 10.1 (from memory)",
    "chance": "average over days, docs/method.md",
    "chance_heard": "average over days, docs/method.md",
    "chance_hear": "average over days, docs/method.md",
    "chance_low": "error of method and month, docs/method.md",
    "chance_high": "error of method and month, docs/method.md",
    "state": "chance, share of days and margin",
    "limit": "each factor lifted by itself",
}
"""Where each figure but the losses comes from, by its name."""

WAY_SOURCES = {
    GROUND_WAVE_NAME: "smooth-Earth ground wave, docs/method.md",
}
"""Where the loss of a way comes from that has no lines of its own."""


def source_of(item: str) -> str:
    """
    Say where a figure comes from.

    Parameters
    ----------
    item : str
        Its name, with its unit; that of a loss is in `LOSSES`.

    Returns
    -------
    source : str
        Empty where there is nothing to say.

    Examples
    --------
    >>> source_of("foe_mhz"), source_of("spreading_db")
    ('ITU-R P.1239, section 4', 'ITU-R P.525-4, equation (4)')
    """
    loss = LOSSES.get(item.removesuffix("_db"))
    return loss.source if loss else _SOURCES.get(item, "")


@record
class ControlPoint:
    """
    A place where the layers are read.

    Attributes
    ----------
    name : str
        Where on the path.
    along_km : float
        Distance from my end. [km]
    lat_deg : float
        Latitude. [deg]
    lon_deg : float
        Longitude. [deg]
    local_hour : float
        Local mean time. [h]
    sun_elevation_deg : float
        Elevation of the sun on the ground there. [deg]
    """

    name: str
    along_km: float
    lat_deg: float
    lon_deg: float
    local_hour: float
    sun_elevation_deg: float


@record
class MiddleLayers:
    """
    The layers over the middle of the path.

    Attributes
    ----------
    foe_mhz : float
        Median foE. [MHz]
    fof1_mhz : float
        Median foF1; NaN where there is no such layer. [MHz]
    fof2_lower_mhz : float
        Lower decile of foF2 over the days, error of the map included. [MHz]
    fof2_mhz : float
        Median foF2. [MHz]
    fof2_upper_mhz : float
        Upper decile of foF2 over the days, error of the map included. [MHz]
    hmf2_km : float
        Height of the F2 peak. [km]
    m3000f2 : float
        M(3000)F2.
    foes_lower_mhz : float
        Lower decile of foEs. [MHz]
    foes_mhz : float
        Median foEs. [MHz]
    foes_upper_mhz : float
        Upper decile of foEs. [MHz]
    """

    foe_mhz: float
    fof1_mhz: float
    fof2_lower_mhz: float
    fof2_mhz: float
    fof2_upper_mhz: float
    hmf2_km: float
    m3000f2: float
    foes_lower_mhz: float
    foes_mhz: float
    foes_upper_mhz: float


@record
class ModeFacts:
    """
    One hop mode.

    Attributes
    ----------
    name : str
        Hops and layer, such as 2F2.
    hops : int
        Number of hops.
    takeoff_deg : float
        Take-off angle. [deg]
    landing_deg : float
        Angle at which it comes down. [deg]
    height_km : float
        Greatest height of the ray, a mean over the hops. [km]
    muf_mhz : float
        Median basic MUF of the weakest hop; NaN where there is none. [MHz]
    support : float
        Share of days on which the layer returns the band this way.
    above_db : float
        What a weak signal above the MUF loses on the middle day besides; 0 where the
        band is below the MUF then, NaN for layers of which none is told. [dB]
    is_clear : bool
        Whether it leaves above the horizon.
    margin_db : float
        Median signal over what is needed when it is there, at the end that limits; NaN
        if it is never there. [dB]
    chance : float
        Chance of a contact were it the only way; the mode with most of it is the one
        that carries the contact.
    share : float
        Its share of the mean received power.
    """

    name: str
    hops: Count
    takeoff_deg: float
    landing_deg: float
    height_km: float
    muf_mhz: float
    support: Share
    above_db: float
    is_clear: bool
    margin_db: float
    chance: Share
    share: Share


def _meanings_of_losses() -> dict[str, str]:
    """Say what each loss of a sum means, by its name with its unit."""
    return {
        f"{name}_db": f"{loss.meaning}; null for a way without such a line"
        for name, loss in LOSSES.items()
    }


@record
class Budget:
    """
    The sum of one way in the direction that limits.

    Attributes
    ----------
    way : str
        A mode or ground wave.
    power_dbw : float
        Power of the sender. [dBW]
    gain_dbi : float
        My wire's gain at that angle. [dBi]
    below_peak_db : float
        How far that lies below its strongest direction. [dB]
    far_gain_dbi : float
        Gain of the far end at that angle. [dBi]
    losses_db : dict of str to float
        Each term of `advisor.propagation.losses.LOSSES`; NaN for a way without such a
        line. [dB]
    loss_db : float
        Sum of the losses. [dB]
    received_dbw : float
        Median power received. [dBW]
    noise_dbw : float
        Median noise there in 2.5 kHz, behind the antenna. [dBW]
    snr_db : float
        Median signal-to-noise ratio in 2.5 kHz. [dB]
    needed_snr_db : float
        What is needed in 2.5 kHz. [dB]
    margin_db : float
        The first less the second. [dB]
    hill_db : float
        What the hills around me give in that gain; NaN along the ground, which does not
        know of them. [dB]
    learned_db : float
        What a log taught of my level, in that gain. [dB]
    far_learned_db : float
        What it taught of the usual far end, in the gain there. [dB]
    """

    way: str
    power_dbw: float
    gain_dbi: float
    below_peak_db: float
    far_gain_dbi: float
    losses_db: Mapping[str, float] = field(metadata={KEYS: _meanings_of_losses})
    loss_db: float
    received_dbw: float
    noise_dbw: float
    snr_db: float
    needed_snr_db: float
    margin_db: float
    hill_db: float = LEFT_OUT
    learned_db: float = LEFT_OUT
    far_learned_db: float = LEFT_OUT

    def figures(self) -> dict[str, float]:
        """
        List every figure of the sum.

        Returns
        -------
        figures : dict of str to float
            By name with its unit, in order; each loss has a line of its own.
        """
        figures: dict[str, Any] = as_mapping(self)
        del figures["way"]
        first = ["power_dbw", "gain_dbi", "hill_db", "learned_db", "below_peak_db"]
        first += ["far_gain_dbi", "far_learned_db"]
        return {name: figures[name] for name in first if name in figures} | figures

    def steps(self, direction: Literal["heard", "hear"]) -> dict[str, float]:
        """
        List what the level goes through from the sender to the ear, in that order.

        Parameters
        ----------
        direction : {"heard", "hear"}
            Who sends: I in the first.

        Returns
        -------
        steps : dict of str to float
            By the names of `figures`: the power, then what each term adds to it, a loss
            below zero. Their sum is what is received. [dB]
        """
        figures = self.figures()
        ends = ["gain_dbi", "far_gain_dbi"]
        if direction == "hear":
            ends.reverse()
        losses = [name for name in self.losses_db if not math.isnan(figures[name])]
        taken = {name: -figures[name] for name in losses or ["loss_db"]}
        sent, heard = ({name: figures[name]} for name in ends)
        return {"power_dbw": self.power_dbw} | sent | taken | heard


@record
class NoisePart:
    """
    One source of noise at the end that limits.

    Attributes
    ----------
    name : str
        Man-made, galactic, lightning, learned or total.
    factor_db : float
        Median external noise factor; NaN if a layer keeps it out. [dB]
    upper_db : float
        From the median to the upper decile; NaN if a layer keeps it out. [dB]
    lower_db : float
        From the median to the lower decile; NaN if a layer keeps it out. [dB]
    """

    name: str
    factor_db: float
    upper_db: float
    lower_db: float


@record
class Chances:
    """
    The result for the target or for one point of it.

    Attributes
    ----------
    chance : float
        Chance of a contact.
    chance_heard : float
        That they copy me.
    chance_hear : float
        That I copy them.
    chance_low : float
        Low end of the range by the error of the method and of the month.
    chance_high : float
        High end of that range.
    margin_db : float
        Median margin in the worse direction on days when the layers carry the band; NaN
        where no mode exists. [dB]
    path_support : float
        Share of days on which the best mode exists.
    state : str
        Open, or what keeps it shut, as in the rows of ``tonight``.
    limit : str
        What stands in the way most, and the days in ten lost to it.
    chance_month : float
        The chance by the month alone, where something was heard today.
    """

    chance: Share
    chance_heard: Share
    chance_hear: Share
    chance_low: Share
    chance_high: Share
    margin_db: float
    path_support: Share
    state: str
    limit: str
    chance_month: Share = LEFT_OUT


@record
class Why:
    """
    One figure laid open.

    Attributes
    ----------
    target : str
        Name of the target.
    points : int
        Number of its sample points.
    setup : str
        Name of the set-up.
    first_end : str
        What the end is called that the wire runs from, fed end or high end; empty where
        turning by 180 degrees changes nothing.
    band : str
        The band.
    frequency_mhz : float
        Frequency worked with. [MHz]
    utc : str
        The hour, UTC to the minute, such as 2026-12-05T14:00Z.
    wire_deg : float or None
        Bearing the wire hangs on; None where turning changes nothing. [deg]
    best_deg : float or None
        Its best bearing for this hour; None where turning changes nothing. [deg]
    is_free : bool
        Whether the first was chosen here.
    peak_dbi : float
        Gain in the wire's strongest direction. [dBi]
    peak_takeoff_deg : float
        Take-off angle of that. [deg]
    whole : Chances
        For the whole target.
    here : Chances
        For the point shown in detail.
    lat_deg : float
        Latitude of that point. [deg]
    lon_deg : float
        Longitude of that point. [deg]
    distance_km : float
        Its distance along the path. [km]
    is_long_path : bool
        Whether the path is the long way round.
    bearing_deg : float
        Bearing of the path at my end, true. [deg]
    far_bearing_deg : float
        Bearing back from the far end, true. [deg]
    magnetic_bearing_deg : float
        Bearing at my end by compass. [deg]
    far_magnetic_bearing_deg : float
        Bearing at the far end by compass. [deg]
    control_points : tuple of ControlPoint
        Places where the layers are read.
    layers : MiddleLayers
        Layers over the middle of the path.
    modes : tuple of ModeFacts
        Every hop mode the geometry allows.
    direction : str
        Heard if their copying me limits, hear if my copying them does.
    budgets : tuple of Budget
        Sums of the strongest modes, then ground wave if it applies.
    noise : tuple of NoisePart
        Noise at the end that limits.
    receiving_efficiency_db : float
        Efficiency of the antenna at that end, which lowers noise and signal alike. [dB]
    spread_upper_db : float
        From the median ratio to its upper decile. [dB]
    spread_lower_db : float
        From the median ratio to its lower decile. [dB]
    reliability : float
        The standard's reliability at that margin on days when the layers carry the
        band; NaN where no mode exists.
    changes : tuple of Change
        What would change the chance.
    opens_utc : str
        The first hour of the next 24 in which it is open, the wire hung the same; empty
        if there is none or it is open now.
    opens_chance : float
        Chance in that hour; left out without one.
    """

    target: str
    points: Count
    setup: str
    band: str
    frequency_mhz: float
    utc: Utc
    wire_deg: float | None
    best_deg: float | None
    is_free: bool
    first_end: str
    peak_dbi: float
    peak_takeoff_deg: float
    whole: Chances
    here: Chances
    lat_deg: float
    lon_deg: float
    distance_km: float
    is_long_path: bool
    bearing_deg: float
    far_bearing_deg: float
    magnetic_bearing_deg: float
    far_magnetic_bearing_deg: float
    control_points: tuple[ControlPoint, ...]
    layers: MiddleLayers
    modes: tuple[ModeFacts, ...]
    direction: Literal["heard", "hear"]
    budgets: tuple[Budget, ...]
    noise: tuple[NoisePart, ...]
    receiving_efficiency_db: float
    spread_upper_db: float
    spread_lower_db: float
    reliability: Share
    changes: tuple[Change, ...]
    opens_utc: str = ""
    opens_chance: Share = field(default=LEFT_OUT, kw_only=True)
