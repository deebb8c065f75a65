"""What is told of the things that can be put on a map."""

from __future__ import annotations

from dataclasses import field
from typing import Literal

from geo.fields import Share, Utc, record


@record
class PointHour:
    """
    One hour.

    Attributes
    ----------
    utc : str
        The hour.
    band : str
        Band to be on; empty where the whole target is closed.
    chance : float
        Chance of a contact with the point; NaN where the whole target is closed.
    """

    utc: Utc
    band: str
    chance: Share


@record
class Here:
    """
    Where it is sent from.

    Attributes
    ----------
    kind : str
        What it is.
    label : str
        The place as it was given.
    """

    kind: Literal["station"] = field(default="station", init=False)
    label: str


@record
class Reached:
    """
    A sample point of a target and the best hour there.

    Attributes
    ----------
    kind : str
        What it is.
    target : str
        Name of the target.
    setup : str
        Name of the set-up, the best.
    distance_km : float
        Length of the way to the point. [km]
    bearing_deg : float
        Bearing of that way at the station, true. [deg]
    utc : str
        The hour: the target's best of those asked about, UTC to the minute, such as
        2026-12-05T14:00Z.
    band : str
        Band to be on; empty where the whole target is closed.
    chance : float
        Chance of a contact with the point at that hour on that band; NaN where the
        whole target is closed.
    """

    kind: str = field(default="", init=False)
    target: str
    setup: str
    distance_km: float
    bearing_deg: float
    utc: Utc
    band: str
    chance: Share


@record
class TargetPoint(Reached):
    """
    One sample point of a target.

    Attributes
    ----------
    kind : str
        What it is.
    weight : float
        What the point weighs, the sum over the target being 1.
    hours : tuple of PointHour
        Hour by hour; for the map that of the map alone.
    """

    kind: Literal["target point"] = field(default="target point", init=False)
    weight: float
    hours: tuple[PointHour, ...]


@record
class WayThere(Reached):
    """
    Great circle from the station to a sample point.

    Attributes
    ----------
    kind : str
        What it is.
    is_long_path : bool
        Whether the long way round is meant.
    """

    kind: Literal["path"] = field(default="path", init=False)
    is_long_path: bool


@record
class ChanceCell:
    """
    Cell of the map whose middle has a chance of one day in twenty or more.

    Attributes
    ----------
    kind : str
        What it is.
    setup : str
        Name of the set-up.
    utc : str
        The hour, UTC to the minute, such as 2026-12-05T14:00Z.
    band : str
        The band.
    near_km : float
        Nearest from the station. [km]
    far_km : float
        Farthest. [km]
    from_deg : float
        Beginning, clockwise from true north. [deg]
    to_deg : float
        End. [deg]
    chance : float
        Chance of a contact with a place in the middle of the cell.
    is_long_path : bool
        Whether the long way round is meant.
    """

    kind: Literal["chance"] = field(default="chance", init=False)
    setup: str
    utc: Utc
    band: str
    near_km: float
    far_km: float
    from_deg: float
    to_deg: float
    chance: Share
    is_long_path: bool


@record
class MapSkipZone:
    """
    What lies nearer than the layers reach, on the map.

    Attributes
    ----------
    kind : str
        What it is.
    utc : str
        The hour, UTC to the minute, such as 2026-12-05T14:00Z.
    band : str
        The band.
    from_km : float
        Where it begins. [km]
    radius_km : float
        How far it goes. [km]
    bearing_deg : float
        Middle of the sector it is told for; NaN where the target lies all
        round. [deg]
    """

    kind: Literal["skip zone"] = field(default="skip zone", init=False)
    utc: Utc
    band: str
    from_km: float
    radius_km: float
    bearing_deg: float


@record
class SkipZone:
    """
    What lies nearer than the layers reach.

    Attributes
    ----------
    kind : str
        What it is.
    utc : str
        The hour, UTC to the minute, such as 2026-12-05T14:00Z.
    band : str
        The band.
    radius_km : float
        How far it goes. [km]
    radius_low_km : float
        Low end of the range over solar activity; NaN if the layers serve
        nothing there. [km]
    radius_high_km : float
        High end; NaN if the layers serve nothing there. [km]
    """

    kind: Literal["skip zone"] = field(default="skip zone", init=False)
    utc: Utc
    band: str
    radius_km: float
    radius_low_km: float
    radius_high_km: float


@record
class RingEdge:
    """
    Distance at which near ends, or mid.

    Attributes
    ----------
    kind : str
        What it is.
    radius_km : float
        That distance. [km]
    """

    kind: Literal["ring edge"] = field(default="ring edge", init=False)
    radius_km: float


@record
class GreyLine:
    """
    Where the sun rises or sets.

    Attributes
    ----------
    kind : str
        What it is.
    utc : str
        The hour, UTC to the minute, such as 2026-12-05T14:00Z.
    """

    kind: Literal["grey line"] = field(default="grey line", init=False)
    utc: Utc


@record
class SunOverhead:
    """
    Where the sun stands overhead.

    Attributes
    ----------
    kind : str
        What it is.
    utc : str
        The hour, UTC to the minute, such as 2026-12-05T14:00Z.
    """

    kind: Literal["sun"] = field(default="sun", init=False)
    utc: Utc


FEATURES: dict[type, Literal["Point", "LineString", "Polygon"]] = {
    Here: "Point",
    TargetPoint: "Point",
    WayThere: "LineString",
    ChanceCell: "Polygon",
    MapSkipZone: "Polygon",
    SkipZone: "Polygon",
    RingEdge: "LineString",
    GreyLine: "LineString",
    SunOverhead: "Point",
}
"""Everything there is, and its shape; lines and areas may be cut into several."""
