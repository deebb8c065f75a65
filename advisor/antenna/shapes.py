"""
Named shapes: what can be hung, with dimensions, defaults and limits.

Each shape is one function of `advisor.antenna.shape_forms` and one entry in
`SHAPES`: the list, the help and the dispatch. Default sizes are common practice for
bare wire, no source, rounded to what the wire solver finds resonant over average
ground; it also says how to trim.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from advisor.antenna import shape_forms as forms
from advisor.antenna.shape_parts import (
    LEAST_HEIGHT_M,
    LEAST_RADIAL_HEIGHT_M,
    Conductor,
    HungWire,
)
from advisor.antenna.wires import Point
from geo.errors import InputError, near_matches

# Wavelength times frequency. [m MHz]
_LIGHT_M_MHZ = 299.792458


@dataclass(frozen=True)
class Dimension:
    """
    One dimension of a shape.

    Attributes
    ----------
    unit : str
        ``"m"``, or ``"1"`` for a count or a share.
    default : callable
        From the wavelength of the lowest band in metres to the default.
    low, high : float
        What is allowed.
    help : str
        One line.
    """

    unit: str
    default: Callable[[float], float]
    low: float
    high: float
    help: str

    def default_at(self, lowest_mhz: float) -> float:
        """
        Work out the default.

        Parameters
        ----------
        lowest_mhz : float
            Lowest frequency the set-up is meant for. [MHz]

        Returns
        -------
        value : float
            Within the limits, to a centimetre.
        """
        value = round(self.default(_LIGHT_M_MHZ / lowest_mhz), 2)
        return min(max(value, self.low), self.high)


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
    """

    function: Callable[..., HungWire]
    dimensions: Mapping[str, Dimension]
    help: str
    transformer: str = "1:1"
    line: str = "RG-58"
    takes_points: bool = False


def _plain(fixed: float, waves: float = 0.0) -> Callable[[float], float]:
    """Return a default of so many metres and so many wavelengths."""
    return lambda wave_m: fixed + waves * wave_m


def _metres(help_text: str, waves: float) -> Dimension:
    """Return a length that goes with the wavelength."""
    return Dimension("m", _plain(0.0, waves), 0.1, 400.0, help_text)


def _height(help_text: str, default: Callable[[float], float]) -> Dimension:
    """Return a height of something that hangs."""
    return Dimension("m", default, LEAST_HEIGHT_M, 100.0, help_text)


def _foot(help_text: str, default_m: float) -> Dimension:
    """Return a height of something fed against radials or a counterpoise."""
    return Dimension("m", _plain(default_m), LEAST_RADIAL_HEIGHT_M, 100.0, help_text)


def _sag(waves: float) -> Dimension:
    """Return a sag, by default a share of the wavelength."""
    return Dimension(
        "m", _plain(0.0, waves), 0.0, 30.0, "how far the middle hangs through"
    )


def _share(help_text: str, low: float, high: float) -> Dimension:
    """Return a place along a wire, by default its middle."""
    return Dimension("1", _plain(0.5), low, high, help_text)


def _counterpoise(waves: float) -> Dimension:
    """Return the length of what an end-fed wire is fed against."""
    return Dimension(
        "m",
        _plain(0.0, waves),
        0.3,
        100.0,
        "length of the counterpoise at the feedpoint",
    )


_RADIALS = {
    "radials_n": Dimension("1", _plain(4.0), 1.0, 64.0, "number of radials"),
    "radial_m": _metres("length of each radial", 0.24),
}

_DIPOLE = {
    "height_m": _height("height of both ends", _plain(10.0)),
    "sag_m": _sag(0.01),
    "feed_share": _share("where it is fed; 0.5 is the middle", 0.05, 0.95),
}

_HALF_SQUARE = {
    "length_m": _metres("whole length of wire", 1.0),
    "top_m": _metres("length of the level top", 0.5),
    "height_m": _height("height of both corners", _plain(0.6, 0.25)),
    "sag_m": _sag(0.01),
}

_DELTA = {
    "length_m": _metres("length all round", 1.04),
    "apex_m": _height("height of the upper corner", _plain(2.5, 0.29)),
    "base_m": _height("height of the base", _plain(2.5)),
}

_END_FED = {
    "feed_height_m": _foot("height of feedpoint and counterpoise", 0.5),
    "end_height_m": _height(
        "height of the far end", lambda wave_m: min(8.0, 0.5 + wave_m / 3.0)
    ),
    "sag_m": _sag(0.01),
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
                "apex_m": _height("height of the middle", _plain(10.0)),
                "end_m": _height(
                    "height of both ends", lambda wave_m: max(2.5, 10.0 - 0.12 * wave_m)
                ),
                "sag_m": _sag(0.01),
            },
            "wire held up by its middle, both halves sloping down",
        ),
        "sloper": ShapeSpec(
            forms.sloper,
            {
                "length_m": _metres("whole length", 0.481),
                "high_m": _height("height of the upper end", _plain(12.0)),
                "low_m": _height(
                    "height of the lower end",
                    lambda wave_m: max(2.5, 12.0 - wave_m / 3.0),
                ),
                "sag_m": _sag(0.01),
            },
            "half-wave wire from a high point down to a low one, fed in its middle",
        ),
        "end-fed half-wave": ShapeSpec(
            forms.end_fed,
            {
                "length_m": _metres("length of the wire", 0.478),
                **_END_FED,
                "counterpoise_m": _counterpoise(0.05),
            },
            "half-wave wire fed at one end against a short counterpoise",
            transformer="49:1",
        ),
        "inverted L": ShapeSpec(
            forms.inverted_l,
            {
                "length_m": _metres("length from foot to tip", 0.25),
                "height_m": _height("height of the level part", _plain(0.1, 0.14)),
                "feed_height_m": _foot("height of foot and radials", 0.1),
                "sag_m": _sag(0.002),
                **_RADIALS,
            },
            "wire that goes straight up, then level, fed at its foot against radials",
        ),
        "quarter-wave vertical": ShapeSpec(
            forms.vertical,
            {
                "length_m": _metres("length of the vertical", 0.243),
                "feed_height_m": _foot("height of foot and radials", 0.1),
                **_RADIALS,
            },
            "vertical wire fed at its foot against quarter-wave radials",
        ),
        "half-wave vertical": ShapeSpec(
            forms.vertical,
            {
                "length_m": _metres("length of the vertical", 0.478),
                "feed_height_m": _foot("height of foot and radials", 0.5),
                **_RADIALS,
                "radial_m": _metres("length of each radial", 0.05),
            },
            "vertical half-wave wire fed at its foot against short radials",
            transformer="49:1",
        ),
        "half-square": ShapeSpec(
            forms.half_square,
            _HALF_SQUARE,
            "level top with two ends hanging down, fed at a top corner",
        ),
        "bottom-fed half-square": ShapeSpec(
            forms.bottom_fed_half_square,
            {**_HALF_SQUARE, "counterpoise_m": _counterpoise(0.05)},
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
            forms.horizontal_loop,
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
            forms.delta_loop,
            {**_DELTA, "feed_share": _share("where the base is fed", 0.0, 1.0)},
            "triangle of one wave round, held by one corner, fed in its base",
        ),
        "random wire": ShapeSpec(
            forms.end_fed,
            {
                "length_m": _metres("length of the wire", 0.42),
                **_END_FED,
                "counterpoise_m": _counterpoise(0.1),
            },
            "wire of no resonant length, fed at one end against a counterpoise",
            transformer="9:1",
        ),
        "free wire": ShapeSpec(
            forms.free_wire,
            {
                "feed_share": _share(
                    "where it is fed, from the first point", 0.0, 0.95
                ),
                "counterpoise_m": _counterpoise(0.05),
            },
            "any wire, point by point",
            takes_points=True,
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
    if not 0.0 < lowest_mhz < math.inf:
        raise InputError(f"frequency {lowest_mhz} MHz is not positive; HF is 1.8 to 54")
    given = dict(dimensions or {})
    for key, value in given.items():
        _check_dimension(name, key, value)
    sizes = {
        key: given.get(key, dimension.default_at(lowest_mhz))
        for key, dimension in spec.dimensions.items()
    }
    if bool(points_m) != spec.takes_points:
        needs = "needs its points" if spec.takes_points else "takes no points"
        raise InputError(f"{name}: {needs} as east, north and up in metres")
    wire = conductor or Conductor()
    where = (points_m,) if spec.takes_points else ()
    hung = spec.function(*where, **sizes, conductor=wire)
    return HungWire(name, hung.wires, hung.feed, hung.supports, hung.length_m)


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
