"""
What is at hand to hang a wire with, what fits it, and where a search may begin.

Geometry only: nothing here knows the sky.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from advisor.antenna.setups import hung_wire
from advisor.antenna.shape_parts import HungWire, Support
from advisor.antenna.shapes import settle
from advisor.bands import Band
from advisor.setups import EACH_BAND, GROUND_MOUNTED, SetUp, build_set_up, shape_names
from geo.errors import InputError, near_matches

MOST_SUPPORTS = 12
HIGHEST_SUPPORT_M = 60.0
MOST_WIRE_M = 2000.0

CORD_REACH_M = 20.0
"""A wire that slopes down may end on a cord that goes on to a stake, if the stake
stands no further out than this: common practice, no source. [m]"""

LEAST_SLOPE_DEG = 15.0
"""And if it slopes by this much: a flatter one would hang through. [deg]"""

_LIGHT_M_MHZ = 299.792458

_LOW_M = 2.0
"""Up to here an end needs a stake and no support: common practice, no source. [m]"""

NOT_TRIED = MappingProxyType(
    {"free wire": "it is given point by point: put it in a station file"}
)
"""Shapes the search leaves out, and why."""

Sizes = dict[str, float]


@dataclass(frozen=True)
class AtHand:
    """
    Supports, wire and space there are.

    Attributes
    ----------
    heights_m : tuple of float
        Height of every support, highest first. [m]
    apart_m : float or None
        Distance from one support to the next; None if they can be put anywhere.
        [m]
    wire_m : float or None
        Wire in all, counterpoise and radials too; None for enough. [m]
    free_deg : tuple of (float, float)
        Sectors of azimuth, from and to clockwise from true north, in which the wire
        may run; empty for all round. [deg]

    Raises
    ------
    geo.errors.InputError
        If a number is not possible.
    """

    heights_m: tuple[float, ...]
    apart_m: float | None = None
    wire_m: float | None = None
    free_deg: tuple[tuple[float, float], ...] = ()

    def __post_init__(self) -> None:
        if not 1 <= len(self.heights_m) <= MOST_SUPPORTS:
            raise InputError(
                f"{len(self.heights_m)} supports: give the height of 1 to "
                f"{MOST_SUPPORTS}, each with --pole-m"
            )
        for height in self.heights_m:
            _between("a support", height, 1.0, HIGHEST_SUPPORT_M)
        object.__setattr__(
            self, "heights_m", tuple(sorted(self.heights_m, reverse=True))
        )
        if self.apart_m is not None:
            _between("the distance between supports", self.apart_m, 0.5, 500.0)
        if self.wire_m is not None:
            _between("the wire at hand", self.wire_m, 1.0, MOST_WIRE_M)

    @property
    def pair_m(self) -> float:
        """Height at which two supports hold a level wire; that of the only one."""
        return self.heights_m[min(1, len(self.heights_m) - 1)]

    def may_point(self, azimuth_deg: NDArray[np.float64]) -> NDArray[np.bool_]:
        """
        Say whether directions lie in the free sectors.

        Parameters
        ----------
        azimuth_deg : numpy.ndarray
            Directions, any number of turns. [deg]

        Returns
        -------
        free : numpy.ndarray of bool
            Ends of a sector are free.

        Examples
        --------
        >>> AtHand((9.0,), free_deg=((300.0, 60.0),)).may_point(np.array([0.0, 90.0]))
        array([ True, False])
        """
        azimuth = np.asarray(azimuth_deg, dtype=float)
        if not self.free_deg:
            return np.ones(azimuth.shape, dtype=bool)
        inside = [
            (azimuth - first) % 360.0 <= (last - first) % 360.0 + 1e-9
            for first, last in self.free_deg
        ]
        return np.asarray(np.any(inside, axis=0))


def free_sector(text: str) -> tuple[float, float]:
    """
    Read a free sector.

    Parameters
    ----------
    text : str
        Two azimuths with a hyphen between, clockwise, such as ``300-60``. [deg]

    Returns
    -------
    sector : tuple of float
        From and to. [deg]

    Raises
    ------
    geo.errors.InputError
        If it is not two azimuths, or the sector is empty.

    Examples
    --------
    >>> free_sector("300-60")
    (300.0, 60.0)
    """
    try:
        first, last = (float(part) for part in text.split("-"))
    except ValueError:
        first = last = math.nan
    if not (0.0 <= first <= 360.0 and 0.0 <= last <= 360.0 and first != last):
        raise InputError(
            f"free sector '{text}' is not two different azimuths of 0 to 360 degrees, "
            "clockwise with a hyphen between, such as 300-60"
        )
    return first, last


def _between(what: str, value: float, low: float, high: float) -> None:
    """Refuse a length that no site has."""
    if not low <= value <= high:
        raise InputError(f"{what} of {value:g} m is outside {low:g} to {high:g} m")


def tied_off(hung: HungWire) -> dict[str, float]:
    """
    Find the lower ends that a cord to a stake can hold.

    Parameters
    ----------
    hung : HungWire
        A shape as hung.

    Returns
    -------
    cords_m : dict of str to float
        Name of the support that is not needed, and the length of the cord that goes
        on down the slope of the wire. [m]
    """
    cords = {}
    for low in hung.supports:
        above = [s for s in hung.supports if s.height_m > low.height_m + 1e-6]
        if not above:
            continue
        from_m = min(above, key=lambda high, low=low: _apart_m(high, low))  # type: ignore[misc]
        out_m = _apart_m(from_m, low)
        slope = (from_m.height_m - low.height_m) / max(out_m, 1e-9)
        stake_m = low.height_m / slope
        steep = math.degrees(math.atan(slope)) >= LEAST_SLOPE_DEG
        if steep and stake_m <= CORD_REACH_M:
            cords[low.name] = math.hypot(stake_m, low.height_m)
    return cords


def poles_needed(hung: HungWire) -> tuple[Support, ...]:
    """
    List the supports a shape needs, highest first.

    Parameters
    ----------
    hung : HungWire
        A shape as hung.

    Returns
    -------
    needed : tuple of Support
        Those above 2 m that no cord to a stake can stand in for.
    """
    cords = tied_off(hung)
    return tuple(s for s in hung.tall_supports if s.name not in cords)


def wire_used_m(hung: HungWire) -> float:
    """
    Length of all wire in a shape.

    Parameters
    ----------
    hung : HungWire
        A shape as hung.

    Returns
    -------
    length_m : float
        Counterpoise and radials too. [m]
    """
    return sum(wire.length_m for wire in hung.wires)


def why_not(hung: HungWire, at_hand: AtHand) -> str | None:
    """
    Say why a shape does not fit what is at hand.

    Parameters
    ----------
    hung : HungWire
        A shape as hung.
    at_hand : AtHand
        Supports, wire and space.

    Returns
    -------
    reason : str or None
        The first thing that is in the way; None if it fits.
    """
    needed = poles_needed(hung)
    given = at_hand.heights_m
    if len(needed) > len(given):
        there = "there is 1" if len(given) == 1 else f"there are {len(given)}"
        return f"needs {len(needed)} supports above 2 m and {there}"
    for support, height_m in zip(needed, given, strict=False):
        if support.height_m > height_m + 1e-6:
            return (
                f"needs {support.height_m:.1f} m of height at the {support.name} and "
                f"the support left for it has {height_m:.1f} m"
            )
    used_m = wire_used_m(hung)
    if at_hand.wire_m is not None and used_m > at_hand.wire_m + 1e-6:
        return f"takes {used_m:.1f} m of wire and {at_hand.wire_m:.1f} m is there"
    if at_hand.apart_m is not None and len(needed) > 1:
        for one in needed:
            nearest = min(_apart_m(one, other) for other in needed if other != one)
            if nearest > at_hand.apart_m + 1e-6:
                return (
                    f"spans {nearest:.1f} m and the supports are "
                    f"{at_hand.apart_m:.1f} m apart"
                )
    return None


def _apart_m(one: Support, other: Support) -> float:
    """Distance on the ground."""
    return math.hypot(one.east_m - other.east_m, one.north_m - other.north_m)


def ground_mounted_reason(band: Band, at_hand: AtHand) -> str | None:
    """
    Say why a ground-mounted quarter-wave does not fit on a band.

    Parameters
    ----------
    band : Band
        The band.
    at_hand : AtHand
        Supports and wire.

    Returns
    -------
    reason : str or None
        None if it fits. Its earth system is not counted as wire.
    """
    quarter_m = 0.25 * _LIGHT_M_MHZ / band.planning_mhz
    if quarter_m > at_hand.heights_m[0]:
        return (
            f"needs {quarter_m:.1f} m of height and the highest support has "
            f"{at_hand.heights_m[0]:.1f} m"
        )
    if at_hand.wire_m is not None and quarter_m > at_hand.wire_m:
        return f"takes {quarter_m:.1f} m of wire and {at_hand.wire_m:.1f} m is there"
    return None


def reasons_by_band(
    shape: str, sizes: Sizes, bands: Sequence[Band], at_hand: AtHand, tuner: bool
) -> dict[str, str | None]:
    """
    Say for each band whether a shape with some dimensions fits.

    Parameters
    ----------
    shape : str
        Its name.
    sizes : dict of str to float
        Dimensions given; the others take their defaults.
    bands : sequence of Band
        Bands asked about.
    at_hand : AtHand
        Supports, wire and space.
    tuner : bool
        Whether there is a tuner at the radio.

    Returns
    -------
    reasons : dict of str to (str or None)
        By band name: None if it fits, else the reason why not.
    """
    if shape == GROUND_MOUNTED:
        return {band.name: ground_mounted_reason(band, at_hand) for band in bands}
    reasons: dict[str, str | None] = {}
    for band in bands:
        try:
            setup = set_up(shape, sizes, (band.name,), tuner)
            if setup.cut != EACH_BAND and reasons:
                # One length: it hangs the same on every band.
                reasons[band.name] = next(iter(reasons.values()))
                continue
            hung = hung_wire(setup, band.planning_mhz)
        except InputError as error:
            reasons[band.name] = str(error).removeprefix(f"{shape}: ")
        else:
            reasons[band.name] = why_not(hung, at_hand)
            if reasons[band.name] is None and not bearings_for(hung, at_hand).size:
                reasons[band.name] = "no bearing lies in the free sectors"
    return reasons


def set_up(shape: str, sizes: Sizes, bands: tuple[str, ...], tuner: bool) -> SetUp:
    """
    Make a set-up as a station file would hold it.

    Parameters
    ----------
    shape : str
        Its name, which is also that of the set-up.
    sizes : dict of str to float
        Dimensions given.
    bands : tuple of str
        Bands it is used on.
    tuner : bool
        Whether there is a tuner at the radio.

    Returns
    -------
    setup : SetUp
        Free to turn.

    Raises
    ------
    geo.errors.InputError
        If a dimension is out of its limits.
    """
    values = {"name": shape, "shape": shape, "tuner": tuner, **sizes}
    return build_set_up(values, bands)


def bearings_for(
    hung: HungWire, at_hand: AtHand, step_deg: float = 5.0
) -> NDArray[np.float64]:
    """
    List the bearings a wire may run on.

    Parameters
    ----------
    hung : HungWire
        The wire at bearing 0.
    at_hand : AtHand
        Holds the free sectors.
    step_deg : float, optional
        Steps tried. [deg]

    Returns
    -------
    bearing_deg : numpy.ndarray
        Those allowed. Of two supports or more, the line between the two furthest
        apart must lie in a sector, either way along; with one support every part of
        the wire must, as seen from it. Radials and counterpoise lie anywhere. [deg]
    """
    tried = np.arange(0.0, 360.0, step_deg)
    away = _directions_deg(hung)
    if not away:
        return tried
    free = at_hand.may_point(tried[:, None] + np.array(away))
    if len(poles_needed(hung)) > 1:
        return tried[free.any(axis=1)]
    return tried[free.all(axis=1)]


def _directions_deg(hung: HungWire) -> list[float]:
    """Directions in which a wire leaves its support or joins its supports."""
    needed = poles_needed(hung)
    if len(needed) > 1:
        pairs = [(a, b) for a in needed for b in needed if a is not b]
        a, b = max(pairs, key=lambda pair: _apart_m(*pair))
        line = math.degrees(math.atan2(b.east_m - a.east_m, b.north_m - a.north_m))
        return [line, line + 180.0]
    centre = needed[0] if needed else max(hung.supports, key=lambda s: s.height_m)
    found = []
    for wire in hung.wires:
        if wire.name.startswith(("radial", "counterpoise")):
            continue
        for east, north, _ in (wire.start_m, wire.end_m):
            offset = (east - centre.east_m, north - centre.north_m)
            if math.hypot(*offset) > 1.0:
                found.append(round(math.degrees(math.atan2(*offset)), 3))
    return sorted(set(found))


@dataclass(frozen=True)
class Knob:
    """
    One dimension the search may change.

    Attributes
    ----------
    low, high : float
        Ends of its range.
    grain : float
        What it is rounded to: nobody hangs a wire more exactly.
    """

    low: float
    high: float
    grain: float

    def set_to(self, value: float) -> float:
        """
        Bring a value into the range, on the grain.

        Parameters
        ----------
        value : float
            Wanted.

        Returns
        -------
        value : float
            Possible.
        """
        inside = min(max(value, self.low), self.high)
        return round(min(round(inside / self.grain) * self.grain, self.high), 3)


def defaults(shape: str, bands: Sequence[Band]) -> list[Sizes]:
    """
    List the default dimensions of a shape.

    Parameters
    ----------
    shape : str
        Its name.
    bands : sequence of Band
        Bands asked about.

    Returns
    -------
    sizes : list of dict
        Nothing given, if it is cut for each band; else one length for every band it
        may be meant for at lowest.
    """
    if shape == GROUND_MOUNTED or set_up(shape, {}, ("20 m",), True).cut == EACH_BAND:
        return [{}]
    usual = [settle(shape, band.planning_mhz)["length_m"] for band in bands]
    return [{"length_m": length_m} for length_m in usual]


def own_lengths(shape: str, at_hand: AtHand) -> list[Sizes]:
    """
    List lengths that use the wire and the gap there are.

    Parameters
    ----------
    shape : str
        Its name.
    at_hand : AtHand
        Supports, wire and space.

    Returns
    -------
    sizes : list of dict
        Empty for a shape that is cut for each band, or without a limit.
    """
    if "length_m" not in knobs(shape, at_hand):
        return []
    limits = [0.95 * at_hand.apart_m] if at_hand.apart_m is not None else []
    if at_hand.wire_m is not None:
        # The rest is for what it is fed against.
        limits += [0.98 * at_hand.wire_m, 0.8 * at_hand.wire_m]
    return [{"length_m": round(length_m, 1)} for length_m in limits]


def changes(shape: str, at_hand: AtHand) -> list[Sizes]:
    """
    List changes to the defaults that are worth a try with what is at hand.

    Parameters
    ----------
    shape : str
        Its name.
    at_hand : AtHand
        Supports, wire and space.

    Returns
    -------
    changes : list of dict
        Dimensions to set; whether they fit is not looked at.
    """
    return _CHANGES[shape](at_hand)


def knobs(shape: str, at_hand: AtHand) -> dict[str, Knob]:
    """
    List the dimensions a search may change.

    Parameters
    ----------
    shape : str
        Its name.
    at_hand : AtHand
        Supports and wire, which bound them.

    Returns
    -------
    knobs : dict of str to Knob
        By dimension, those that matter most first.
    """
    top, pair = at_hand.heights_m[0], at_hand.pair_m
    longest = min(at_hand.wire_m or 200.0, 200.0)
    ranges: dict[str, tuple[float, float, float]] = {
        "height_m": (1.0, pair, 0.1),
        "apex_m": (2.0, top, 0.1),
        "end_m": (0.5, top, 0.1),
        "high_m": (2.0, top, 0.1),
        "low_m": (0.5, top, 0.1),
        "end_height_m": (0.5, top, 0.1),
        # Radials would need supports of their own higher up.
        "feed_height_m": (
            0.1,
            _LOW_M if "vertical" in shape or shape == "inverted L" else pair,
            0.1,
        ),
        "base_m": (0.5, _LOW_M, 0.1),
        "top_m": (1.0, min(at_hand.apart_m or longest, longest), 0.1),
        "length_m": (2.0, longest, 0.1),
        "feed_share": (0.1, 0.5, 0.05),
    }
    return {
        name: Knob(low, max(low, high), grain)
        for name, (low, high, grain) in ranges.items()
        if name in _TURNED[shape]
    }


_TURNED: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "dipole": ("height_m", "feed_share"),
        "inverted V": ("apex_m", "end_m"),
        "sloper": ("high_m", "low_m"),
        "end-fed half-wave": ("end_height_m", "feed_height_m", "length_m"),
        "inverted L": ("height_m", "feed_height_m"),
        "quarter-wave vertical": ("feed_height_m",),
        "half-wave vertical": ("feed_height_m",),
        "half-square": ("height_m", "top_m"),
        "bottom-fed half-square": ("height_m", "top_m"),
        "doublet": ("height_m", "length_m", "feed_share"),
        "horizontal loop": ("height_m",),
        "delta loop": ("apex_m", "base_m", "feed_share"),
        "random wire": ("end_height_m", "feed_height_m", "length_m"),
        GROUND_MOUNTED: (),
    }
)
"""Dimensions that are searched, shape by shape."""


def _level(at_hand: AtHand) -> list[Sizes]:
    """Level wires: all heights."""
    return [{"height_m": round(at_hand.pair_m * share, 1)} for share in _LADDER]


def _sloping(upper: str, lower: str) -> Callable[[AtHand], list[Sizes]]:
    """Wires that slope: from the top, down to several heights."""

    def tried(at_hand: AtHand) -> list[Sizes]:
        top = at_hand.heights_m[0]
        ends = [{upper: top, lower: round(top * s, 1)} for s in (0.75, 0.5, 0.25)]
        return [{upper: top}, *ends]

    return tried


def _end_fed(at_hand: AtHand) -> list[Sizes]:
    """End-fed wires: from the ground up, and level if there are two supports."""
    top, pair = at_hand.heights_m[0], at_hand.pair_m
    tried: list[Sizes] = [{"end_height_m": top}]
    if len(at_hand.heights_m) > 1:
        tried.append({"end_height_m": top, "feed_height_m": pair})
    return tried


def _on_radials(*heights_m: float) -> Callable[[AtHand], list[Sizes]]:
    """Verticals: foot at several heights; with fewer radials if wire is short."""

    def tried(at_hand: AtHand) -> list[Sizes]:
        raised: list[Sizes] = [{"feed_height_m": height} for height in heights_m]
        if at_hand.wire_m is not None:
            raised += [{"radials_n": n} for n in (2.0, 1.0)]
        return raised

    return tried


def _inverted_l(at_hand: AtHand) -> list[Sizes]:
    """Inverted L: as high as it goes, and lower; with fewer radials too."""
    tried: list[Sizes] = _level(at_hand)[:2]
    if at_hand.wire_m is not None:
        tried += [{**one, "radials_n": 2.0} for one in tried]
    return tried


def _three_sided(at_hand: AtHand) -> list[Sizes]:
    """Level top, hanging ends: at full height, top as the supports allow."""
    tried: list[Sizes] = [{"height_m": at_hand.pair_m}]
    if at_hand.apart_m is not None:
        tried += [{"height_m": at_hand.pair_m, "top_m": at_hand.apart_m}]
    return tried


def _loop(at_hand: AtHand) -> list[Sizes]:
    """Level loop: as many corners as there are supports, at several heights."""
    there = at_hand.heights_m
    corners = min(max(len(there), 3), 4)
    low = there[min(corners, len(there)) - 1]
    return [
        {"height_m": round(low * s, 1), "corners_n": float(corners)} for s in _LADDER
    ]


def _delta(at_hand: AtHand) -> list[Sizes]:
    """Triangle: apex at the top, base low, fed in the middle or at a corner."""
    return [
        {"apex_m": at_hand.heights_m[0], "base_m": low, "feed_share": share}
        for low in (_LOW_M, 1.0)
        for share in (0.5, 0.0)
    ]


_LADDER = (1.0, 0.65, 0.4)
"""Shares of the height there is that a level wire is first tried at."""

_CHANGES: Mapping[str, Callable[[AtHand], list[Sizes]]] = MappingProxyType(
    {
        "dipole": _level,
        "inverted V": _sloping("apex_m", "end_m"),
        "sloper": _sloping("high_m", "low_m"),
        "end-fed half-wave": _end_fed,
        "inverted L": _inverted_l,
        "quarter-wave vertical": _on_radials(1.0, 2.0),
        "half-wave vertical": _on_radials(1.0),
        "half-square": _three_sided,
        "bottom-fed half-square": _three_sided,
        "doublet": _level,
        "horizontal loop": _loop,
        "delta loop": _delta,
        "random wire": _end_fed,
        GROUND_MOUNTED: lambda _: [],
    }
)
"""What is tried first, shape by shape."""


def shapes_to_try(names: Sequence[str] = ()) -> tuple[str, ...]:
    """
    List the shapes to try.

    Parameters
    ----------
    names : sequence of str, optional
        Those asked for; all by default.

    Returns
    -------
    shapes : tuple of str
        In the order of the registry, or as asked.

    Raises
    ------
    geo.errors.InputError
        If a shape is unknown or cannot be searched.
    """
    by_fold = {name.casefold(): name for name in shape_names()}
    chosen = []
    for name in names:
        folded = " ".join(name.split()).casefold()
        if folded not in by_fold:
            hint = near_matches(name, by_fold.values())
            raise InputError(
                f"no shape is called '{name}'{f' ({hint})' if hint else ''}: known are "
                f"{', '.join(_CHANGES)}"
            )
        if by_fold[folded] in NOT_TRIED:
            raise InputError(f"{by_fold[folded]}: {NOT_TRIED[by_fold[folded]]}")
        chosen.append(by_fold[folded])
    return tuple(dict.fromkeys(chosen)) or tuple(_CHANGES)
