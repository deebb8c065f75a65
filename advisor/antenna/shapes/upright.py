"""
Wires that stand on their foot: inverted L and verticals.

As all shapes they run towards +y, bearing 0, from the end that is named first.
"""

from __future__ import annotations

from collections.abc import Mapping

from advisor.antenna.shapes import dimensions as size
from advisor.antenna.shapes import search
from advisor.antenna.shapes.parts import (
    Conductor,
    HungWire,
    Support,
    against_radials,
    run_m,
    sagging,
)
from advisor.antenna.shapes.spec import ShapeSpec
from geo.errors import InputError

_RAISED_FOOT_M = 1.0
"""Radials of a vertical lie on the ground or hang up to here; at head height they would
be a danger and higher up need supports: common practice, no source. [m]"""

LYING_RADIALS_N = 8
"""Radials of a quarter-wave each in the grass: common practice, no source."""

# Range of a foot with little voltage: on the ground or a little raised. [m]
_LOW_FOOT = (0.1, _RAISED_FOOT_M)


def inverted_l(
    *,
    length_m: float,
    height_m: float,
    feed_height_m: float,
    sag_m: float,
    radials_n: float,
    radial_m: float,
    conductor: Conductor,
) -> HungWire:
    """
    Hang a wire that goes straight up and then level, fed at its foot.

    Parameters
    ----------
    length_m : float
        Length from foot to tip. [m]
    height_m : float
        Height of the level part. [m]
    feed_height_m : float
        Height of the foot and of the radials. [m]
    sag_m : float
        Sag of the level part. [m]
    radials_n : float
        Number of radials, whole. [1]
    radial_m : float
        Length of each. [m]
    conductor : Conductor
        What all is made of.

    Returns
    -------
    hung : HungWire
        Wires from the foot up over the origin and north, then the radials.

    Raises
    ------
    geo.errors.InputError
        If the wire is too short to reach its corner.
    """
    level_m = length_m - (height_m - feed_height_m)
    if height_m <= feed_height_m or level_m <= 0.0:
        raise InputError(
            f"{length_m:.2f} m of wire from {feed_height_m:g} m up to "
            f"{height_m:g} m leaves {max(level_m, 0.0):.2f} m for the level part; "
            "lower the corner, raise it above the foot, or take a longer wire"
        )
    run = run_m(level_m, 0.0, sag_m)
    corner = (0.0, 0.0, height_m)
    points = [(0.0, 0.0, feed_height_m), *sagging(corner, (0.0, run, height_m), sag_m)]
    supports = (
        Support("corner", 0.0, 0.0, height_m),
        Support("far end", 0.0, run, height_m),
    )
    return against_radials(points, supports, radials_n, radial_m, conductor)


def vertical(
    *,
    length_m: float,
    feed_height_m: float,
    radials_n: float,
    radial_m: float,
    conductor: Conductor,
) -> HungWire:
    """
    Put up a straight vertical wire, fed at its foot against radials.

    Parameters
    ----------
    length_m : float
        Length of the vertical. [m]
    feed_height_m : float
        Height of its foot and of the radials. [m]
    radials_n : float
        Number of radials, whole. [1]
    radial_m : float
        Length of each. [m]
    conductor : Conductor
        What all is made of.

    Returns
    -------
    hung : HungWire
        The vertical over the origin, then the radials.
    """
    top_m = feed_height_m + length_m
    points = [(0.0, 0.0, feed_height_m), (0.0, 0.0, top_m)]
    supports = (Support("top", 0.0, 0.0, top_m),)
    return against_radials(points, supports, radials_n, radial_m, conductor)


def _first_radial(sizes: Mapping[str, float]) -> str:
    """Name the first of the radials, which a vertical goes by."""
    return "radial" if sizes["radials_n"] == 1.0 else "first radial"


def _live_foot(_: search.AtHand, low_m: float) -> tuple[float, float]:
    """Range of a foot with much voltage."""
    return low_m, max(low_m, _RAISED_FOOT_M)


def _corner(at_hand: search.AtHand, clear_m: float) -> list[search.Sizes]:
    """Inverted L: as high as it goes; with fewer radials too."""
    tried = search.level(at_hand, clear_m)
    if at_hand.wire_m is not None:
        tried += [{**one, "radials_n": 2.0} for one in tried]
    return tried


def _standing(at_hand: search.AtHand, _: float) -> list[search.Sizes]:
    """Quarter-wave: on the ground and raised; fewer radials if need be."""
    return [{"feed_height_m": _RAISED_FOOT_M}, *_fewer_radials(at_hand, {})]


def _standing_live(at_hand: search.AtHand, clear_m: float) -> list[search.Sizes]:
    """Half-wave, live at the foot: out of reach, or on the ground."""
    foot = {"feed_height_m": clear_m}
    return [foot, *_fewer_radials(at_hand, foot)]


def _fewer_radials(
    at_hand: search.AtHand, sizes: search.Sizes, *more: float
) -> list[search.Sizes]:
    """Add sizes with fewer radials, if wire is short."""
    if at_hand.wire_m is None:
        return []
    return [{**sizes, "radials_n": n} for n in (*more, 2.0, 1.0)]


SHAPES: dict[str, ShapeSpec] = {
    "inverted L": ShapeSpec(
        inverted_l,
        {
            "length_m": size.metres("length from foot to tip", 0.25),
            "height_m": size.height(
                "height of the level part",
                lambda sizes: (
                    sizes["feed_height_m"]
                    + min(
                        0.56 * sizes["length_m"],
                        max(size.USUAL_TOP_M - sizes["feed_height_m"], 0.5),
                    )
                ),
            ),
            "feed_height_m": size.foot("height of foot and radials", 0.1),
            "sag_m": size.sag(0.008, "height_m"),
            **size.radials(0.96),
        },
        "wire that goes straight up, then level, fed at its foot against radials",
        is_quarter_wave=True,
        first_end="fed end",
        synonyms=("l", "inv l"),
        starts=_corner,
        searched={"feed_height_m": _LOW_FOOT},
    ),
    "quarter-wave vertical": ShapeSpec(
        vertical,
        {
            "length_m": size.metres("length of the vertical", 0.243),
            "feed_height_m": size.foot("height of foot and radials", 0.1),
            **size.radials(0.99),
        },
        "vertical wire fed at its foot against quarter-wave radials",
        top="",
        is_quarter_wave=True,
        has_bearing=False,
        first_end=_first_radial,
        synonyms=("vertical", "ground plane", "groundplane", "gp", "whip"),
        starts=_standing,
        searched={"feed_height_m": _LOW_FOOT},
    ),
    "half-wave vertical": ShapeSpec(
        vertical,
        {
            "length_m": size.metres("length of the vertical", 0.478),
            "feed_height_m": size.foot("height of foot and radials", 0.5),
            **size.radials(0.105),
        },
        "vertical half-wave wire fed at its foot against short radials",
        transformer="49:1",
        top="",
        has_bearing=False,
        first_end=_first_radial,
        synonyms=("vertical",),
        starts=_standing_live,
        searched={"feed_height_m": _live_foot},
        # It is out of reach or stands on the ground.
        lower_m=(0.0,),
    ),
    "ground-mounted vertical": ShapeSpec(
        vertical,
        {
            "length_m": size.metres("length of the vertical", 0.243),
            # At 0.02 m the gain of 16 radials is less by 0.01 dB.
            "feed_height_m": size.foot("height of foot and radials, in grass", 0.05),
            **size.radials(0.25 / 0.243, float(LYING_RADIALS_N)),
        },
        "vertical wire on the ground, fed at its foot against radials in the grass",
        top="",
        is_quarter_wave=True,
        has_bearing=False,
        first_end=_first_radial,
        synonyms=("vertical", "whip"),
        starts=lambda at_hand, _: _fewer_radials(at_hand, {}, 4.0),
        lower_m=(0.0,),
    ),
}
"""Its shapes by name."""
