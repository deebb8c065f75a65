"""
The beacons of the International Beacon Project, and when each of them sends.

Eighteen sites take turns through 180 seconds, ten seconds each, first on 14.100 MHz and
then one step later on each higher band. A call is its name in Morse code at 22 words a
minute and four dashes of a second with 100, 10, 1 and 0.1 W.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from advisor.station.emissions import Emission
from advisor.station.station import FarEnd, Station
from geo.errors import InputError
from geo.tables import read_table

BEACON_MHZ = {
    "20 m": 14.100,
    "17 m": 18.110,
    "15 m": 21.150,
    "12 m": 24.930,
    "10 m": 28.200,
}
"""Where they send, in the order in which each of them does. [MHz]"""

CYCLE_S, TURN_S = 180, 10
"""A round of all of them, and a turn. [s]"""

POWERS_W = (100.0, 10.0, 1.0, 0.1)
"""Of the dashes; the call is sent with the first. [W]"""

BEACON_END = FarEnd("vertical", "rural", POWERS_W[0])
"""What stands there; verticals at most sites, as published. The noise there is of no
account: it does not listen."""


@dataclass(frozen=True)
class Beacon:
    """
    One site.

    Attributes
    ----------
    slot : int
        Its place in the round, from 1.
    call_sign : str
        What it sends first.
    place : str
        Where it stands.
    lat_deg, lon_deg : float
        The same. [deg]
    """

    slot: int
    call_sign: str
    place: str
    lat_deg: float
    lon_deg: float

    def starts_s(self, band: str) -> int:
        """
        Say when it sends on a band.

        Parameters
        ----------
        band : str
            A name in `BEACON_MHZ`.

        Returns
        -------
        second : int
            Into every three minutes from the full hour, 0 to 170. [s]

        Examples
        --------
        >>> beacons()[0].starts_s("20 m"), beacons()[17].starts_s("17 m")
        (0, 0)
        """
        turn = self.slot - 1 + list(BEACON_MHZ).index(band)
        return turn * TURN_S % CYCLE_S


def beacons() -> tuple[Beacon, ...]:
    """
    List the sites by their place in the round.

    Returns
    -------
    beacons : tuple of Beacon
        Eighteen, on the air or not.
    """
    return tuple(
        read_table("beacons").records(
            Beacon, lat_deg="latitude_deg", lon_deg="longitude_deg"
        )
    )


def at_a_beacon(station: Station, cw: Emission) -> Station:
    """
    Put a beacon at the far end of a station.

    Parameters
    ----------
    station : Station
        Mine.
    cw : Emission
        Morse code.

    Returns
    -------
    station : Station
        What it learned of usual far ends is none of a beacon's.
    """
    learned = replace(station.learned, far_end_db=0.0)
    return replace(station, far_end=BEACON_END, emission=cw, learned=learned)


def beacon_called(name: str) -> Beacon:
    """
    Find a site by its call sign or its place in the round.

    Parameters
    ----------
    name : str
        As typed.

    Returns
    -------
    beacon : Beacon
        The site.

    Raises
    ------
    InputError
        If there is none.
    """
    for each in beacons():
        if name.strip().upper() in (each.call_sign, str(each.slot)):
            return each
    raise InputError(
        f"no beacon '{name}': give one of "
        f"{', '.join(each.call_sign for each in beacons())}, or its number"
    )
