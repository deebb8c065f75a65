"""
Level tops with two ends hanging down: half-square, fed at a corner or at a foot.

As all shapes they run towards +y, bearing 0, from the end that is named first.
"""

from __future__ import annotations

from advisor.antenna.shapes import dimensions as size
from advisor.antenna.shapes import search
from advisor.antenna.shapes.parts import (
    LOWEST_M,
    Conductor,
    HungWire,
    Support,
    against_radials,
    path_wires,
    run_m,
    sagging,
)
from advisor.antenna.shapes.spec import ShapeSpec
from advisor.antenna.wires import Point, Source
from geo.errors import InputError

# What hanging ends keep clear of the ground by default. [m]
_CLEAR_M = 0.6


def half_square(
    *,
    length_m: float,
    top_m: float,
    height_m: float,
    sag_m: float,
    conductor: Conductor,
) -> HungWire:
    """
    Hang a level top with both ends hanging straight down, fed at a top corner.

    Parameters
    ----------
    length_m : float
        Whole length; what the top leaves hangs down in two equal ends. [m]
    top_m : float
        Length of the top. [m]
    height_m : float
        Height of both corners. [m]
    sag_m : float
        Sag of the top. [m]
    conductor : Conductor
        What it is made of.

    Returns
    -------
    hung : HungWire
        Wires from the south end up, over and down; the feed is in the top, at its
        south corner.

    Raises
    ------
    geo.errors.InputError
        If there is nothing left to hang, or it reaches too far down.
    """
    points, supports = _three_sides(length_m, top_m, height_m, sag_m)
    wires = path_wires(points, conductor)
    return HungWire(wires, Source(1, 0.0), supports, length_m)


def bottom_fed_half_square(
    *,
    length_m: float,
    top_m: float,
    height_m: float,
    sag_m: float,
    counterpoise_m: float,
    conductor: Conductor,
) -> HungWire:
    """
    Hang a level top with both ends hanging down, fed at the foot of one end.

    Parameters
    ----------
    length_m : float
        Whole length; what the top leaves hangs down in two equal ends. [m]
    top_m : float
        Length of the top. [m]
    height_m : float
        Height of both corners. [m]
    sag_m : float
        Sag of the top. [m]
    counterpoise_m : float
        Length of the level counterpoise at the foot. [m]
    conductor : Conductor
        What it is made of.

    Returns
    -------
    hung : HungWire
        Wires from the fed south end up, over and down, then the counterpoise.

    Raises
    ------
    geo.errors.InputError
        If there is nothing left to hang, or it reaches too far down.
    """
    points, supports = _three_sides(length_m, top_m, height_m, sag_m)
    return against_radials(points, supports, 1, counterpoise_m, conductor)


def _three_sides(
    length_m: float, top_m: float, height_m: float, sag_m: float
) -> tuple[list[Point], tuple[Support, ...]]:
    """Points and supports of a level top with two ends hanging straight down."""
    end_m = 0.5 * (length_m - top_m)
    if end_m <= 0.0:
        raise InputError(
            f"a top of {top_m:.2f} m leaves nothing of {length_m:.2f} m "
            "of wire to hang down; shorten the top"
        )
    foot_m = height_m - end_m
    if foot_m < LOWEST_M - 1e-9:
        raise InputError(
            f"ends of {end_m:.2f} m hang down to {foot_m:.2f} m above ground "
            f"and must keep {LOWEST_M:g} m; raise the top to "
            f"{end_m + LOWEST_M:.2f} m, or lengthen it to "
            f"{top_m + 2.0 * (LOWEST_M - foot_m):.2f} m"
        )
    half = 0.5 * run_m(top_m, 0.0, sag_m)
    first, second = (0.0, -half, height_m), (0.0, half, height_m)
    points = [
        (0.0, -half, foot_m),
        *sagging(first, second, sag_m),
        (0.0, half, foot_m),
    ]
    return points, (Support("first corner", *first), Support("second corner", *second))


def _length(sizes: size.Settling) -> float:
    """One wave; half a wave more than a top that was given."""
    top_m = sizes.given("top_m")
    return sizes.wave_m if top_m is None else top_m + 0.5 * sizes.wave_m


def _top(sizes: size.Settling) -> float:
    """Half of the wire; more where the height leaves less to hang."""
    length_m, height_m = sizes["length_m"], sizes.given("height_m")
    if height_m is None:
        height_m = _wanted_height(0.5 * length_m)
    return max(0.5 * length_m, length_m - 2.0 * max(height_m - _CLEAR_M, 0.0))


def _height(sizes: size.Settling) -> float:
    """As high as the hanging ends need, of which the top takes what is too long."""
    top_m, length_m = sizes.given("top_m"), sizes["length_m"]
    if top_m is None:
        return _wanted_height(0.5 * length_m)
    return _CLEAR_M + 0.5 * max(length_m - top_m, 0.0)


def _wanted_height(hung_m: float) -> float:
    """Height for so much wire in both hanging ends, if people have it."""
    return min(_CLEAR_M + 0.5 * hung_m, size.USUAL_TOP_M)


def _full_height(at_hand: search.AtHand, _: float) -> list[search.Sizes]:
    """At full height, top as the supports allow."""
    tried = search.level(at_hand, 0.0)
    if at_hand.apart_m is not None:
        tried += [{**one, "top_m": at_hand.apart_m} for one in tried]
    return tried


def _between(at_hand: search.AtHand, low_m: float) -> tuple[float, float]:
    """Range of tops that go between the supports."""
    longest_m = search.any_length(at_hand, low_m)[1]
    return 1.0, min(at_hand.apart_m or longest_m, longest_m)


_SIZES = {
    "length_m": size.metres("whole length of wire", _length),
    "top_m": size.metres("length of the level top", _top),
    "height_m": size.height("height of both corners", _height),
    "sag_m": size.sag(0.02, "height_m", key="top_m"),
}
_SEARCHED = {"top_m": _between}

SHAPES: dict[str, ShapeSpec] = {
    "half-square": ShapeSpec(
        half_square,
        _SIZES,
        "level top with two ends hanging down, fed at a top corner",
        first_end="fed end",
        starts=_full_height,
        searched=_SEARCHED,
    ),
    "bottom-fed half-square": ShapeSpec(
        bottom_fed_half_square,
        {**_SIZES, "counterpoise_m": size.counterpoise(size.times("length_m", 0.05))},
        "level top with two ends hanging down, fed at the foot of one",
        transformer="49:1",
        least_waves=0.44,
        first_end="fed end",
        is_resonant=False,
        starts=_full_height,
        searched=_SEARCHED,
    ),
}
"""Its shapes by name."""
