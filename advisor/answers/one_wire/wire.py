"""
Everything about one set-up: how it hangs, what the radio sees, where it radiates.

A `WireWork` holds one `BandWork` for each band that it can be hung on. Nothing of the
ionosphere is in it but the heights of mirrors.
"""

from __future__ import annotations

import contextlib
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from advisor.answers.first_end import first_end
from advisor.answers.hanging.supports import poles_needed, tied_off
from advisor.answers.low_wires import folded_cautions, reach_cautions
from advisor.answers.one_wire.feed import FeedWork, feed_work
from advisor.answers.one_wire.line import HOT_RADIO_V, LineWork, line_work
from advisor.answers.one_wire.sky import (
    LOW_ANGLE_DEG,
    TAKEOFFS_DEG,
    SkyWork,
    sky_work,
    vertical_share,
)
from advisor.antenna.exposure import (
    ExposureDistance,
    exposure_distance,
    exposure_levels,
    far_field_distance,
    mean_power_w,
)
from advisor.antenna.ground import Ground, ground_by_name
from advisor.antenna.pattern import Pattern
from advisor.antenna.shapes.parts import LIGHT_M_MHZ, HungWire, Support
from advisor.antenna.shapes.registry import SHAPES, settle
from advisor.antenna.solver.cache import identity
from advisor.antenna.solver.cache_files import fetch, keep
from advisor.antenna.solver.currents import solve
from advisor.engine.wires import BandSolution, solve_at
from advisor.station.bands import Band, bands_for_region
from advisor.station.cautions import Caution
from advisor.station.emissions import Emission
from advisor.station.setup import SetUp, lowest_mhz
from advisor.station.station import Station
from geo.errors import InputError
from geo.fields import Whole, record

GROUND_RANGE = ("poor", "average", "rich")
"""Kinds of ground that a mostly vertical wire is tried over."""

_MOSTLY_VERTICAL = 0.5

# Peak over carrier power of full amplitude modulation.
_AM_PEAK = 4.0

# A quarter wave of bare wire is some 3 % short of one in air: common practice, no
# source.
_QUARTER_WAVE_M_MHZ = 0.243 * LIGHT_M_MHZ

_HOT_SHARE = 0.5
"""Share of the power lost in transformer and line from which on they are warned of:
common practice, no source."""


@dataclass(frozen=True)
class Hanging:
    """
    How a set-up hangs on one band.

    Attributes
    ----------
    sizes : tuple of (str, float)
        Every dimension of the shape, given or by default, unit as suffix.
    by_default : tuple of str
        Those that were not given.
    wire_m : float
        Wire to cut, without what it is fed against. [m]
    side_m : float
        Length of each side, if it has two that are alike; else NaN. [m]
    below_n : int
        Radials or counterpoises.
    below_m : float
        Length of each; 0 without. [m]
    top_m, lowest_m : float
        Highest and lowest point of any wire. [m]
    feed_m : float
        Height of the feedpoint. [m]
    span_m : float
        Greatest distance between two of the tall supports. [m]
    supports : tuple of Support
        Those it takes, tallest first.
    corded_n : int
        Ends that a cord to a stake holds instead.
    """

    sizes: tuple[tuple[str, float], ...]
    by_default: tuple[str, ...]
    wire_m: float
    side_m: float
    below_n: Whole
    below_m: float
    top_m: float
    lowest_m: float
    feed_m: float
    span_m: float
    supports: tuple[Support, ...]
    corded_n: Whole


@record
class GroundGain:
    """
    Gain at 10 degrees over one kind of ground.

    Attributes
    ----------
    ground : str
        Kind of ground.
    gain_dbi : float
        Gain at 10 degrees over it. [dBi]
    """

    ground: str
    gain_dbi: float


@dataclass(frozen=True, eq=False)
class BandWork:
    """
    One set-up on one band.

    Attributes
    ----------
    band : str
        Name of the band.
    frequency_mhz : float
        Planning frequency. [MHz]
    hanging : Hanging
        Lengths, heights, supports.
    hung : HungWire
        The wires themselves.
    feed : FeedWork
        What the radio sees.
    sky : SkyWork
        Where it radiates.
    pattern : Pattern
        Of the wire, for power at its feedpoint.
    grounds : tuple of GroundGain
        Gain over other kinds of ground; empty for a mostly horizontal wire.
    exposure : ExposureDistance
        Distance to keep people away.
    mean_w : float
        Mean power that distance is for. [W]
    line : LineWork or None
        What runs on the outside of the feed line, where the set-up says.
    """

    band: str
    frequency_mhz: float
    hanging: Hanging
    hung: HungWire
    feed: FeedWork
    sky: SkyWork
    pattern: Pattern
    grounds: tuple[GroundGain, ...]
    exposure: ExposureDistance
    mean_w: float
    line: LineWork | None = None

    @property
    def ground_spread_db(self) -> float:
        """How far the ground moves the gain at 10 degrees, in dB; NaN if not tried."""
        gains = [each.gain_dbi for each in self.grounds]
        return max(gains) - min(gains) if gains else float("nan")


@dataclass(frozen=True, eq=False)
class WireWork:
    """
    One set-up on all its bands.

    Attributes
    ----------
    setup : SetUp
        The set-up.
    ground : str
        Kind of ground below.
    power_w : float
        Power of the radio. [W]
    emission : Emission
        What is sent.
    bands : tuple of BandWork
        Lowest first.
    refused : tuple of (str, str)
        Bands it cannot be hung or solved on, and why.
    """

    setup: SetUp
    ground: str
    power_w: float
    emission: Emission
    bands: tuple[BandWork, ...]
    refused: tuple[tuple[str, str], ...]

    @property
    def first_end(self) -> str:
        """Name of the end its bearing starts from; empty where either will do."""
        return first_end(self.setup, [one.pattern for one in self.bands])


def _silent(_: str) -> None:
    """Tell nobody."""


def wire_work(
    station: Station,
    setup: SetUp,
    band_names: Sequence[str] = (),
    *,
    takeoffs_deg: Sequence[float] = TAKEOFFS_DEG,
    quick: bool = False,
    cache_dir: Path | None = None,
    progress: Callable[[str], None] = _silent,
) -> WireWork:
    """
    Work out everything about one set-up.

    Parameters
    ----------
    station : Station
        Ground, power, emission, radio region.
    setup : SetUp
        One of its set-ups, or another.
    band_names : sequence of str, optional
        Bands to look at; all that the set-up is used on by default.
    takeoffs_deg : sequence of float, optional
        Angles at which the gain is told, 0 to 90. [deg]
    quick : bool, optional
        Leave out what takes longest: other kinds of ground, and exposure distances
        from the field close to the wires; the far-field formula gives longer ones.
    cache_dir : pathlib.Path, optional
        Where the solver keeps what it found between runs.
    progress : callable, optional
        Told what is being worked out.

    Returns
    -------
    work : WireWork
        One record a band.

    Raises
    ------
    InputError
        If an angle is not 0 to 90, the set-up is not used on a band asked for, or it
        cannot be hung on any.
    """
    for takeoff in takeoffs_deg:
        if not 0.0 <= takeoff <= 90.0:
            raise InputError(f"take-off angle {takeoff:g} deg is not 0 to 90")
    for name in band_names:
        if name not in setup.bands:
            raise InputError(
                f"set-up '{setup.name}' is not used on {name}: it has "
                f"{', '.join(setup.bands)}"
            )
    wanted = tuple(band_names) or setup.bands
    soil = ground_by_name(station.ground)
    done: list[BandWork] = []
    refused: list[tuple[str, str]] = []
    reasons: list[InputError] = []
    for band in bands_for_region(station.iaru_region):
        if band.name not in wanted:
            continue
        progress(f"{setup.name}, {band.name}")
        try:
            found = solve_at(setup, band.planning_mhz, soil, cache_dir)
        except InputError as error:
            refused.append((band.name, str(error)))
            reasons.append(error)
            continue
        done.append(
            _band_work(
                station, setup, band, found, soil, takeoffs_deg, quick, cache_dir
            )
        )
    if not done:
        raise reasons[0]
    return WireWork(
        setup, station.ground, station.power_w, station.emission, tuple(done),
        tuple(refused),
    )  # fmt: skip


def _band_work(
    station: Station,
    setup: SetUp,
    band: Band,
    found: BandSolution,
    soil: Ground,
    takeoffs_deg: Sequence[float],
    quick: bool,
    cache_dir: Path | None,
) -> BandWork:
    """Put one band together."""
    hanging = hanging_of(setup, found.hung, found.frequency_mhz)
    feed = feed_work(setup, band, found, soil, station.power_w, cache_dir)
    sky = sky_work(found.solved, soil, hanging.top_m, takeoffs_deg, cache_dir)
    mean_w, exposure = _mean_and_exposure(
        station, found, soil, feed.wire_power_w, quick, cache_dir
    )
    return BandWork(
        band=band.name,
        frequency_mhz=found.frequency_mhz,
        hanging=hanging,
        hung=found.hung,
        feed=feed,
        sky=sky,
        pattern=found.wire,
        grounds=() if quick else _over_grounds(setup, found, soil, cache_dir),
        exposure=exposure,
        mean_w=mean_w,
        line=line_work(setup, found, soil, feed.wire_power_w, LOW_ANGLE_DEG, cache_dir),
    )


_FED_AGAINST = ("counterpoise_m", "radials_n", "radial_m")
"""Sizes of what gives way to a stake."""


def hanging_of(setup: SetUp, hung: HungWire, frequency_mhz: float) -> Hanging:
    """
    Say how a set-up hangs when cut for a frequency.

    Parameters
    ----------
    setup : SetUp
        The set-up.
    hung : HungWire
        It, hung.
    frequency_mhz : float
        The planning frequency of the band. [MHz]

    Returns
    -------
    hanging : Hanging
        Dimensions, wire to cut, supports.
    """
    given = dict(setup.dimensions)
    sizes = settle(setup.shape, lowest_mhz(setup, frequency_mhz), given)
    below, is_even = hung.below_wires, sizes.get("feed_share", 0.5) == 0.5
    has_sides = SHAPES[setup.shape].is_centre_fed and is_even
    return Hanging(
        sizes=tuple(sizes.items()),
        by_default=tuple(
            key
            for key in sizes
            if key not in given and (below or key not in _FED_AGAINST)
        ),
        wire_m=hung.length_m,
        side_m=0.5 * hung.length_m if has_sides else math.nan,
        below_n=len(below),
        below_m=below[0].length_m if below else 0.0,
        top_m=hung.highest_m,
        lowest_m=hung.lowest_m,
        feed_m=hung.feed_point_m[2],
        span_m=hung.span_m,
        supports=poles_needed(hung),
        corded_n=len(tied_off(hung)),
    )


def _over_grounds(
    setup: SetUp, found: BandSolution, soil: Ground, cache_dir: Path | None
) -> tuple[GroundGain, ...]:
    """Try a mostly vertical wire over other kinds of ground."""
    own = found.wire.gain_dbi(LOW_ANGLE_DEG, found.wire.azimuth_deg)
    towards = float(found.wire.azimuth_deg[int(np.argmax(own))])
    upright = vertical_share(found.wire, LOW_ANGLE_DEG, towards)
    if not upright >= _MOSTLY_VERTICAL:
        return ()
    gains = {soil.name: float(own.max())}
    for name in GROUND_RANGE:
        if name not in gains:
            there = solve_at(
                setup, found.frequency_mhz, ground_by_name(name), cache_dir
            ).wire
            at_low = there.gain_dbi(LOW_ANGLE_DEG, there.azimuth_deg)
            gains[name] = float(at_low.max())
    return tuple(GroundGain(name, gain) for name, gain in gains.items())


def band_exposure(
    station: Station,
    setup: SetUp,
    band: Band,
    cache_dir: Path | None = None,
    *,
    quick: bool = False,
) -> tuple[float, ExposureDistance]:
    """
    Work out how far to keep people away from a set-up on one band.

    Parameters
    ----------
    station : Station
        Ground, power, emission.
    setup : SetUp
        One of its set-ups, or another.
    band : Band
        A band it is used on.
    cache_dir : pathlib.Path, optional
        Where the solver keeps what it found between runs.
    quick : bool, optional
        Go by the far-field formula, which gives longer distances.

    Returns
    -------
    mean_w : float
        Mean power at the wire. [W]
    exposure : ExposureDistance
        As in `wire_work`, which works out everything else too.

    Raises
    ------
    InputError
        If the set-up cannot be hung or solved on the band.
    """
    soil = ground_by_name(station.ground)
    found = solve_at(setup, band.planning_mhz, soil, cache_dir)
    wire_w = float(found.chain.wire_power_w(station.power_w)[0])
    return _mean_and_exposure(station, found, soil, wire_w, quick, cache_dir)


def _mean_and_exposure(
    station: Station,
    found: BandSolution,
    soil: Ground,
    wire_w: float,
    quick: bool,
    cache_dir: Path | None,
) -> tuple[float, ExposureDistance]:
    """Mean power at the wire, and the distance it and the peak ask for."""
    mean_w = mean_power_w(wire_w, station.emission.duty_cycle)
    peak = _AM_PEAK if station.emission.name == "AM" else 1.0
    return mean_w, _exposure(found, soil, mean_w, peak * wire_w, quick, cache_dir)


def _exposure(
    found: BandSolution,
    soil: Ground,
    mean_w: float,
    peak_w: float,
    quick: bool,
    cache_dir: Path | None,
) -> ExposureDistance:
    """Distance from the field close to the wires, kept; else from the formula."""
    if quick:
        gain = max(10.0 ** (0.1 * found.wire.peak().gain_dbi), 1.0)
        return far_field_distance(
            gain * mean_w, found.frequency_mhz, peak_eirp_w=gain * peak_w
        )
    model = found.hung.model()
    name = identity(
        "exposure",
        model,
        found.frequency_mhz,
        soil.eps_r,
        soil.sigma_s_m,
        mean_w,
        peak_w,
        exposure_levels(found.frequency_mhz, "whole body"),
        exposure_levels(found.frequency_mhz, "nerves"),
    )
    stored = fetch(cache_dir, name)
    if stored is not None:
        with contextlib.suppress(KeyError, ValueError):
            distance_m = float(stored["distance_m"].item())
            bound_by, extent = (str(word) for word in stored["words"])
            return ExposureDistance(distance_m, bound_by, extent, solved=True)
    solution = solve(model, found.frequency_mhz, soil, cache_dir=cache_dir)
    worked = exposure_distance(solution, mean_w, peak_w, cache_dir=cache_dir)
    keep(
        cache_dir,
        name,
        {
            "distance_m": worked.distance_m,
            "words": np.array([worked.bound_by, worked.extent]),
        },
    )
    return worked


def own_cautions(works: Sequence[WireWork]) -> tuple[Caution, ...]:
    """
    Say what of some set-ups can be touched, gets hot or hangs folded.

    Parameters
    ----------
    works : sequence of WireWork
        Each on its bands.

    Returns
    -------
    cautions : tuple of Caution
        One for each set-up that has such a part.
    """
    hung = {
        work.setup.name: [(one.hung, one.frequency_mhz) for one in work.bands]
        for work in works
    }
    legs = {
        work.setup.name: [(one.band, one.hung) for one in work.bands] for work in works
    }
    return (
        *reach_cautions(hung),
        *_hot_feed(works),
        *_hot_radio(works),
        *folded_cautions(legs),
    )


def _hot_radio(works: Sequence[WireWork]) -> tuple[Caution, ...]:
    """Name the bands on which the line's outside puts voltage on the radio."""
    hot = []
    for work in works:
        volts = [(one.band, one.line.radio_v) for one in work.bands if one.line]
        words = [f"{band} {v:.0f} V" for band, v in volts if v > HOT_RADIO_V]
        if words:
            hot.append(f"{work.setup.name} ({', '.join(words)})")
    if not hot:
        return ()
    return (
        Caution(
            "hot radio",
            "The outside of the line brings voltage to radio, key and microphone: "
            f"{', '.join(hot)}. From {HOT_RADIO_V:g} V on fingers may be burnt and "
            "audio spoilt: put a choke of some kilohms on the line at the feedpoint, "
            "another at the radio, or change the line's length.",
        ),
    )


def _hot_feed(works: Sequence[WireWork]) -> tuple[Caution, ...]:
    """Name the bands on which transformer and line take most of the power."""
    hot = []
    for work in works:
        shares = {
            one.band: 1.0 - 10.0 ** (-one.feed.heat_db / 10.0) for one in work.bands
        }
        words = [
            f"{b} {share:.0%}" for b, share in shares.items() if share > _HOT_SHARE
        ]
        if words:
            hot.append(f"{work.setup.name} ({', '.join(words).replace('%', ' %')})")
    if not hot:
        return ()
    return (
        Caution(
            "hot feed",
            "More than half of the power heats transformer and line: "
            f"{', '.join(hot)}. "
            "They may burn you or fail: send little there, keep hands off, or take a "
            "length or transformer that suits the band ('skiplobe wire').",
        ),
    )


def true_bearings(setup: SetUp, relative_deg: Sequence[float]) -> tuple[float, ...]:
    """
    Turn directions from the wire's to true bearings.

    Parameters
    ----------
    setup : SetUp
        Holds the wire's bearing.
    relative_deg : sequence of float
        Clockwise from the wire. [deg]

    Returns
    -------
    bearing_deg : tuple of float
        Clockwise from true north; empty if the wire is free to turn. [deg]
    """
    if setup.bearing_deg is None:
        return ()
    return tuple((setup.bearing_deg + each) % 360.0 for each in relative_deg)
