"""The way a wire runs, in words and figures."""

from __future__ import annotations

POINTS_OF_THE_COMPASS = (
    "north", "north-north-east", "north-east", "east-north-east",
    "east", "east-south-east", "south-east", "south-south-east",
    "south", "south-south-west", "south-west", "west-south-west",
    "west", "west-north-west", "north-west", "north-north-west",
)  # fmt: skip


def compass_point(bearing_deg: float) -> str:
    """
    Name the nearest of the sixteen points of the compass.

    Parameters
    ----------
    bearing_deg : float
        Bearing. [deg]

    Returns
    -------
    name : str
        Such as ``north-north-east``.

    Examples
    --------
    >>> compass_point(22.0), compass_point(359.0)
    ('north-north-east', 'north')
    """
    return POINTS_OF_THE_COMPASS[round(bearing_deg / 22.5) % 16]


def run_words(
    wire_deg: float, declination_deg: float | None = None, end: str = ""
) -> str:
    """
    Say which way a wire runs, true and by compass, and in words.

    Parameters
    ----------
    wire_deg : float
        Wire bearing from true north. [deg]
    declination_deg : float, optional
        Magnetic declination, east positive; without it no bearing by compass. [deg]
    end : str, optional
        Name of the end that the bearing starts from, as
        `advisor.answers.first_end.first_end` has it; empty where the wire may run
        either way.

    Returns
    -------
    words : str
        Both bearings of a wire that may run either way; else where its first end
        is, and the one bearing from there along the wire.

    Examples
    --------
    >>> run_words(65.0, 14.0)
    '065-245 true (051-231 by compass), east-north-east to west-south-west'
    >>> run_words(65.0, 14.0, "fed end")
    'from west-south-west (fed end) towards east-north-east: 065 true (051 by compass)'
    """
    figures = f"{run_figures(wire_deg, end)} true"
    if declination_deg is not None:
        figures += f" ({run_figures(wire_deg - declination_deg, end)} by compass)"
    ahead, behind = compass_point(wire_deg), compass_point(wire_deg + 180.0)
    if end:
        return f"from {behind} ({end}) towards {ahead}: {figures}"
    return f"{figures}, {ahead} to {behind}"


def run_title(wire_deg: float, end: str = "") -> str:
    """
    Say which way a wire runs, as shortly as can be.

    Parameters
    ----------
    wire_deg : float
        Wire bearing from true north. [deg]
    end : str, optional
        Name of the end that the bearing starts from; empty where the wire may run
        either way.

    Returns
    -------
    words : str
        As `run_words` has it; figures alone where the wire may run either way.

    Examples
    --------
    >>> run_title(65.0)
    '065-245 true'
    >>> run_title(65.0, "high end")
    'from west-south-west (high end) towards east-north-east: 065 true'
    """
    words = run_words(wire_deg, end=end)
    return words if end else words.partition(",")[0]


def run_figures(wire_deg: float, end: str = "") -> str:
    """
    Write the bearing of a wire: one for a wire with a first end, else both.

    Parameters
    ----------
    wire_deg : float
        Wire bearing. [deg]
    end : str, optional
        Name of the end that the bearing starts from; empty where the wire may run
        either way.

    Returns
    -------
    figures : str
        Three digits each, 000 for 360.

    Examples
    --------
    >>> run_figures(359.8), run_figures(245.0, "high end")
    ('000-180', '245')
    """
    ahead = round(wire_deg) % 360
    return f"{ahead:03d}" if end else f"{ahead:03d}-{(ahead + 180) % 360:03d}"
