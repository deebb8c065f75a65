"""
Dimensions of shapes: limits, defaults that go with one another, and the usual kinds.

Default sizes are common practice for bare wire, no source, rounded to what the wire
solver finds resonant over average ground; it also says how to trim.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from advisor.antenna.shapes.parts import LEAST_HEIGHT_M, LOWEST_M

USUAL_TOP_M = 12.0
"""A pole or branch that people have: no default of a wire that can bend or lie flatter
goes higher (common practice, no source). [m]"""


class Settling:
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
    default: Callable[[Settling], float]
    low: float
    high: float
    help: str


Default = Callable[[Settling], float]
"""From the wavelength and the other dimensions to the default of one."""


def fixed(value: float) -> Default:
    """
    Make a default that is always the same.

    Parameters
    ----------
    value : float
        The default.

    Returns
    -------
    default : callable
        Returns it.
    """
    return lambda _: value


def times(key: str, share: float) -> Default:
    """
    Make a default that goes with another dimension.

    Parameters
    ----------
    key : str
        The other.
    share : float
        What share of it. [1]

    Returns
    -------
    default : callable
        Returns that share.
    """
    return lambda sizes: share * sizes[key]


def metres(about: str, default: float | Default) -> Dimension:
    """
    Make a length.

    Parameters
    ----------
    about : str
        One line of help.
    default : float or callable
        A number of wavelengths, or worked out.

    Returns
    -------
    dimension : Dimension
        0.1 to 400 m.
    """
    waves = default
    settled = waves if callable(waves) else lambda sizes: waves * sizes.wave_m
    return Dimension("m", settled, 0.1, 400.0, about)


def height(about: str, default: Default) -> Dimension:
    """
    Make a height of something that hangs.

    Parameters
    ----------
    about : str
        One line of help.
    default : callable
        Its default.

    Returns
    -------
    dimension : Dimension
        0.01 to 100 m.
    """
    return Dimension("m", default, LOWEST_M, 100.0, about)


def foot(about: str, default_m: float) -> Dimension:
    """
    Make a height of something fed against radials or a counterpoise.

    Parameters
    ----------
    about : str
        One line of help.
    default_m : float
        Its default. [m]

    Returns
    -------
    dimension : Dimension
        0.01 to 100 m.
    """
    return Dimension("m", fixed(default_m), LOWEST_M, 100.0, about)


def sag(share: float, *held: str, key: str = "length_m") -> Dimension:
    """
    Make a sag: a share of a length, but never so much that it comes too low.

    Parameters
    ----------
    share : float
        What share. [1]
    *held : str
        Heights that the sagging wire is held at.
    key : str, optional
        The length.

    Returns
    -------
    dimension : Dimension
        0 to 30 m.
    """

    def default(sizes: Settling) -> float:
        heights_m = [sizes[height] for height in held]
        low_m, high_m = min(heights_m), max(heights_m)
        # A quarter of the rise still leaves the lower end lowest.
        room_m = max(0.25 * (high_m - low_m), 0.5 * (low_m - LEAST_HEIGHT_M), 0.0)
        return min(share * sizes[key], room_m)

    return Dimension("m", default, 0.0, 30.0, "how far the middle hangs through")


def feed_share(about: str, low: float, high: float) -> Dimension:
    """
    Make a place of the feed along a wire, by default its middle.

    Parameters
    ----------
    about : str
        One line of help.
    low, high : float
        What is allowed. [1]

    Returns
    -------
    dimension : Dimension
        A share of the length.
    """
    return Dimension("1", fixed(0.5), low, high, about)


def counterpoise(default: Default) -> Dimension:
    """
    Make the length of what an end-fed wire is fed against.

    Parameters
    ----------
    default : callable
        Its default.

    Returns
    -------
    dimension : Dimension
        0.3 to 100 m.
    """
    return Dimension(
        "m", default, 0.3, 100.0, "length of the counterpoise at the feedpoint"
    )


def radials(share: float, count: float = 4.0) -> dict[str, Dimension]:
    """
    Make number and length of radials.

    Parameters
    ----------
    share : float
        Their length as a share of the wire's. [1]
    count : float, optional
        How many by default. [1]

    Returns
    -------
    dimensions : dict of str to Dimension
        Both.
    """
    return {
        "radials_n": Dimension("1", fixed(count), 1.0, 64.0, "number of radials"),
        "radial_m": metres("length of each radial", times("length_m", share)),
    }


def lower_end(top: str, share: float) -> Default:
    """
    Make a default so far under a top, but not under 2.5 m unless the top is low.

    Parameters
    ----------
    top : str
        The height of the top.
    share : float
        How far below it, as a share of the length. [1]

    Returns
    -------
    default : callable
        Of the lower end.
    """

    def default(sizes: Settling) -> float:
        fits_m = min(2.5, 0.6 * sizes[top])
        return max(fits_m, sizes[top] - share * sizes["length_m"])

    return default


def over(low: str, usual_m: float, share: float) -> Default:
    """
    Make a default at the usual height, or at what suits a lower end that was given.

    Parameters
    ----------
    low : str
        The height of the lower end.
    usual_m : float
        The usual height. [m]
    share : float
        How far above a given lower end at most, as a share of the length. [1]

    Returns
    -------
    default : callable
        Of the upper end.
    """

    def default(sizes: Settling) -> float:
        given_m = sizes.given(low)
        if given_m is None:
            return usual_m
        rise_m = min(usual_m - given_m, share * sizes["length_m"])
        return given_m + max(rise_m, 0.1 * sizes["length_m"])

    return default
