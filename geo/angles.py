"""Coordinates as they stand on a map or a phone: degrees, minutes, seconds, letters."""

from __future__ import annotations

import re
from typing import Final

from geo.errors import InputError

_BETWEEN: Final = " \t\n\r\f\v,;"
"""What may stand between two coordinates."""

_ANGLE: Final = re.compile(
    r"(\d+(?:\.\d+)?)(?:[°º]\s*|\s+|$)"
    r"(?:(\d+(?:\.\d+)?)(?:\s*['′’]\s*|\s+|$))?"
    r"(?:(\d+(?:\.\d+)?)\s*(?:[\"″”]|''|$))?"
)


def without_minutes(asked: str) -> str:
    """
    Write two coordinates with letters as ``lat,lon`` in decimal degrees.

    Parameters
    ----------
    asked : str
        What was typed. Minutes and seconds may follow the degrees, a comma may stand
        for the decimal point, and the letters N, S, E, W stand behind or in front.

    Returns
    -------
    pair : str
        The two with a comma between and the letter behind each; anything else as it
        came.

    Raises
    ------
    InputError
        If there are 60 minutes or seconds or more.

    Examples
    --------
    >>> without_minutes("56°27'N 5°57'W"), without_minutes("56.45N 5.95W")
    ('56.45N,5.95W', '56.45N,5.95W')
    >>> without_minutes("-42.88,147.33"), without_minutes("QE37")
    ('-42.88,147.33', 'QE37')
    """
    parts = []
    for part in _two(asked):
        letter = next(each for each in part if each.isalpha()).upper()
        angle = _ANGLE.fullmatch(part.strip("NSEWnsew ").replace(",", "."))
        if not angle:
            return asked
        degrees, minutes, seconds = (float(each or 0.0) for each in angle.groups())
        if max(minutes, seconds) >= 60.0:
            raise InputError(
                f"place '{asked}': '{part.strip()}' has 60 minutes or seconds or more; "
                "for decimal degrees write '56.45N 5.95W'"
            )
        value_deg = degrees + minutes / 60.0 + seconds / 3600.0
        parts.append(f"{value_deg:.10f}".rstrip("0").rstrip(".") + letter)
    return ",".join(parts) or asked


def _two(asked: str) -> tuple[str, ...]:
    """Cut at the two letters, behind or ahead of their figures; nothing otherwise."""
    letters = [i for i, each in enumerate(asked) if each.isascii() and each.isalpha()]
    if len(letters) != 2 or not all(asked[i] in "NSEWnsew" for i in letters):
        return ()
    if letters[1] == len(asked) - 1:
        pair = asked[: letters[0] + 1], asked[letters[0] + 1 :].lstrip(_BETWEEN)
    elif letters[0] == 0:
        pair = asked[: letters[1]].rstrip(_BETWEEN), asked[letters[1] :]
    else:
        return ()
    return pair if all(any(each.isdigit() for each in part) for part in pair) else ()
