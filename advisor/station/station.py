"""
The station and its set-ups: frozen records, and the keys a station file may have.

Every key is declared once, in `STATION_KEYS` and `FAR_END_KEYS`, with what it may hold
and its default; those of the wires are in `advisor.station.setup`. Files are read in
`advisor.station.file`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from advisor.antenna.shapes.places import (
    FARTHEST_SUPPORT_M,
    HIGHEST_SUPPORT_M,
    LOWEST_SUPPORT_M,
    MOST_SLOPE_M,
    Post,
)
from advisor.station.bands import IARU_REGIONS
from advisor.station.checks import (
    Key,
    checked,
    file_name,
    fold,
    number,
    one_of,
    several,
    shown,
    text,
)
from advisor.station.emissions import Emission, custom_emission, emission_by_name
from advisor.station.learned import NOTHING_LEARNED, Learned
from advisor.station.list_checks import skyline, slopes
from advisor.station.setup import SetUp, band_name
from geo.errors import InputError, near_matches
from geo.fields import UNWRITTEN, Count, record

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from geo.arrays import Floats
    from geo.terrain import Terrain

FAR_END_KINDS: dict[str, dict[str, str | float]] = {
    "modest": {"antenna": "modest", "noise": "residential", "power_w": 40.0},
    "usual": {"antenna": "usual", "noise": "residential", "power_w": 100.0},
    "big": {"antenna": "big", "noise": "rural", "power_w": 700.0},
}
"""What each kind of station at the other end has where it is not told otherwise: any
one of a mix of antennas, median power and noise (mixes assumed, common practice)."""

FAR_END_ANTENNAS = ("dipole", "isotropic", "vertical", *FAR_END_KINDS)
"""What may be assumed of the antenna at the other end."""

OWN_ANTENNA = "own"
"""The antenna there where one of my set-ups hangs there."""


@record
class FarEnd:
    """
    What is assumed of the station at the other end.

    Attributes
    ----------
    antenna : str
        Antenna of the far end: dipole, isotropic or vertical, or any one of those that
        modest, usual or big stations have; own where a set-up is named.
    noise : str
        Noise there, by kind of place.
    power_w : float
        Power there. [W]
    kind : str
        Kind of station there: modest, usual or big.
    setup : str or None
        Name of the set-up of mine that hangs there too; None if none does.
    at_least_one_of : int
        How many stations there are, of which one is to be worked.
    wire : SetUp or None
        That set-up.
    """

    antenna: str
    noise: str
    power_w: float
    kind: str = "usual"
    setup: str | None = None
    at_least_one_of: Count = 1
    wire: SetUp | None = field(default=None, repr=False, metadata={UNWRITTEN: True})

    @property
    def words(self) -> str:
        """Say in a few words who is there, without the noise."""
        kind = f"{self.kind} station" if self.antenna == self.kind else "station"
        if self.at_least_one_of > 1:
            kind = f"at least one of {self.at_least_one_of} {kind}s"
        else:
            kind = f"a {kind}"
        if self.setup is not None:
            return f"{kind} with {self.setup}"
        if self.antenna == self.kind:
            return kind
        article = "an" if self.antenna == "isotropic" else "a"
        return f"{kind} with {article} {self.antenna}"


UNNAMED = "station"
"""Name of a station that was given none."""

TERRAIN_KEYS = ("terrain", "slopes")
"""Keys that say what ground is around; one of them at most."""

TABLE_KEYS = ("far_end", "setups", "supports", "learned")
"""Keys that hold tables of their own."""

OUTING_KEYS = ("battery_ah", "battery_v", "receive_a", "send_a", "walk_min")
"""Keys that only the plan of an outing reads; shown where they are given."""

DEMO_NAME = "demo: "
"""What the name of the demonstration begins with."""


@dataclass(frozen=True)
class Station:
    """
    Who transmits: place, power, surroundings, wires, and what the far end has.

    Attributes
    ----------
    name : str
        What the operator calls it.
    place : str
        Grid locator, or latitude and longitude with a comma between. [deg]
    power_w : float
        Power into the set-up's feed, peak envelope; of the carrier for AM. [W]
    emission : Emission
        What is sent and what it needs.
    noise : str
        Noise environment.
    noise_trim_db : float
        Added to the man-made noise of that environment. [dB]
    ground : str
        Kind of ground under the wires.
    horizon_deg : float
        Elevation of the edge that weakens flat rays, unless `horizon` says
        otherwise. [deg]
    bands : tuple of str
        Bands in use, lowest first.
    iaru_region : int
        Radio region: 1, 2 or 3.
    far_end : FarEnd
        What is assumed at the other end.
    setups : tuple of SetUp
        The wires, at least one.
    time_zone : str or None
        IANA name of the zone that local times are shown in besides UTC.
    to : tuple of str
        Targets asked about when none are named; may be empty.
    horizon : tuple of (float, float)
        The skyline as azimuth from true north and elevation, by rising azimuth; takes
        the place of `horizon_deg` unless empty. [deg]
    terrain : tuple of str
        Elevation tiles, as files.
    slopes : tuple of (float, float, float)
        Points of the ground around: azimuth, distance, height over that at the place.
        [deg], [m], [m]
    hills : Terrain or None
        The ground around the place as either says; flat without one.
    supports : tuple of Post
        Trees and poles that hold a wire.
    battery_ah : float or None
        Charge that the battery gives; None if it is not known. [A h]
    battery_v : float
        Its voltage. [V]
    receive_a : float or None
        Current of the radio while it receives; None if it is not known. [A]
    send_a : float or None
        Current at full power; None if it is not known. [A]
    walk_min : float
        Way back from the site. [min]
    learned : Learned
        What a log taught of it; of the level of a set-up the set-up knows.
    also_sent : tuple of Emission
        What is sent besides `emission`.
    """

    name: str
    place: str
    power_w: float
    emission: Emission
    noise: str
    noise_trim_db: float
    ground: str
    horizon_deg: float
    bands: tuple[str, ...]
    iaru_region: int
    far_end: FarEnd
    setups: tuple[SetUp, ...]
    time_zone: str | None = None
    to: tuple[str, ...] = ()
    horizon: tuple[tuple[float, float], ...] = ()
    terrain: tuple[str, ...] = ()
    slopes: tuple[tuple[float, float, float], ...] = ()
    hills: Terrain | None = None
    supports: tuple[Post, ...] = ()
    battery_ah: float | None = None
    battery_v: float = 12.8
    receive_a: float | None = None
    send_a: float | None = None
    walk_min: float = 0.0
    learned: Learned = NOTHING_LEARNED
    also_sent: tuple[Emission, ...] = ()

    def __repr__(self) -> str:
        wires = ", ".join(setup.name for setup in self.setups)
        return (
            f"Station({self.place}, {self.emission.name} {self.power_w:g} W: {wires})"
        )

    @property
    def own_name(self) -> str:
        """Its name, where the operator gave it one; else empty."""
        named = self.name != UNNAMED and not self.name.startswith(DEMO_NAME)
        return self.name if named else ""

    def horizon_at(self, bearing_deg: ArrayLike) -> Floats:
        """
        Elevation of the horizon in some directions.

        Parameters
        ----------
        bearing_deg : array_like
            Direction clockwise from true north, any number of turns. [deg]

        Returns
        -------
        horizon_deg : numpy.ndarray
            On straight lines between the points of the skyline, all the way round;
            `horizon_deg` everywhere without one. [deg]
        """
        import numpy as np

        bearing = np.asarray(bearing_deg, dtype=float)
        if not self.horizon:
            return np.full(bearing.shape, self.horizon_deg)
        azimuth, elevation = zip(*self.horizon, strict=True)
        return np.asarray(np.interp(bearing, azimuth, elevation, period=360.0))

    @property
    def taught(self) -> str:
        """What a log taught of it, in one sentence; empty if none did."""
        return self.learned.words({each.name: each.level_db for each in self.setups})

    def learned_noise_db(self, frequency_mhz: ArrayLike) -> Floats:
        """
        How much more all noise here is than worked out, as learned.

        Parameters
        ----------
        frequency_mhz : array_like
            Shape (B,). [MHz]

        Returns
        -------
        more_db : numpy.ndarray
            Shape (B,); 0 outside the bands of which it is known. [dB]
        """
        return self.learned.noise_over_db(frequency_mhz, self.iaru_region)

    def edge_at(self, bearing_deg: ArrayLike) -> Floats:
        """
        Elevation of the edge that weakens rays.

        Parameters
        ----------
        bearing_deg : array_like
            As in `horizon_at`. [deg]

        Returns
        -------
        edge_deg : numpy.ndarray
            The horizon; 0 where the skyline is that of the ground around, whose field
            knows of its shadow already. [deg]
        """
        import numpy as np

        if self.hills is not None and self.horizon == self.hills.skyline():
            return np.zeros(np.shape(bearing_deg))
        return self.horizon_at(bearing_deg)


def _place(value: Any) -> str:
    """Accept a place that can be understood."""
    from geo.places import parse_place

    place = text(value)
    parse_place(place)
    return place


def _emissions(value: Any) -> Emission | tuple[Emission, ...]:
    """Accept an emission, or a list of several, the one that counts most first."""
    if not isinstance(value, (list, tuple)):
        return _emission(value)
    sent = tuple(_emission(each) for each in value)
    names = [each.name for each in sent]
    if not sent or len(set(names)) < len(names):
        written = [each if isinstance(each, str) else "" for each in value]
        alike = ", ".join(
            f"{text!r} is {name}"
            for text, name in zip(written, names, strict=True)
            if text and text.casefold() != name.casefold()
        )
        raise InputError(
            "a list of emissions holds at least one, and each once"
            + (f": {alike}" if alike else "")
        )
    return sent if len(sent) > 1 else sent[0]


def _emission(value: Any) -> Emission:
    """Accept the name of an emission, or a table with its bandwidth and ratio."""
    if not isinstance(value, Mapping):
        return emission_by_name(text(value))
    given = checked(value, EMISSION_KEYS, "", lambda path: path or "emission")
    for name, key in EMISSION_KEYS.items():
        if key.required and name not in given:
            raise InputError(f"an emission of your own needs {name}, {key.about}")
    return custom_emission(**given)


def _region(value: Any) -> int:
    """Accept a radio region."""
    if isinstance(value, bool) or value not in IARU_REGIONS:
        raise InputError(
            f"{shown(value)} is not allowed: give the IARU region 1, 2 or 3"
        )
    return int(value)


_ZONES_BY_LETTERS = {
    "jst": ("Asia/Tokyo",),
    "ist": ("Asia/Kolkata", "Europe/Dublin", "Asia/Jerusalem"),
    "bst": ("Europe/London",),
    "cest": ("Europe/Berlin", "Europe/Paris"),
    "eest": ("Europe/Athens", "Europe/Helsinki"),
    "sast": ("Africa/Johannesburg",),
    "eat": ("Africa/Nairobi",),
    "aest": ("Australia/Sydney", "Australia/Brisbane"),
    "awst": ("Australia/Perth",),
    "nzst": ("Pacific/Auckland",),
    "pst": ("America/Los_Angeles",),
    "pdt": ("America/Los_Angeles",),
    "cst": ("America/Chicago", "Asia/Shanghai"),
    "cdt": ("America/Chicago",),
    "edt": ("America/New_York",),
    "mdt": ("America/Denver",),
    "brt": ("America/Sao_Paulo",),
    "msk": ("Europe/Moscow",),
    "kst": ("Asia/Seoul",),
}
"""Zones that people call by letters, which are not those of one place."""


def time_zone(value: Any) -> str:
    """
    Accept an IANA time zone that this computer knows, or the city it is named after.

    Parameters
    ----------
    value : str
        Its name.

    Returns
    -------
    name : str
        The zone's own name.

    Raises
    ------
    InputError
        If there is no such zone.
    """
    from zoneinfo import ZoneInfo, available_timezones

    name = text(value)
    city, zones = fold(name), sorted(available_timezones())
    of_city = tuple(zone for zone in zones if f"/{fold(zone)}".endswith(f"/{city}"))
    if len(of_city) == 1:
        return of_city[0]
    try:
        ZoneInfo(name)
    except (KeyError, ValueError, OSError) as error:
        meant = {city: of_city, **_ZONES_BY_LETTERS}
        close = near_matches(name, zones, meant=meant)
        raise InputError(
            f"no time zone {name!r}{f' ({close})' if close else ''}: give an IANA"
            " name such as 'Africa/Nairobi', the city it is named after, or 'UTC'"
        ) from error
    return name


def _noise_names() -> tuple[str, ...]:
    """Names of the noise environments."""
    from advisor.propagation.noise import environments

    return environments()


def _ground_names() -> tuple[str, ...]:
    """Names of the kinds of ground."""
    from advisor.antenna.ground import ground_names

    return ground_names()


def _stations(value: Any) -> int:
    """Accept a number of stations."""
    if isinstance(value, bool) or not isinstance(value, int) or value < 1:
        raise InputError(f"{shown(value)} is not allowed: give a whole number from 1")
    return value


FAR_END_KEYS: dict[str, Key] = {
    "antenna": Key(one_of(lambda: FAR_END_ANTENNAS), "antenna assumed at the far end"),
    "noise": Key(one_of(_noise_names), "noise environment at the far end"),
    "power_w": Key(number(0.0, 10_000.0, "W", above=True), "power at the far end [W]"),
    "kind": Key(
        one_of(lambda: tuple(FAR_END_KINDS)), "kind of station at the far end", "usual"
    ),
    "setup": Key(text, "set-up of yours that hangs at the far end too"),
    "at_least_one_of": Key(
        _stations, "how many stations are there, of which one is to be worked", 1
    ),
}
"""The keys of the far end."""

EMISSION_KEYS: dict[str, Key] = {
    "name": Key(text, "what you call it"),
    "bandwidth_hz": Key(
        number(0.1, 1e5, "Hz"), "its noise bandwidth [Hz]", required=True
    ),
    "snr_db": Key(
        number(-60.0, 60.0, "dB"), "the ratio it needs there [dB]", required=True
    ),
    "duty_cycle": Key(number(0.001, 1.0, ""), "average over stated power"),
}
"""The keys of an emission that is not in the table."""

STATION_KEYS: dict[str, Key] = {
    "name": Key(text, "what you call the station", UNNAMED),
    "place": Key(_place, "grid locator or 'lat,lon'", required=True),
    "power_w": Key(number(0.0, 10_000.0, "W", above=True), "power [W]", 10.0),
    "emission": Key(_emissions, "what you send, one or a list", "CW"),
    "noise": Key(one_of(_noise_names), "noise environment", "rural"),
    "noise_trim_db": Key(number(-20.0, 20.0, "dB"), "added to that noise [dB]", 0.0),
    "ground": Key(one_of(_ground_names), "kind of ground", "average"),
    "horizon_deg": Key(number(0.0, 60.0, "deg"), "elevation of the horizon [deg]", 3.0),
    "horizon": Key(skyline, "the skyline, [azimuth, elevation] pairs [deg]"),
    "terrain": Key(
        several(file_name, "files"), "elevation tiles of the ground around you"
    ),
    "slopes": Key(slopes, "the ground: [azimuth, distance, height] points [deg, m, m]"),
    "bands": Key(several(band_name, "bands", commas=True), "bands you use"),
    "iaru_region": Key(_region, "radio region"),
    "time_zone": Key(time_zone, "zone local times are shown in"),
    "to": Key(several(text, "targets"), "targets you ask about"),
    "battery_ah": Key(number(0.0, 1000.0, "Ah", above=True), "charge it gives [Ah]"),
    "battery_v": Key(number(3.0, 60.0, "V"), "voltage of the battery [V]", 12.8),
    "receive_a": Key(number(0.0, 20.0, "A"), "current while receiving [A]"),
    "send_a": Key(number(0.0, 100.0, "A", above=True), "current at full power [A]"),
    "walk_min": Key(number(0.0, 1440.0, "min"), "way back from the site [min]", 0.0),
    "far_end": Key(lambda value: value, "what the far end has"),
    "setups": Key(lambda value: value, "your wires"),
    "supports": Key(lambda value: value, "trees and poles that hold a wire"),
    "learned": Key(lambda value: value, "what a log taught, by 'check --learn'"),
}
"""The keys of a station; `TABLE_KEYS` hold tables of their own."""

_REACH = number(-MOST_SLOPE_M, MOST_SLOPE_M, "m")
SUPPORT_KEYS: dict[str, Key] = {
    "name": Key(text, "what you call it", required=True),
    "bearing_deg": Key(
        number(0.0, 360.0, "deg from true north"), "direction [deg]", required=True
    ),
    "distance_m": Key(
        number(0.0, FARTHEST_SUPPORT_M, "m"), "how far away [m]", required=True
    ),
    "height_m": Key(
        number(LOWEST_SUPPORT_M, HIGHEST_SUPPORT_M, "m"),
        "what it holds a wire at, over its own ground [m]",
        required=True,
    ),
    "ground_m": Key(_REACH, "its ground over yours [m]", 0.0),
}
"""The keys of a support."""
