"""The rows of what a set-up does, and what does not fit a row."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import field, fields
from itertools import zip_longest
from typing import Annotated

from advisor.answers.one_wire.line import LineWork
from advisor.answers.one_wire.site import SiteBearing, SiteProfile, SiteWork
from advisor.answers.one_wire.sky import LOW_ANGLE_DEG, AngleGain, LobeReach
from advisor.answers.one_wire.wire import (
    BandWork,
    GroundGain,
    WireWork,
    own_cautions,
    true_bearings,
)
from advisor.answers.rows.inputs import Form, SetUpInputs, setup_inputs
from advisor.antenna.exposure import ExposureDistance
from advisor.antenna.pattern import Lobes
from advisor.antenna.shapes.parts import Support
from advisor.station.cautions import cautions
from advisor.station.emissions import Emission
from advisor.station.station import Station
from geo.arrays import Floats
from geo.fields import KEYS, LEFT_OUT, OrNothing, Share, Whole, filled, record

Region = Annotated[int, ("minimum", 1), ("maximum", 3)]


@record
class AtAngle:
    """
    Gain at one take-off angle.

    Attributes
    ----------
    gain_dbi : float
        Gain of the wire at the take-off angle in the key, in its best direction there.
        [dBi]
    over_vertical_db : float
        That gain over the quarter-wave vertical on the ground; NaN where the yardstick
        has none. [dB]
    over_dipole_db : float
        That gain over a half-wave dipole as high as the wire's top; NaN where the
        yardstick has none. [dB]
    over_high_dipole_db : float
        That gain over a half-wave dipole half a wave up; NaN where the yardstick has
        none. [dB]
    """

    gain_dbi: float
    over_vertical_db: float
    over_dipole_db: float
    over_high_dipole_db: float


@record
class WireRow:
    """
    One set-up and band.

    Attributes
    ----------
    setup : str
        Name of the set-up.
    shape : str
        Its shape.
    band : str
        The band.
    frequency_mhz : float
        Frequency worked with. [MHz]
    verdict : str
        Short skip, split, mid range or DX, by angle alone.
    within_800_km_share : float
        Share of the power to the sky that one F2 hop at 300 km brings down within 800
        km.
    to_2500_km_share : float
        From 800 to 2500 km.
    beyond_2500_km_share : float
        Beyond 2500 km.
    wire_m : float
        Wire to cut. [m]
    top_m : float
        Highest point. [m]
    lowest_m : float
        Lowest point. [m]
    span_m : float
        Length of ground between the farthest supports. [m]
    below_n : int
        Number of radials or counterpoise wires.
    below_m : float
        Length of each. [m]
    wire_resistance_ohm : float
        Resistance at the feedpoint, before a transformer. [ohm]
    wire_reactance_ohm : float
        Reactance there. [ohm]
    radio_swr : float
        Standing-wave ratio at the radio before any tuner; NaN if it has no bound.
    swr_low_edge : float
        The same at the band's lower edge.
    swr_best : float
        Least over the band.
    swr_best_mhz : float
        Where that is. [MHz]
    swr_high_edge : float
        At the upper edge.
    transformer : str
        Transformer at the feedpoint, as a ratio.
    transformer_loss_db : float
        Its loss. [dB]
    line_loss_db : float
        Loss of the line if matched. [dB]
    added_line_loss_db : float
        What its standing wave adds. [dB]
    mismatch_loss_db : float
        Loss by mismatch at the radio; 0 with a tuner; NaN if nothing gets through. [dB]
    feed_loss_db : float
        Sum of the four; NaN if nothing gets through. [dB]
    best_transformer : str
        Ratio that would bring most power to the wire; empty where none is looked for.
    best_transformer_loss_db : float
        Loss of the feed with it; NaN where none is looked for. [dB]
    best_transformer_swr : float
        Standing-wave ratio at the radio with it; NaN where none is looked for.
    feed_voltage_v : float
        Rms voltage at the feedpoint at the station's power. [V]
    feed_current_a : float
        Rms current there. [A]
    resonance_mhz : float
        Resonance within 6 % of the band; NaN without a resonance near the band. [MHz]
    highest_resistance_mhz : float
        Where an end-fed wire's resistance is highest; NaN where there is no such
        frequency near the band. [MHz]
    trim_mm : float
        To add to the whole wire for resonance, negative to cut off; NaN without a
        resonance near the band. [mm]
    trim_mm_per_khz : float
        The same for each kilohertz; NaN without a resonance near the band. [mm / kHz]
    efficiency : float
        Part of the power into the wire that reaches the sky.
    conductor_share : float
        Part lost in the metal.
    ground_share : float
        Part lost in the ground.
    peak_gain_dbi : float
        Gain in the strongest direction of all. [dBi]
    peak_takeoff_deg : float
        Its take-off angle. [deg]
    vertical_share : float
        Part of the power at 10 degrees that is vertically polarised.
    ground_spread_db : float
        How far the gain at 10 degrees moves over poor, average and rich ground; NaN if
        other grounds were not tried. [dB]
    exposure_m : float
        Distance from the wire to keep people off, an estimate. [m]
    exposure_mean_w : float
        Mean power at the wire while sending. [W]
    angles : dict of str to float
        Fields of `AtAngle`, such as ``gain_dbi_at_10_deg``.
    """

    setup: str
    shape: str
    band: str
    frequency_mhz: float
    verdict: str
    within_800_km_share: Share
    to_2500_km_share: Share
    beyond_2500_km_share: Share
    wire_m: float
    top_m: float
    lowest_m: float
    span_m: float
    below_n: Whole
    below_m: float
    wire_resistance_ohm: float
    wire_reactance_ohm: float
    radio_swr: float
    swr_low_edge: float
    swr_best: float
    swr_best_mhz: float
    swr_high_edge: float
    transformer: str
    transformer_loss_db: float
    line_loss_db: float
    added_line_loss_db: float
    mismatch_loss_db: float
    feed_loss_db: float
    best_transformer: str
    best_transformer_loss_db: float
    best_transformer_swr: float
    feed_voltage_v: float
    feed_current_a: float
    resonance_mhz: float
    highest_resistance_mhz: float
    trim_mm: float
    trim_mm_per_khz: float
    efficiency: Share
    conductor_share: Share
    ground_share: Share
    peak_gain_dbi: float
    peak_takeoff_deg: float
    vertical_share: Share
    ground_spread_db: float
    exposure_m: float
    exposure_mean_w: float
    angles: Mapping[str, float] = field(
        metadata={KEYS: ("_at_[0-9.e+-]+_deg", AtAngle)}
    )


@record
class WireSweep:
    """
    One band from edge to edge.

    Attributes
    ----------
    frequency_mhz : tuple of float
        Frequencies over the band. [MHz]
    radio_swr : tuple of float
        At the radio.
    wire_resistance_ohm : tuple of float
        At the feedpoint. [ohm]
    wire_reactance_ohm : tuple of float
        At the feedpoint. [ohm]
    """

    frequency_mhz: tuple[float, ...]
    radio_swr: tuple[OrNothing, ...]
    wire_resistance_ohm: tuple[float, ...]
    wire_reactance_ohm: tuple[float, ...]


@record
class WireBand:
    """
    What of one band does not fit a row.

    Attributes
    ----------
    band : str
        The band.
    dimensions : Mapping[str, float]
        Dimensions worked with.
    by_default : tuple of str
        Dimensions left to their default.
    supports : tuple of Support
        Supports above 2 m.
    sweep : WireSweep
        Sweep over the band.
    line : LineWork or None
        What runs on the outside of the line; None unless choke_ohm is given.
    lobes_takeoff_deg : float
        Take-off angle the lobes are told for. [deg]
    lobes : Lobes
        Lobes and nulls round the horizon.
    lobes_true_deg : tuple of float
        True bearings; empty if the wire's is not known. [deg]
    nulls_true_deg : tuple of float
        True bearings; empty if the wire's is not known. [deg]
    reach : tuple of LobeReach
        Lobes over elevation, lowest first.
    grounds : tuple of GroundGain
        Other grounds tried; empty if none were.
    exposure : ExposureDistance
        How far to keep people off, an estimate.
    angles : tuple of AngleGain
        Angles asked for.
    """

    band: str
    dimensions: Mapping[str, float]
    by_default: tuple[str, ...]
    supports: tuple[Support, ...]
    sweep: WireSweep
    line: LineWork | None
    lobes_takeoff_deg: float
    lobes: Lobes
    lobes_true_deg: tuple[float, ...]
    nulls_true_deg: tuple[float, ...]
    reach: tuple[LobeReach, ...]
    grounds: tuple[GroundGain, ...]
    exposure: ExposureDistance
    angles: tuple[AngleGain, ...]


@record
class RefusedBand:
    """
    One band.

    Attributes
    ----------
    band : str
        The band.
    why : str
        Why not.
    """

    band: str
    why: str


@record
class WireSetUp:
    """
    One set-up.

    Attributes
    ----------
    setup : SetUpInputs
        The set-up.
    bands : tuple of WireBand
        Bands worked out.
    refused : tuple of RefusedBand
        Bands it cannot be put up for.
    site : tuple of SiteBearing
        Gain over the ground around by band and bearing; left out unless asked for.
    profiles : tuple of SiteProfile
        That ground by bearing; left out with it.
    """

    setup: SetUpInputs
    bands: tuple[WireBand, ...]
    refused: tuple[RefusedBand, ...]
    site: tuple[SiteBearing, ...] = LEFT_OUT
    profiles: tuple[SiteProfile, ...] = LEFT_OUT


@record
class WireDetails:
    """
    What stands beside the rows.

    Attributes
    ----------
    wires : tuple of WireSetUp
        What does not fit a row, one a set-up.
    cautions : tuple of str
        Read them once.
    """

    wires: tuple[WireSetUp, ...]
    cautions: tuple[str, ...]


@record
class WireInputs:
    """
    What was understood.

    Attributes
    ----------
    ground : str
        Kind of ground.
    power_w : float
        Power of the radio. [W]
    emission : Emission
        What is sent and what it needs.
    iaru_region : int
        IARU region, for the bands.
    setups : tuple of SetUpInputs
        Set-ups asked about.
    """

    ground: str
    power_w: float
    emission: Emission
    iaru_region: Region
    setups: tuple[SetUpInputs, ...]


FORM = Form("wire", WireInputs, WireRow, WireDetails)


def wire_inputs(station: Station) -> WireInputs:
    """
    Write what of a station the wires depend on.

    Parameters
    ----------
    station : Station
        The station.

    Returns
    -------
    inputs : WireInputs
        With its set-ups.
    """
    setups = tuple(setup_inputs(setup) for setup in station.setups)
    return filled(WireInputs, station, setups=setups)


def wire_rows(works: Iterable[WireWork]) -> list[WireRow]:
    """
    List every figure: one row a set-up and band.

    Parameters
    ----------
    works : iterable of WireWork
        What was found.

    Returns
    -------
    rows : list of WireRow
        Bands lowest first.
    """
    return [_row(work, band) for work in works for band in work.bands]


def _row(work: WireWork, band: BandWork) -> WireRow:
    """Put one row together."""
    feed, sky, hanging = band.feed, band.sky, band.hanging
    sweep, resonance, best = feed.sweep, feed.resonance, feed.best
    return filled(
        WireRow,
        band,
        hanging,
        feed,
        sky,
        setup=work.setup.name,
        shape=work.setup.shape,
        within_800_km_share=sky.zones[0],
        to_2500_km_share=sky.zones[1],
        beyond_2500_km_share=sky.zones[2],
        wire_resistance_ohm=feed.wire_ohm.real,
        wire_reactance_ohm=feed.wire_ohm.imag,
        swr_low_edge=float(sweep.radio_swr[0]),
        swr_best=float(sweep.radio_swr[sweep.best]),
        swr_best_mhz=float(sweep.frequency_mhz[sweep.best]),
        swr_high_edge=float(sweep.radio_swr[-1]),
        line_loss_db=feed.matched_line_loss_db,
        feed_loss_db=feed.loss_db,
        best_transformer=best.name,
        best_transformer_loss_db=best.loss_db,
        best_transformer_swr=best.radio_swr,
        feed_voltage_v=feed.voltage_v,
        feed_current_a=feed.current_a,
        resonance_mhz=resonance.frequency_mhz,
        highest_resistance_mhz=resonance.highest_mhz,
        trim_mm=resonance.add_mm,
        trim_mm_per_khz=resonance.mm_per_khz,
        peak_gain_dbi=sky.peak.gain_dbi,
        peak_takeoff_deg=sky.peak.takeoff_deg,
        exposure_m=band.exposure.distance_m,
        exposure_mean_w=band.mean_w,
        angles={
            f"{each.name}_at_{angle.takeoff_deg:g}_deg": getattr(angle, each.name)
            for angle in sky.angles
            for each in fields(AtAngle)
        },
    )


def wire_details(
    works: Sequence[WireWork], sites: Sequence[SiteWork] = ()
) -> WireDetails:
    """
    Gather what does not fit a row: sweeps, lobes, supports, dimensions.

    Parameters
    ----------
    works : sequence of WireWork
        What was found.
    sites : sequence of SiteWork, optional
        The same over the ground around, if asked for.

    Returns
    -------
    details : WireDetails
        With the cautions of these very wires first.
    """
    told = (*own_cautions(works), *cautions())
    return WireDetails(
        wires=tuple(
            WireSetUp(
                setup=setup_inputs(work.setup),
                bands=tuple(_band(work, band) for band in work.bands),
                refused=tuple(RefusedBand(*each) for each in work.refused),
                site=site.bearings if site else LEFT_OUT,
                profiles=site.profiles if site else LEFT_OUT,
            )
            for work, site in zip_longest(works, sites)
        ),
        cautions=tuple(each.text for each in told),
    )


def _band(work: WireWork, band: BandWork) -> WireBand:
    """Gather what of one band does not fit a row."""
    sweep, lobes, hanging = band.feed.sweep, band.sky.lobes, band.hanging
    return filled(
        WireBand,
        band,
        hanging,
        band.sky,
        dimensions=dict(hanging.sizes),
        sweep=WireSweep(
            frequency_mhz=_figures(sweep.frequency_mhz),
            radio_swr=_figures(sweep.radio_swr),
            wire_resistance_ohm=_figures(sweep.wire_ohm.real),
            wire_reactance_ohm=_figures(sweep.wire_ohm.imag),
        ),
        lobes_takeoff_deg=LOW_ANGLE_DEG,
        lobes_true_deg=tuple(true_bearings(work.setup, lobes.maxima_deg)),
        nulls_true_deg=tuple(true_bearings(work.setup, lobes.minima_deg)),
    )


def _figures(values: Floats) -> tuple[float, ...]:
    """Write an array as plain numbers."""
    return tuple(values.tolist())
