"""Coordinates as they stand on a map or a phone: degrees, minutes, seconds, letters."""

from __future__ import annotations

import re
from typing import Final

from geo.errors import InputError

_LETTERS_BEHIND: Final = re.compile(
    r"([^a-z]*\d[^a-z]*[NSEW])[\s,;]*([^a-z]*\d[^a-z]*[NSEW])", re.I
)
_LETTERS_AHEAD: Final = re.compile(
    r"([NSEW][^a-z]*\d[^a-z]*?)[\s,;]*([NSEW][^a-z]*\d[^a-z]*)", re.I
)
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
    pair = _LETTERS_BEHIND.fullmatch(asked) or _LETTERS_AHEAD.fullmatch(asked)
    if not pair:
        return asked
    parts = []
    for part in pair.groups():
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
    return ",".join(parts)
