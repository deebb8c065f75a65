"""
What of a hung wire can be touched or walked into, or hangs folded, and what is said.

Geometry only: which parts carry a high voltage follows from the shape, not from the
currents. Open ends do on every band; a feedpoint does where the wire is fed at its end
and is not an odd number of quarter-waves long.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from advisor.antenna.shapes.parts import (
    LEAST_HEIGHT_M,
    LIGHT_M_MHZ,
    HungWire,
    Support,
)
from advisor.antenna.shapes.registry import SHAPES
from advisor.antenna.wires import Point, Wire
from advisor.station.cautions import Caution

OUT_OF_REACH_M = 2.5
"""Nobody of usual height touches what hangs here with a raised hand and a little to
spare: common practice, no source. [m]"""

FOLDED_DEG = 80.0
"""Legs of an inverted V are to open to a right angle or more (common practice, no
source); a little less is not told. [deg]"""

HEAD_M = 1.5
"""From here to `OUT_OF_REACH_M` a wire meets heads and necks: common practice, no
source. [m]"""

# So far from an odd number of quarter-waves the voltage is still low: common practice,
# no source. [wavelengths]
_NEARLY = 0.04

# A wire this steep is a vertical; one walks into it no more than into its pole. [deg]
_UPRIGHT_DEG = 80.0


@dataclass(frozen=True)
class LowPart:
    """
    A part of a wire that hangs lower than `OUT_OF_REACH_M`.

    Attributes
    ----------
    what : str
        Which part, such as ``far end``.
    height_m : float
        How high it is at its lowest. [m]
    is_live : bool
        Whether it carries a high voltage while one sends.
    """

    what: str
    height_m: float
    is_live: bool


def low_parts(
    hung: HungWire, frequency_mhz: float | None = None
) -> tuple[LowPart, ...]:
    """
    List the parts of a wire that are within reach.

    Parameters
    ----------
    hung : HungWire
        A shape as hung.
    frequency_mhz : float, optional
        What is sent on; left out, what the shape is usually cut for. [MHz]

    Returns
    -------
    parts : tuple of LowPart
        Live ones first. Upright wires count by their open ends and by an end they are
        fed at; radials count at head height only, as lower ones are meant to be there.
    """
    below = hung.below_wires
    live = {_name(point, hung.supports): point[2] for point in open_ends(hung)}
    if (below or hung.earth) and not _is_quarter_waves(hung, frequency_mhz):
        live["feedpoint"] = hung.feed_point_m[2]
    parts = [LowPart(what, up, True) for what, up in live.items()]
    level_m = _level_m(hung)
    if level_m < math.inf:
        parts.append(LowPart("wire", level_m, False))
    if below and _lowest_m(below[0]) >= HEAD_M:
        what = "counterpoise" if len(below) == 1 else "radials"
        parts.append(LowPart(what, _lowest_m(below[0]), False))
    return tuple(part for part in parts if part.height_m < OUT_OF_REACH_M - 1e-6)


def folded_cautions(
    wires: Mapping[str, Iterable[tuple[str, HungWire]]],
) -> tuple[Caution, ...]:
    """
    Say which wires fed in their middle hang so steeply that their legs fold together.

    Parameters
    ----------
    wires : mapping of str to iterable of (str, HungWire)
        By name of the set-up: each of its bands, and the wire as hung on it.

    Returns
    -------
    cautions : tuple of Caution
        One, or none.
    """
    told = []
    for name, hung_on in wires.items():
        words = [
            f"{band} {hung.legs_deg:.0f} deg"
            for band, hung in hung_on
            if SHAPES[hung.shape].is_centre_fed and hung.legs_deg < FOLDED_DEG
        ]
        if words:
            told.append(f"{name} ({', '.join(words)})")
    if not told:
        return ()
    return (
        Caution(
            "folded legs",
            f"Legs nearer than {FOLDED_DEG:g} deg at the feedpoint cancel each other: "
            f"{', '.join(told)}. Raise the ends, lower the middle or take a longer "
            "wire.",
        ),
    )


def reach_cautions(
    wires: Mapping[str, Iterable[tuple[HungWire, float]]],
) -> tuple[Caution, ...]:
    """
    Say which parts of some set-ups are within reach, and what to do.

    Parameters
    ----------
    wires : mapping of str to iterable of (HungWire, float)
        By name of the set-up: as hung on each of its bands, and the frequency. [MHz]

    Returns
    -------
    cautions : tuple of Caution
        One about live parts, one about wires to walk into and one about wires near the
        soil, each with the least height over the bands of a set-up; left out where
        there is none.
    """
    live: dict[str, str] = {}
    lying: dict[str, str] = {}
    near_soil: dict[str, str] = {}
    for name, hung_on in wires.items():
        lowest: dict[str, LowPart] = {}
        each = tuple(hung_on)
        level_m = min((_level_m(hung) for hung, _ in each), default=math.inf)
        if level_m < LEAST_HEIGHT_M - 1e-6:
            near_soil[name] = f"{name} ({level_m:.2f} m)"
        for part in (part for hung, mhz in each for part in low_parts(hung, mhz)):
            known = lowest.get(part.what)
            if known is None or part.height_m < known.height_m:
                lowest[part.what] = part
        for told, is_live in ((live, True), (lying, False)):
            words = [
                f"{part.what} {_up_m(part.height_m)} m"
                for part in lowest.values()
                if part.is_live is is_live
            ]
            if words:
                told[name] = f"{name} ({', '.join(words)})"
    found = []
    if live:
        found.append(
            Caution(
                "within reach",
                f"High voltage lower than {OUT_OF_REACH_M:g} m: "
                f"{', '.join(live.values())}. Raise it if you can; else fence it off "
                "and have somebody watch it while you send.",
            )
        )
    if lying:
        found.append(
            Caution(
                "head height",
                f"Wire lower than {OUT_OF_REACH_M:g} m: {', '.join(lying.values())}. "
                "Flag it and keep it off paths.",
            )
        )
    if near_soil:
        found.append(
            Caution(
                "near the soil",
                f"Wire nearer than {LEAST_HEIGHT_M:g} m to the ground: "
                f"{', '.join(near_soil.values())}. Soil that nobody measured, grass "
                "and wet decide what it does: measure before you trust its figures. "
                "Keep bare ends off the soil: one that touches costs 1 to 6 dB.",
            )
        )
    return tuple(found)


def _is_quarter_waves(hung: HungWire, frequency_mhz: float | None) -> bool:
    """Say whether a wire fed at its end is fed where the voltage is low."""
    is_meant_so = SHAPES[hung.shape].is_quarter_wave
    if not is_meant_so or frequency_mhz is None:
        return is_meant_so
    waves = hung.length_m * frequency_mhz / LIGHT_M_MHZ
    return abs(waves % 0.5 - 0.25) < _NEARLY


def _up_m(height_m: float) -> str:
    """Write a height, rounded down: 2.46 m is not yet 2.5 m."""
    return f"{math.floor(10.0 * height_m + 1e-6) / 10.0:.1f}"


def open_ends(hung: HungWire) -> list[Point]:
    """
    Find the points of a wire at which nothing else is joined on.

    Parameters
    ----------
    hung : HungWire
        A shape as hung.

    Returns
    -------
    ends : list of tuple of float
        Ends of counterpoise and radials left out. [m]
    """
    ends = [p for wire in hung.own_wires for p in (wire.start_m, wire.end_m)]
    joined = Counter(_key(point) for point in ends)
    joined.update(_key(wire.start_m) for wire in hung.below_wires + hung.earth)
    return [point for point in ends if joined[_key(point)] == 1]


def _key(point: Point) -> tuple[float, ...]:
    """Make points that are the same compare equal, to the millimetre."""
    return tuple(round(each, 3) + 0.0 for each in point)


def _name(point: Point, supports: Iterable[Support]) -> str:
    """Name an open end after the support that holds it."""
    for support in supports:
        held = (support.east_m, support.north_m, support.height_m)
        if _key(held) == _key(point):
            return support.name
    side = "second" if point[1] > 0.0 else "first"
    return f"hanging {side} end"


def _slope_deg(wire: Wire) -> float:
    """Angle of a wire to the ground."""
    east, north, up = (b - a for a, b in zip(wire.start_m, wire.end_m, strict=True))
    return math.degrees(math.atan2(abs(up), math.hypot(east, north)))


def _level_m(hung: HungWire) -> float:
    """Height of the lowest wire that is no vertical; infinite if there is none."""
    lying = [wire for wire in hung.own_wires if _slope_deg(wire) < _UPRIGHT_DEG]
    return min(map(_lowest_m, lying), default=math.inf)


def _lowest_m(wire: Wire) -> float:
    """Height of the lower end of a straight wire."""
    return min(wire.start_m[2], wire.end_m[2])
