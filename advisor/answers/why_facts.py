"""
The records of one figure laid open, and where each of their lines comes from.

Filled by `advisor.answers.why`; shown by `advisor.show.text.why`.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, fields
from typing import Any

from advisor.answers.perturb import Change
from advisor.engine.targets import MANY_HOPS
from advisor.propagation.losses import LOSSES

GROUND_WAVE_NAME = "ground wave"
"""Stands for a mode where the wave follows the ground."""

_SOURCES = {
    "distance_km": "great circle on a sphere of 6371 km",
    "bearing_deg": "great circle",
    "far_bearing_deg": "great circle",
    "magnetic_bearing_deg": "IGRF-14 declination",
    "far_magnetic_bearing_deg": "IGRF-14 declination",
    "along_km": "ITU-R P.533-14, Table 1 (from memory)",
    "local_hour": "local mean time",
    "sun_elevation_deg": "JPL DE421 through skyfield",
    "foe_mhz": "ITU-R P.1239, section 4",
    "fof1_mhz": "ITU-R P.1239, section 3",
    "fof2_mhz": "ITU-R P.1239 maps",
    "fof2_low_mhz": "ITU-R P.1239, deciles",
    "fof2_high_mhz": "ITU-R P.1239, deciles",
    "m3000f2": "ITU-R P.1239 maps",
    "foes_low_mhz": "sporadic-E maps",
    "foes_mhz": "sporadic-E maps",
    "foes_high_mhz": "sporadic-E maps",
    "takeoff_deg": "ITU-R P.533-14, section 5.1 (from memory)",
    "height_km": "ITU-R P.533-14, section 5.1 (from memory)",
    "muf_mhz": "ITU-R P.533-14, section 3 (from memory)",
    "support": "ITU-R P.533-14, section 3.6 (from memory)",
    "screened": "ITU-R P.533-14, section 4 (from memory)",
    "is_clear": "horizon of the station",
    "share": "support, not screened, and power at the receiver",
    "power_dbw": "station",
    "gain_dbi": "pattern of the set-up, feed included",
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
    "lightning": "after ITU-R P.372 (a sketch, from memory)",
    "total": "ITU-R P.372-16, Part 8 (from memory)",
    "receiving_efficiency_db": "antenna at that end",
    "path_support": "best mode",
    "spread_upper_db": "ITU-R P.842 and P.372, added as squares (from memory)",
    "spread_lower_db": "ITU-R P.842 and P.372, added as squares (from memory)",
    "reliability": "ITU-R P.533-14, section 10.1 (from memory)",
    "chance": "average over days, docs/method.md",
    "chance_heard": "average over days, docs/method.md",
    "chance_hear": "average over days, docs/method.md",
    "chance_low": "solar activity at the other end of its range",
    "chance_high": "solar activity at the other end of its range",
    "limit": "each factor lifted by itself",
}
"""Where each figure but the losses comes from, by its name."""

WAY_SOURCES = {
    MANY_HOPS: "ITU-R P.533-14, section 5.3 (from memory)",
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


@dataclass(frozen=True)
class ControlPoint:
    """
    A place where the layers are read.

    Attributes
    ----------
    name : str
        Where on the path.
    along_km : float
        Distance from my end along the path. [km]
    lat_deg, lon_deg : float
        The place. [deg]
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


@dataclass(frozen=True)
class MiddleLayers:
    """
    The layers over the middle of the path.

    Attributes
    ----------
    foe_mhz, fof1_mhz : float
        Monthly medians; foF1 is NaN where there is no such layer. [MHz]
    fof2_low_mhz, fof2_mhz, fof2_high_mhz : float
        Lower decile, median and upper decile. [MHz]
    m3000f2 : float
        M(3000)F2.
    foes_low_mhz, foes_mhz, foes_high_mhz : float
        Sporadic E: lower decile, median and upper decile. [MHz]
    """

    foe_mhz: float
    fof1_mhz: float
    fof2_low_mhz: float
    fof2_mhz: float
    fof2_high_mhz: float
    m3000f2: float
    foes_low_mhz: float
    foes_mhz: float
    foes_high_mhz: float


@dataclass(frozen=True)
class ModeFacts:
    """
    One hop mode.

    Attributes
    ----------
    name : str
        Hop count and layer.
    hops : int
        Hop count.
    takeoff_deg, height_km : float
        Take-off angle and mirror height. [deg], [km]
    muf_mhz : float
        Median basic MUF; NaN if the hop is too long for the layer. [MHz]
    support : float
        Share of days on which the layer returns the band this way.
    screened : float
        Share of days on which the E layer stops it short.
    is_clear : bool
        Whether it leaves above my horizon.
    margin_db : float
        Its median signal over what is needed when it is there, at the end that
        limits. [dB]
    share : float
        Its share of the mean received power; 0 for all if nothing gets through.
    """

    name: str
    hops: int
    takeoff_deg: float
    height_km: float
    muf_mhz: float
    support: float
    screened: float
    is_clear: bool
    margin_db: float
    share: float


@dataclass(frozen=True)
class Budget:
    """
    The sum of one way in the direction that limits; NaN for a line it has not.

    Attributes
    ----------
    way : str
        Name of a mode, ``long path`` or ``ground wave``.
    power_dbw : float
        Power of the sender. [dBW]
    gain_dbi : float
        My wire's gain at that angle. [dBi]
    below_peak_db : float
        How far that lies below the wire's strongest direction. [dB]
    far_gain_dbi : float
        The far end's gain at that angle, less its handicap on receiving for the
        ground wave. [dBi]
    losses_db : dict of str to float
        Each term of `advisor.propagation.losses.LOSSES`. [dB]
    loss_db : float
        Sum of the losses. [dB]
    received_dbw : float
        Median power at the receiver: power and gains less the loss. [dBW]
    noise_dbw : float
        Median noise there in 2.5 kHz, behind the receiving antenna. [dBW]
    snr_db, needed_snr_db : float
        Median and needed signal-to-noise ratio in 2.5 kHz. [dB]
    margin_db : float
        The first less the second. [dB]
    """

    way: str
    power_dbw: float
    gain_dbi: float
    below_peak_db: float
    far_gain_dbi: float
    losses_db: dict[str, float]
    loss_db: float
    received_dbw: float
    noise_dbw: float
    snr_db: float
    needed_snr_db: float
    margin_db: float

    def figures(self) -> dict[str, float]:
        """
        List every figure of the sum.

        Returns
        -------
        figures : dict of str to float
            By name with its unit, in order; each loss has a line of its own.
        """
        found: dict[str, float] = {}
        for field in fields(self)[1:]:
            value = getattr(self, field.name)
            if field.name == "losses_db":
                found |= {f"{name}_db": loss_db for name, loss_db in value.items()}
            else:
                found[field.name] = value
        return found


@dataclass(frozen=True)
class NoisePart:
    """
    One source of noise at the end that limits.

    Attributes
    ----------
    name : str
        ``man-made``, ``galactic``, ``lightning`` or ``total``.
    factor_db : float
        Median external noise factor; NaN for one the layer keeps out. [dB]
    upper_db, lower_db : float
        Distance from the median to the deciles. [dB]
    """

    name: str
    factor_db: float
    upper_db: float
    lower_db: float


@dataclass(frozen=True)
class WindowFacts:
    """
    The long-path window.

    Attributes
    ----------
    weight : float
        0 where hop modes alone count (7000 km), 1 where the window alone does (9000
        km).
    lower_mhz : float
        Lower limit. [MHz]
    upper_low_mhz, upper_mhz, upper_high_mhz : float
        Upper limit on the weakest eighth of days, on the middle day and on the
        strongest eighth. [MHz]
    """

    weight: float
    lower_mhz: float
    upper_low_mhz: float
    upper_mhz: float
    upper_high_mhz: float


@dataclass(frozen=True)
class Chances:
    """
    The result for the target or for one point of it.

    Attributes
    ----------
    chance, chance_heard, chance_hear : float
        Chance of a contact, that they copy me, that I copy them.
    chance_low, chance_high : float
        Range of the first over the solar activity.
    margin_db : float
        Median margin on days when the layers carry the band, in the worse
        direction; NaN where no mode exists. [dB]
    path_support : float
        Share of days on which the best mode exists and is not screened.
    limit : str
        What stands in the way most.
    """

    chance: float
    chance_heard: float
    chance_hear: float
    chance_low: float
    chance_high: float
    margin_db: float
    path_support: float
    limit: str


@dataclass(frozen=True)
class Why:
    """
    One figure laid open.

    Attributes
    ----------
    target : str
        Name as understood.
    points : int
        Number of its sample points.
    setup, band : str
        Set-up and band.
    frequency_mhz : float
        Frequency worked with. [MHz]
    utc : str
        The hour.
    wire_deg, best_deg : float or None
        Bearing the wire hangs on and its best; None where turning changes nothing.
        [deg]
    is_free : bool
        Whether the first was chosen here.
    first_end : str
        Name of the end that its bearing starts from; empty where it may run either
        way.
    peak_dbi, peak_takeoff_deg : float
        The wire's strongest direction. [dBi], [deg]
    whole : Chances
        For the whole target, as `advise` gives it.
    here : Chances
        For the point shown in detail.
    lat_deg, lon_deg : float
        That point. [deg]
    distance_km : float
        Its distance along the path. [km]
    is_long_path : bool
        Whether the path is the long way round.
    bearing_deg, far_bearing_deg : float
        Bearing of the path at my end, and back from the far end. [deg]
    magnetic_bearing_deg, far_magnetic_bearing_deg : float
        The same by compass. [deg]
    control_points : tuple of ControlPoint
        From my end to the far end.
    layers : MiddleLayers
        Layers at the middle.
    modes : tuple of ModeFacts
        Every hop mode the geometry allows.
    direction : str
        ``heard`` if the far end's copying me limits, ``hear`` if my copying does.
    budgets : tuple of Budget
        Strongest modes first, then long path and ground wave if they apply.
    noise : tuple of NoisePart
        At the end that limits, the total last.
    receiving_efficiency_db : float
        Efficiency of the antenna at that end: it lowers noise and signal alike. [dB]
    spread_upper_db, spread_lower_db : float
        Deciles of the signal-to-noise ratio there. [dB]
    reliability : float
        The standard's reliability for that margin and spread, on days when the
        layers carry the band; NaN where no mode exists.
    window : WindowFacts or None
        On paths over 7000 km.
    changes : tuple of Change
        What would change the chance of the whole target.
    """

    target: str
    points: int
    setup: str
    band: str
    frequency_mhz: float
    utc: str
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
    direction: str
    budgets: tuple[Budget, ...]
    noise: tuple[NoisePart, ...]
    receiving_efficiency_db: float
    spread_upper_db: float
    spread_lower_db: float
    reliability: float
    window: WindowFacts | None
    changes: tuple[Change, ...]

    def as_mapping(self) -> dict[str, Any]:
        """
        Return the whole as plain values, for JSON.

        Returns
        -------
        mapping : dict
            By the names of the fields; losses are figures of their sum.
        """
        budgets = [{"way": one.way, **one.figures()} for one in self.budgets]
        return {**asdict(self), "budgets": budgets}
