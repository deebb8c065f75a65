"""
What one value of a station may be: checks that give it back or say what is wrong.

A check takes whatever a file or an option held and returns the value to use. If
it cannot, it raises `InputError` with the value and what is allowed; `checked`
puts the place where the value stood in front.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from geo.errors import InputError, near_matches

Check = Callable[[Any], Any]
"""Returns the value to use, or raises `InputError`."""

Where = Callable[[str], str]
"""Names a key path as the user knows it: an option, or a line of a file and a key."""


@dataclass(frozen=True)
class Key:
    """
    One key of a station or a set-up.

    Attributes
    ----------
    check : callable
        What its value may be.
    about : str
        What it is, in a few words with its unit.
    default : object
        Value when it is left out, as written in a file; None if there is none.
    required : bool
        Whether it must be given.
    """

    check: Check
    about: str
    default: Any = None
    required: bool = False


def shown(value: object) -> str:
    r"""
    Write a value of any kind on one short line.

    Parameters
    ----------
    value : object
        What came.

    Returns
    -------
    text : str
        At most 60 characters.

    Examples
    --------
    >>> shown("a\nb")
    "'a\\nb'"
    """
    try:
        text = repr(value)
    except (ValueError, RecursionError):
        text = "a value too long to show"
    text = " ".join(text.split())
    return text if len(text) <= 60 else text[:57] + "..."


def spoken(path: str) -> str:
    """
    Write a key path in the user's words.

    Parameters
    ----------
    path : str
        A key path, set-ups counted from 0.

    Returns
    -------
    words : str
        The same with set-ups counted from 1.

    Examples
    --------
    >>> spoken("setups[0].height_m"), spoken("setups[1]"), spoken("far_end.noise")
    ('height_m of set-up 1', 'set-up 2', 'far_end.noise')
    """
    found = re.fullmatch(r"setups\[(\d+)\](?:\.(.*))?", path, re.DOTALL)
    if not found:
        return path
    set_up = f"set-up {int(found[1]) + 1}"
    return f"{found[2]} of {set_up}" if found[2] else set_up


def fold(name: str) -> str:
    """
    Make names that differ only in case, hyphens or spaces alike.

    Parameters
    ----------
    name : str
        A name as typed.

    Returns
    -------
    folded : str
        The form to compare.

    Examples
    --------
    >>> fold("Quarter_wave  vertical") == fold("quarter-wave vertical")
    True
    """
    return " ".join(name.replace("-", " ").replace("_", " ").casefold().split())


def text(value: Any, most: int = 80) -> str:
    """
    Accept one line of text.

    Parameters
    ----------
    value : object
        What came.
    most : int, optional
        So many characters at most.

    Returns
    -------
    text : str
        The text without blanks around it, 1 to ``most`` characters.

    Raises
    ------
    InputError
        If it is anything else.
    """
    if (
        not isinstance(value, str)
        or not value.isprintable()
        or not 0 < len(value.strip()) <= most
    ):
        raise InputError(
            f"{shown(value)} is not allowed: give text in quotes, 1 to {most} "
            "characters"
        )
    return value.strip()


def file_name(value: Any) -> str:
    """
    Accept the name of a file, with the folders it lies in.

    Parameters
    ----------
    value : object
        What came.

    Returns
    -------
    name : str
        The name, 1 to 4096 characters.

    Raises
    ------
    InputError
        If it is anything else.
    """
    return text(value, 4096)


def number(low: float, high: float, unit: str, *, above: bool = False) -> Check:
    """
    Make a check for a number in a range.

    Parameters
    ----------
    low, high : float
        The range, both ends in it.
    unit : str
        Unit for the error text.
    above : bool, optional
        Whether `low` itself is left out.

    Returns
    -------
    check : callable
        Returns a float.

    Examples
    --------
    >>> number(0.0, 150.0, "m", above=True)(7)
    7.0
    """
    span = f"above {low:g} and up to" if above else f"from {low:g} to"
    allowed = f"give a number {span} {high:g} {unit}".rstrip()

    def check(value: Any) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            hint = ", without quotes" if isinstance(value, str) else ""
            if isinstance(value, str):
                plain = plain_figure(value, unit)
                hint = f", such as {plain}" if plain not in ("", value) else hint
            raise InputError(f"{shown(value)} is not allowed: {allowed}{hint}")
        if not low <= value <= high or (above and value == low):
            raise InputError(f"{shown(value)} is not allowed: {allowed}")
        return float(value)

    return check


def plain_figure(text: str, unit: str) -> str:
    """
    Read a number with a decimal comma or a unit, to offer it as it should be written.

    Parameters
    ----------
    text : str
        What came.
    unit : str
        Unit it should be in: one of ``m``, ``mm``, ``km``, ``W``, ``deg``, ``dB``,
        ``MHz``, or anything else for none.

    Returns
    -------
    figure : str
        The number alone, in that unit; empty if it cannot be told.

    Examples
    --------
    >>> plain_figure("30ft", "m"), plain_figure("9,1", "m"), plain_figure("30ft", "W")
    ('9.14', '9.1', '')
    """
    found = re.fullmatch(r"\s*(-?\d+(?:[.,]\d+)?)\s*(\D*?)\s*", text)
    if not found:
        return ""
    figure = float(found[1].replace(",", "."))
    came = found[2].strip(".").casefold()
    known = _UNITS.get(unit, {})
    if came and came != unit.casefold() and came not in known:
        return ""
    if came not in known:
        return f"{figure:g}"
    # A foot need not be known to the micrometre; a power of ten loses nothing.
    is_exact = math.log10(known[came]).is_integer()
    return f"{float(f'{figure * known[came]:.{9 if is_exact else 3}g}'):.9g}"


_MEANT_KEYS = {
    "height m": (
        *("apex_m", "end_height_m", "feed_height_m", "high_m", "corner_m", "top_m"),
    )
}
"""Keys of shapes that are not near in spelling to what is typed for them."""

_FOOT_M = 0.3048
_UNITS: Mapping[str, Mapping[str, float]] = {
    "m": {
        "ft": _FOOT_M, "foot": _FOOT_M, "feet": _FOOT_M, "'": _FOOT_M, "yd": 0.9144,
        "in": 0.0254, '"': 0.0254, "cm": 0.01, "mm": 0.001, "km": 1000.0,
        "metre": 1.0, "metres": 1.0, "meter": 1.0, "meters": 1.0,
    },
    "mm": {"in": 25.4, '"': 25.4, "cm": 10.0, "m": 1000.0},
    "km": {"mi": 1.609344, "mile": 1.609344, "miles": 1.609344, "m": 0.001},
    "W": {"kw": 1000.0, "watt": 1.0, "watts": 1.0},
    "deg": {"°": 1.0, "degrees": 1.0, "degree": 1.0},
    "MHz": {"khz": 0.001},
}  # fmt: skip
"""For each unit, what one of another is. The foot, inch, yard and mile of 1959."""


def one_of(names: Callable[[], tuple[str, ...]]) -> Check:
    """
    Make a check for a name out of a list.

    Parameters
    ----------
    names : callable
        Returns the allowed names; called when a value is checked, not before.

    Returns
    -------
    check : callable
        Returns the name as listed, whatever its case and hyphens were.
    """

    def check(value: Any) -> str:
        allowed = names()
        for name in allowed:
            if isinstance(value, str) and fold(name) == fold(value):
                return name
        is_text = isinstance(value, str)
        close = near_matches(value, allowed, meant=meant()) if is_text else ""
        raise InputError(
            f"{shown(value)} is not known{f' ({close})' if close else ''}:"
            f" give one of {', '.join(allowed)}"
        )

    return check


# Words people use for what has another name here, to offer the name; common usage.
_NOISE: Mapping[str, tuple[str, ...]] = {
    "urban": ("city", "residential"),
    "town": ("city", "residential"),
    "downtown": ("city",),
    "business": ("city",),
    "industrial": ("city",),
    "suburban": ("residential",),
    "suburb": ("residential",),
    "suburbs": ("residential",),
    "village": ("residential", "rural"),
    "countryside": ("rural",),
    "country": ("rural",),
    "farm": ("rural",),
    "field": ("rural",),
    "quiet": ("quiet rural",),
    "remote": ("quiet rural",),
    "wilderness": ("quiet rural",),
}

_GROUND: Mapping[str, tuple[str, ...]] = {
    "sea": ("sea water",),
    "salt water": ("sea water",),
    "saltwater": ("sea water",),
    "ocean": ("sea water",),
    "lake": ("fresh water",),
    "freshwater": ("fresh water",),
    "marsh": ("wet ground",),
    "good": ("rich", "very good land"),
    "normal": ("average",),
    "medium": ("average", "medium dry"),
    "sand": ("dry", "very dry"),
    "desert": ("very dry",),
    "rock": ("poor", "very dry"),
    "rocky": ("poor", "very dry"),
    "snow": ("ice",),
}


def meant() -> Mapping[str, tuple[str, ...]]:
    """
    Gather the words, those of the shapes too.

    Returns
    -------
    meant : mapping of str to tuple of str
        For each word, in small letters with single blanks, what it may mean.
    """
    from advisor.antenna.shapes.registry import also_called

    return {**_NOISE, **_GROUND, **also_called()}


def several(check: Check, what: str, *, commas: bool = False) -> Check:
    """
    Make a check for a list; a text alone stands for a list of one.

    Parameters
    ----------
    check : callable
        What each part may be.
    what : str
        What the parts are, in the plural, for the error text.
    commas : bool, optional
        Whether a text may hold several parts with commas between them.

    Returns
    -------
    check : callable
        Returns a tuple of the parts, repeated ones left out.

    Examples
    --------
    >>> several(text, "names", commas=True)("a, b,a")
    ('a', 'b')
    """

    def check_all(value: Any) -> tuple[Any, ...]:
        parts = value
        if isinstance(value, str):
            parts = value.split(",") if commas else [value]
        if not isinstance(parts, list | tuple) or not parts:
            raise InputError(
                f"{shown(value)} is not allowed: give a list of {what}, at least one"
            )
        return tuple(dict.fromkeys(check(part) for part in parts))

    return check_all


def bearing(value: Any) -> float | None:
    """
    Accept a bearing, or "any" for a wire that is free to turn.

    Parameters
    ----------
    value : object
        What came.

    Returns
    -------
    bearing_deg : float or None
        Clockwise from true north, 0 up to 360; None for "any". [deg]

    Raises
    ------
    InputError
        If it is neither.
    """
    if isinstance(value, str):
        if fold(value) == "any":
            return None
        raise InputError(
            f"{shown(value)} is not allowed: give degrees from true north, 0 to 360,"
            " without quotes, or 'any'"
        )
    degrees: float = number(0.0, 360.0, "deg from true north, or 'any'")(value)
    return math.fmod(degrees, 360.0)


def flag(value: Any) -> bool:
    """
    Accept true or false.

    Parameters
    ----------
    value : object
        What came.

    Returns
    -------
    flag : bool
        The same.

    Raises
    ------
    InputError
        If it is anything else.
    """
    if not isinstance(value, bool):
        raise InputError(f"{shown(value)} is not allowed: give true or false")
    return value


def checked(
    values: Any, keys: Mapping[str, Key], path: str, where: Where
) -> dict[str, Any]:
    """
    Check every value of one table.

    Parameters
    ----------
    values : object
        What came; must be a mapping. A value of None counts as left out.
    keys : mapping of str to Key
        The keys it may have.
    path : str
        Key path of the table itself, empty at the top.
    where : callable
        Names a key path as the user knows it.

    Returns
    -------
    values : dict
        The checked values of the keys that were given.

    Raises
    ------
    InputError
        If it is no mapping, a key is unknown or a value is not allowed. The text
        begins with what `where` calls it.
    """
    if not isinstance(values, Mapping):
        raise InputError(
            f"{where(path)}: {shown(values)} is not allowed: give a table"
            f" with the keys {', '.join(keys)}"
        )
    found = {}
    for name, value in values.items():
        here = f"{path}.{name}" if path else str(name)
        if name not in keys:
            close = near_matches(str(name), keys, meant=_MEANT_KEYS)
            raise InputError(
                f"{where(here)}: there is no such key here"
                f"{f' ({close})' if close else ''}: allowed are {', '.join(keys)}"
            )
        if value is None:
            continue
        try:
            found[name] = keys[name].check(value)
        except InputError as error:
            raise InputError(f"{where(here)}: {error}") from error
    return found
