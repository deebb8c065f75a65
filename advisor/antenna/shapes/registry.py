"""
Named shapes: what can be hung, with dimensions, defaults and limits.

Each shape is one function of `advisor.antenna.shapes.open` or
`shape_loops` and one entry in
`SHAPES`: the list, the help and the dispatch. Default sizes are common practice for
bare wire, no source, rounded to what the wire solver finds resonant over average
ground; it also says how to trim.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from advisor.antenna.shapes import loops
from advisor.antenna.shapes import open as forms
from advisor.antenna.shapes.parts import (
    LEAST_HEIGHT_M,
    LEAST_RADIAL_HEIGHT_M,
    LIGHT_M_MHZ,
    Conductor,
    HungWire,
)
from advisor.antenna.wires import Point
from geo.errors import InputError, near_matches


class Sizes:
    """
    Dimensions of one shape while they are settled: as given, else by default.

    A default may ask for the others, so that a wire of a length that was given hangs
    as it should. What asks for each other stops at what was given.

    Parameters
    ----------
    wave_m : float
        Wavelength of the lowest band. [m]
    dimensions : mapping of str to Dimension
        Those of the shape.
    given : mapping of str to float
        Those that were given. [m]
    """

    def __init__(
        self,
        wave_m: float,
        dimensions: Mapping[str, Dimension],
        given: Mapping[str, float],
    ) -> None:
        self.wave_m = wave_m
        self._dimensions = dimensions
        self._given = given

    def __getitem__(self, key: str) -> float:
        """Return what was given, or the default within its limits."""
        if key in self._given:
            return self._given[key]
        dimension = self._dimensions[key]
        value = round(dimension.default(self), 2)
        return min(max(value, dimension.low), dimension.high)

    def given(self, key: str) -> float | None:
        """
        Ask for what was given.

        Parameters
        ----------
        key : str
            A dimension.

        Returns
        -------
        value : float or None
            None if it was left out.
        """
        return self._given.get(key)


@dataclass(frozen=True)
class Dimension:
    """
    One dimension of a shape.

    Attributes
    ----------
    unit : str
        ``"m"``, or ``"1"`` for a count or a share.
    default : callable
        From the wavelength and the other dimensions to the default.
    low, high : float
        What is allowed.
    help : str
        One line.
    """

    unit: str
    default: Callable[[Sizes], float]
    low: float
    high: float
    help: str


@dataclass(frozen=True)
class ShapeSpec:
    """
    A shape that can be asked for by name.

    Attributes
    ----------
    function : callable
        Makes the `HungWire` from the dimensions and a conductor.
    dimensions : mapping of str to Dimension
        By name, unit as suffix.
    help : str
        One line.
    transformer : str
        Ratio usually put at its feedpoint.
    line : str
        Feed line usually taken.
    takes_points : bool
        Whether its points are given one by one.
    top : str
        The dimension that says how high it hangs; empty if its length says it.
    """

    function: Callable[..., HungWire]
    dimensions: Mapping[str, Dimension]
    help: str
    transformer: str = "1:1"
    line: str = "RG-58"
    takes_points: bool = False
    top: str = "height_m"


def _plain(value: float) -> Callable[[Sizes], float]:
    """Return a default that is always the same."""
    return lambda _: value


def _times(key: str, share: float) -> Callable[[Sizes], float]:
    """Return a default that goes with another dimension."""
    return lambda sizes: share * sizes[key]


def _metres(help_text: str, default: float | Callable[[Sizes], float]) -> Dimension:
    """Return a length: a number of wavelengths, or worked out."""
    waves = default
    return Dimension(
        "m",
        waves if callable(waves) else lambda sizes: waves * sizes.wave_m,
        0.1,
        400.0,
        help_text,
    )


def _height(help_text: str, default: Callable[[Sizes], float]) -> Dimension:
    """Return a height of something that hangs."""
    return Dimension("m", default, LEAST_HEIGHT_M, 100.0, help_text)


def _foot(help_text: str, default_m: float) -> Dimension:
    """Return a height of something fed against radials or a counterpoise."""
    return Dimension("m", _plain(default_m), LEAST_RADIAL_HEIGHT_M, 100.0, help_text)


def _sag(share: float, *held: str, key: str = "length_m") -> Dimension:
    """Return a sag: a share of a length, but never so much that it comes too low."""

    def default(sizes: Sizes) -> float:
        heights_m = [sizes[height] for height in held]
        low_m, high_m = min(heights_m), max(heights_m)
        # A quarter of the rise still leaves the lower end lowest.
        room_m = max(0.25 * (high_m - low_m), 0.5 * (low_m - LEAST_HEIGHT_M))
        return min(share * sizes[key], room_m)

    return Dimension("m", default, 0.0, 30.0, "how far the middle hangs through")


def _share(help_text: str, low: float, high: float) -> Dimension:
    """Return a place along a wire, by default its middle."""
    return Dimension("1", _plain(0.5), low, high, help_text)


def _counterpoise(default: Callable[[Sizes], float]) -> Dimension:
    """Return the length of what an end-fed wire is fed against."""
    return Dimension(
        "m", default, 0.3, 100.0, "length of the counterpoise at the feedpoint"
    )


def _lower_end(
    top: str, share: float, least_m: float = 2.5
) -> Callable[[Sizes], float]:
    """Return a default so far under a top, by share of the length, if it fits."""

    def default(sizes: Sizes) -> float:
        fits_m = min(least_m, 0.6 * sizes[top])
        return max(fits_m, sizes[top] - share * sizes["length_m"])

    return default


def _over(low: str, usual_m: float, share: float) -> Callable[[Sizes], float]:
    """Return the usual height, or what suits a lower end that was given."""

    def default(sizes: Sizes) -> float:
        given_m = sizes.given(low)
        if given_m is None:
            return usual_m
        rise_m = min(usual_m - given_m, share * sizes["length_m"])
        return given_m + max(rise_m, 0.1 * sizes["length_m"])

    return default


def _radials(share: float) -> dict[str, Dimension]:
    """Return number and length of radials, the length by share of the wire's."""
    return {
        "radials_n": Dimension("1", _plain(4.0), 1.0, 64.0, "number of radials"),
        "radial_m": _metres("length of each radial", _times("length_m", share)),
    }


_DIPOLE = {
    "height_m": _height("height of both ends", _plain(10.0)),
    "sag_m": _sag(0.02, "height_m"),
    "feed_share": _share("where it is fed; 0.5 is the middle", 0.05, 0.95),
}

# What hanging ends keep clear of the ground by default. [m]
_CLEAR_M = 0.6


def _three_sided_length(sizes: Sizes) -> float:
    """One wave; half a wave more than a top that was given."""
    top_m = sizes.given("top_m")
    return sizes.wave_m if top_m is None else top_m + 0.5 * sizes.wave_m


def _three_sided_top(sizes: Sizes) -> float:
    """Half of the wire; more where a height that was given leaves less to hang."""
    length_m, height_m = sizes["length_m"], sizes.given("height_m")
    if height_m is None:
        return 0.5 * length_m
    return max(0.5 * length_m, length_m - 2.0 * max(height_m - _CLEAR_M, 0.0))


def _three_sided_height(sizes: Sizes) -> float:
    """As high as the hanging ends need."""
    top_m = sizes.given("top_m")
    length_m = sizes["length_m"]
    hung_m = 0.5 * length_m if top_m is None else length_m - top_m
    return _CLEAR_M + 0.5 * max(hung_m, 0.0)


_HALF_SQUARE = {
    "length_m": _metres("whole length of wire", _three_sided_length),
    "top_m": _metres("length of the level top", _three_sided_top),
    "height_m": _height("height of both corners", _three_sided_height),
    "sag_m": _sag(0.02, "height_m", key="top_m"),
}

_DELTA = {
    "length_m": _metres("length all round", 1.04),
    "apex_m": _height(
        "height of the upper corner",
        lambda sizes: (sizes.given("base_m") or 2.5) + 0.279 * sizes["length_m"],
    ),
    "base_m": _height(
        "height of the base",
        lambda sizes: (
            2.5 if sizes.given("apex_m") is None else _lower_end("apex_m", 0.279)(sizes)
        ),
    ),
}

_END_FED = {
    "feed_height_m": _foot("height of feedpoint and counterpoise", 0.5),
    "end_height_m": _height(
        "height of the far end",
        lambda sizes: min(
            max(8.0, sizes["feed_height_m"]),
            sizes["feed_height_m"] + 0.7 * sizes["length_m"],
        ),
    ),
    "sag_m": _sag(0.02, "feed_height_m", "end_height_m"),
}

SHAPES: Mapping[str, ShapeSpec] = MappingProxyType(
    {
        "dipole": ShapeSpec(
            forms.dipole,
            {"length_m": _metres("whole length", 0.481), **_DIPOLE},
            "level wire between two supports, fed in or off its middle",
        ),
        "inverted V": ShapeSpec(
            forms.inverted_v,
            {
                "length_m": _metres("whole length", 0.482),
                "apex_m": _height("height of the middle", _over("end_m", 10.0, 0.25)),
                "end_m": _height("height of both ends", _lower_end("apex_m", 0.25)),
                "sag_m": _sag(0.02, "apex_m", "end_m"),
            },
            "wire held up by its middle, both halves sloping down",
            top="apex_m",
        ),
        "sloper": ShapeSpec(
            forms.sloper,
            {
                "length_m": _metres("whole length", 0.481),
                "high_m": _height(
                    "height of the upper end", _over("low_m", 12.0, 0.69)
                ),
                "low_m": _height("height of the lower end", _lower_end("high_m", 0.69)),
                "sag_m": _sag(0.02, "high_m", "low_m"),
            },
            "half-wave wire from a high point down to a low one, fed in its middle",
            top="high_m",
        ),
        "end-fed half-wave": ShapeSpec(
            forms.end_fed,
            {
                "length_m": _metres("length of the wire", 0.464),
                **_END_FED,
                "counterpoise_m": _counterpoise(_times("length_m", 0.1)),
            },
            "half-wave wire fed at one end against a short counterpoise",
            transformer="49:1",
            top="end_height_m",
        ),
        "inverted L": ShapeSpec(
            forms.inverted_l,
            {
                "length_m": _metres("length from foot to tip", 0.25),
                "height_m": _height(
                    "height of the level part",
                    lambda sizes: sizes["feed_height_m"] + 0.56 * sizes["length_m"],
                ),
                "feed_height_m": _foot("height of foot and radials", 0.1),
                "sag_m": _sag(0.008, "height_m"),
                **_radials(0.96),
            },
            "wire that goes straight up, then level, fed at its foot against radials",
        ),
        "quarter-wave vertical": ShapeSpec(
            forms.vertical,
            {
                "length_m": _metres("length of the vertical", 0.243),
                "feed_height_m": _foot("height of foot and radials", 0.1),
                **_radials(0.99),
            },
            "vertical wire fed at its foot against quarter-wave radials",
            top="",
        ),
        "half-wave vertical": ShapeSpec(
            forms.vertical,
            {
                "length_m": _metres("length of the vertical", 0.478),
                "feed_height_m": _foot("height of foot and radials", 0.5),
                **_radials(0.105),
            },
            "vertical half-wave wire fed at its foot against short radials",
            transformer="49:1",
            top="",
        ),
        "half-square": ShapeSpec(
            forms.half_square,
            _HALF_SQUARE,
            "level top with two ends hanging down, fed at a top corner",
        ),
        "bottom-fed half-square": ShapeSpec(
            forms.bottom_fed_half_square,
            {
                **_HALF_SQUARE,
                "counterpoise_m": _counterpoise(_times("length_m", 0.05)),
            },
            "level top with two ends hanging down, fed at the foot of one",
            transformer="49:1",
        ),
        "doublet": ShapeSpec(
            forms.dipole,
            {"length_m": _metres("whole length", 0.5), **_DIPOLE},
            "level wire of any length for many bands, fed through open wire and tuner",
            line="open-wire 450",
        ),
        "horizontal loop": ShapeSpec(
            loops.horizontal_loop,
            {
                "length_m": _metres("length all round", 1.04),
                "height_m": _height("height", _plain(8.0)),
                "corners_n": Dimension(
                    "1", _plain(4.0), 3.0, 12.0, "number of corners"
                ),
            },
            "level loop of one wave round, fed at a corner",
            transformer="4:1",
        ),
        "delta loop": ShapeSpec(
            loops.delta_loop,
            {**_DELTA, "feed_share": _share("where the base is fed", 0.0, 1.0)},
            "triangle of one wave round, held by one corner, fed in its base",
            top="apex_m",
        ),
        "random wire": ShapeSpec(
            forms.end_fed,
            {
                "length_m": _metres("length of the wire", 0.42),
                **_END_FED,
                "counterpoise_m": _counterpoise(_times("length_m", 0.24)),
            },
            "wire of no resonant length, fed at one end against a counterpoise",
            transformer="9:1",
            top="end_height_m",
        ),
        "free wire": ShapeSpec(
            forms.free_wire,
            {
                "feed_share": _share(
                    "where it is fed, from the first point", 0.0, 0.95
                ),
                "counterpoise_m": _counterpoise(lambda sizes: 0.05 * sizes.wave_m),
            },
            "any wire, point by point",
            takes_points=True,
            top="",
        ),
    }
)
"""Every shape by name."""


def hang(
    shape: str,
    lowest_mhz: float,
    dimensions: Mapping[str, float] | None = None,
    *,
    points_m: Sequence[Point] = (),
    conductor: Conductor | None = None,
) -> HungWire:
    """
    Make a shape by name; dimensions left out take their defaults.

    Parameters
    ----------
    shape : str
        A name in `SHAPES`; capitals do not matter.
    lowest_mhz : float
        Lowest frequency it is meant for, which sets the defaults. [MHz]
    dimensions : mapping of str to float, optional
        Those that are not the default.
    points_m : sequence of tuple of float, optional
        East, north and up of each point, for a shape that takes them. [m]
    conductor : Conductor, optional
        What it is made of; bare copper of 2 mm across by default.

    Returns
    -------
    hung : HungWire
        Wires, feedpoint and supports, under the name asked for.

    Raises
    ------
    geo.errors.InputError
        If shape or dimension is unknown, out of its limits, or does not fit.

    Examples
    --------
    >>> hung = hang("dipole", 7.1, {"height_m": 8.0})
    >>> round(hung.length_m, 2), hung.tall_supports[0].height_m
    (20.31, 8.0)
    """
    name = _known_shape(shape)
    spec = SHAPES[name]
    sizes = settle(name, lowest_mhz, dimensions)
    if bool(points_m) != spec.takes_points:
        needs = "needs its points" if spec.takes_points else "takes no points"
        raise InputError(f"{name}: {needs} as east, north and up in metres")
    wire = conductor or Conductor()
    where = (points_m,) if spec.takes_points else ()
    hung = spec.function(*where, **sizes, conductor=wire)
    return HungWire(name, hung.wires, hung.feed, hung.supports, hung.length_m)


def settle(
    shape: str, lowest_mhz: float, dimensions: Mapping[str, float] | None = None
) -> dict[str, float]:
    """
    Fill in the dimensions of a shape that were left out.

    Parameters
    ----------
    shape : str
        A name in `SHAPES`; capitals do not matter.
    lowest_mhz : float
        Lowest frequency it is meant for. [MHz]
    dimensions : mapping of str to float, optional
        Those that were given.

    Returns
    -------
    sizes : dict of str to float
        Every dimension, in the order of the shape. [m]

    Raises
    ------
    geo.errors.InputError
        If shape or dimension is unknown or out of its limits.

    Examples
    --------
    A wire of 24 m with a level top: half of it is top, the ends clear the ground.

    >>> sizes = settle("half-square", 14.1, {"length_m": 24.0})
    >>> sizes["top_m"], sizes["height_m"]
    (12.0, 6.6)
    """
    name = _known_shape(shape)
    if not 0.0 < lowest_mhz < math.inf:
        raise InputError(f"frequency {lowest_mhz} MHz is not positive; HF is 1.8 to 54")
    given = dict(dimensions or {})
    for key, value in given.items():
        _check_dimension(name, key, value)
    known = SHAPES[name].dimensions
    settled = Sizes(LIGHT_M_MHZ / lowest_mhz, known, given)
    return {key: settled[key] for key in known}


def _known_shape(shape: str) -> str:
    """Return the name in the registry for what was typed."""
    by_fold = {name.casefold(): name for name in SHAPES}
    folded = " ".join(shape.split()).casefold()
    if folded not in by_fold:
        hint = near_matches(shape, SHAPES) or "use one of these"
        raise InputError(
            f"no shape is called '{shape}'; {hint} (known: {', '.join(SHAPES)})"
        )
    return by_fold[folded]


def _check_dimension(shape: str, key: str, value: float) -> None:
    """Raise unless the shape has the dimension and the value is allowed."""
    known = SHAPES[shape].dimensions
    if key not in known:
        hint = near_matches(key, known) or "use one of these"
        raise InputError(
            f"{shape}: no dimension '{key}'; {hint} (known: {', '.join(known)})"
        )
    dimension = known[key]
    if not dimension.low <= value <= dimension.high:
        unit = "" if dimension.unit == "1" else f" {dimension.unit}"
        raise InputError(
            f"{shape}: {key} is {value:g}{unit} and must be {dimension.low:g} to "
            f"{dimension.high:g}{unit}"
        )
