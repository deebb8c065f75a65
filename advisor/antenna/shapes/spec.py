"""
What one entry says about a shape: dimensions, flags, feed, words, and the search.

Entries stand beside their functions; `advisor.antenna.shapes.registry` gathers them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from advisor.antenna.shapes.dimensions import Dimension
from advisor.antenna.shapes.parts import HungWire
from advisor.antenna.shapes.search import Range, Starts


def nearer_the_feed(sizes: Mapping[str, float]) -> str:
    """
    Name the first end of a wire by where along it the feed is.

    Parameters
    ----------
    sizes : mapping of str to float
        Every dimension of the shape.

    Returns
    -------
    end : str
        Empty if it is fed in its middle, or in a place that is not given.
    """
    share = sizes.get("feed_share", 0.5)
    if share == 0.5:
        return ""
    return "end nearer the feed" if share < 0.5 else "end away from the feed"


@dataclass(frozen=True)
class ShapeSpec:
    """
    All there is to say of a shape that can be asked for by name.

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
        Whether its points are given one by one; the search leaves such a shape out.
    top : str
        The dimension that says how high it hangs; empty if its length says it.
    is_resonant : bool
        Whether it is cut for each band; else it has one length for many.
    has_bearing : bool
        Whether it matters which way it runs.
    is_centre_fed : bool
        Whether it has two sides, so that a link goes into both.
    is_quarter_wave : bool
        Whether it is meant as a quarter-wave fed at its foot, where the voltage is low.
    first_end : str or callable
        Name of the end its bearing starts from, or a function from its dimensions to
        the name; empty where both are alike.
    slope : tuple of (str, str)
        The dimensions that are the heights of its upper and lower ends, if it slopes
        down from one point: linked for a shorter band it stays on that line.
    least_waves : float
        Shortest wire of one length that is hung for a band, 0 for any: common practice,
        no source. [wavelengths]
    least_rise_deg : float
        Slope its sides must have at least from the lower corners to the upper. [deg]
    if_too_long : str
        What to take between supports that are too near for it.
    synonyms : tuple of str
        What else people call it, in small letters with single blanks; common usage.
    starts : callable or None
        What a search tries first, from what is at hand and the height to keep; None for
        the defaults only. [m]
    searched : mapping of str to (tuple of float or callable)
        Dimensions a search may change, those that matter most first, each with its
        range or a function to it.
    lower_m : tuple of float
        Heights that its live ends and lying wires may come down to if they cannot be
        kept out of reach, in order of trial. [m]
    """

    function: Callable[..., HungWire]
    dimensions: Mapping[str, Dimension]
    help: str
    transformer: str = "1:1"
    line: str = "RG-58"
    takes_points: bool = False
    top: str = "height_m"
    is_resonant: bool = True
    has_bearing: bool = True
    is_centre_fed: bool = False
    is_quarter_wave: bool = False
    first_end: str | Callable[[Mapping[str, float]], str] = nearer_the_feed
    slope: tuple[()] | tuple[str, str] = ()
    least_waves: float = 0.0
    least_rise_deg: float = 0.0
    if_too_long: str = ""
    synonyms: tuple[str, ...] = ()
    starts: Starts | None = None
    searched: Mapping[str, Range] = field(default_factory=dict)
    lower_m: tuple[float, ...] = (2.0, 1.5, 1.0, 0.0)
