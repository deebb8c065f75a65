"""
Supports where they stand: trees, poles, a roof edge, seen from where the operator is.

East and north are counted from the operator, heights from the ground at the foot of
each; a support on a slope also says how far that ground is up or down.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from itertools import combinations

from geo.errors import InputError, one_line
from geo.fields import record

LOWEST_SUPPORT_M, HIGHEST_SUPPORT_M = 1.0, 60.0
FARTHEST_SUPPORT_M = 300.0
MOST_SLOPE_M = 60.0
"""Supports outside these are slips of the pen: no wire of these shapes goes there."""

_APART_M = 0.5
"""Two supports nearer than this are one."""

_MOST_LETTERS = 100

_FORM = "name, bearing, distance and height, such as 'oak 20deg 12m 9m high'"
_FIGURE = re.compile(
    r"(?<!\S)([-+]?\d+(?:\.\d+)?)\s*(degrees|deg|\N{DEGREE SIGN}|m)(?!\w)"
    r"(?:\s+(high|up|down|away)(?!\w))?"
)


@record
class Post:
    """
    A tree, pole, mast or edge that can hold a wire, and where it stands.

    Attributes
    ----------
    name : str
        What the operator calls it.
    bearing_deg : float
        Direction from the operator, clockwise from true north, 0 to 360. [deg]
    distance_m : float
        How far away its foot is, 0 to 300. [m]
    height_m : float
        Height of the point that holds a wire over the ground at its foot, 1 to 60. [m]
    ground_m : float
        How far that ground is above the operator's, -60 to 60. [m]

    Raises
    ------
    geo.errors.InputError
        If a number is not possible.
    """

    name: str
    bearing_deg: float
    distance_m: float
    height_m: float
    ground_m: float = 0.0

    def __post_init__(self) -> None:
        for what, value, low, high, unit in (
            ("bearing", self.bearing_deg, 0.0, 360.0, "deg"),
            ("distance", self.distance_m, 0.0, FARTHEST_SUPPORT_M, "m"),
            ("height", self.height_m, LOWEST_SUPPORT_M, HIGHEST_SUPPORT_M, "m"),
            ("ground", self.ground_m, -MOST_SLOPE_M, MOST_SLOPE_M, "m"),
        ):
            if not low <= value <= high:
                raise InputError(
                    f"support '{one_line(self.name)}': its {what} of {value:g} {unit} "
                    f"is outside {low:g} to {high:g} {unit}"
                )

    @property
    def at_m(self) -> complex:
        """Where it stands: east, and north as the imaginary part, in metres."""
        azimuth = math.radians(self.bearing_deg)
        return self.distance_m * complex(math.sin(azimuth), math.cos(azimuth))

    @property
    def top_m(self) -> float:
        """Height of its top over the operator's ground, in metres."""
        return self.ground_m + self.height_m

    def away_m(self, other: Post) -> float:
        """
        Distance on the map to another.

        Parameters
        ----------
        other : Post
            The other.

        Returns
        -------
        away_m : float
            From foot to foot. [m]
        """
        return abs(self.at_m - other.at_m)


def read_post(text: str) -> Post:
    """
    Read a support as a person says it.

    Parameters
    ----------
    text : str
        Its name; bearing with ``deg``; distance with ``m``; height with ``m high``; if
        its ground is higher or lower, that with ``m up`` or ``m down``. In any order.
        A support beside the operator needs no bearing.

    Returns
    -------
    post : Post
        The support.

    Raises
    ------
    geo.errors.InputError
        If it is none.

    Examples
    --------
    >>> post = read_post("old oak 20deg 12m 9m high 2m down")
    >>> post.name, post.bearing_deg, post.distance_m, post.height_m, post.ground_m
    ('old oak', 20.0, 12.0, 9.0, -2.0)
    """
    if len(text) > _MOST_LETTERS:
        raise InputError(
            f"a support of {len(text)} letters: give it in {_MOST_LETTERS} at most"
        )
    said = one_line(text)
    found: dict[str, float] = {}

    def take(match: re.Match[str]) -> str:
        figure, unit, word = match.groups()
        kind = "deg" if unit != "m" else {"down": "up"}.get(word or "", word or "away")
        if kind in found or (kind == "deg" and word):
            raise InputError(f"support '{said}': say one {_FORM}")
        found[kind] = -float(figure) if word == "down" else float(figure)
        return " "

    name = " ".join(_FIGURE.sub(take, text).replace(",", " ").split())
    missing = {"away", "high"} - set(found)
    if not missing and found["away"] > 0.0:
        missing = {"deg"} - set(found)
    # A figure left in the name is one without its unit; no number is one.
    if missing or not name or re.search(r"(?<!\S)[-+]?(\d|nan\b|inf\b)", name):
        raise InputError(f"support '{said}': give its {_FORM}")
    return Post(
        name,
        found.get("deg", 0.0),
        found["away"],
        found["high"],
        found.get("up", 0.0),
    )


def checked_posts(posts: Sequence[Post]) -> tuple[Post, ...]:
    """
    Refuse supports that cannot be told apart.

    Parameters
    ----------
    posts : sequence of Post
        Supports.

    Returns
    -------
    posts : tuple of Post
        The same.

    Raises
    ------
    geo.errors.InputError
        If two have one name or stand in one place.
    """
    for one, other in combinations(posts, 2):
        if one.name.casefold() == other.name.casefold():
            raise InputError(
                f"two supports are called '{one_line(one.name)}': give each its own "
                "name, such as 'north tree'"
            )
        if one.away_m(other) < _APART_M:
            raise InputError(
                f"supports '{one_line(one.name)}' and '{one_line(other.name)}' stand "
                "in one place: give the higher of them, or look at bearing and distance"
            )
    return tuple(posts)


def heights_over(posts: Sequence[Post]) -> list[float]:
    """
    Heights of tops over the mean ground of supports that hold one wire together.

    Parameters
    ----------
    posts : sequence of Post
        Supports, at least one.

    Returns
    -------
    height_m : list of float
        In their order. The wire is worked out over level ground at that mean. [m]

    Examples
    --------
    A tree 9 m high, and one 6 m high that stands 3 m further up the hill:

    >>> low, high = read_post("low 0deg 9m 9m high"), Post("high", 180.0, 9.0, 6.0, 3.0)
    >>> heights_over([low, high])
    [7.5, 7.5]
    """
    mean_m = sum(post.ground_m for post in posts) / len(posts)
    return [post.top_m - mean_m for post in posts]


def pair_heights(posts: Sequence[Post]) -> list[float]:
    """
    Heights at which pairs of supports hold a level wire.

    Parameters
    ----------
    posts : sequence of Post
        Supports.

    Returns
    -------
    height_m : list of float
        Different ones, to 0.1 m below, highest first; of one support its own. [m]
    """
    pairs = combinations(posts, min(2, len(posts)))
    held = {math.floor(10.0 * min(heights_over(pair)) + 1e-6) / 10.0 for pair in pairs}
    return sorted((height for height in held if height > 0.0), reverse=True)
