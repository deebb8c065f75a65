"""
What each emission needs: signal-to-noise ratio, bandwidth, share of full power.

A need is held as one number, the signal power over the noise in one hertz, so
that no two bandwidths can be mixed up.
"""

from __future__ import annotations

import math
from functools import cache

from advisor.station.bands import Band
from geo.errors import InputError, near_matches
from geo.fields import record
from geo.tables import read_table

EMISSION_NAMES = (
    "SSB",
    "CW",
    "RTTY",
    "AM",
    "FM",
    "PSK31",
    "FT8",
    "FT4",
    "JS8",
    "WSPR",
)
"""Every emission in the table."""

REFERENCE_BANDWIDTH_HZ = 2500.0
"""The bandwidth in which operators usually quote a ratio. [Hz]"""


@record
class Emission:
    """
    One emission and what a workable contact with it needs.

    Attributes
    ----------
    name : str
        Name the operator uses, such as CW.
    designator : str
        Designation of the emission by the ITU Radio Regulations; empty where none is
        held.
    bandwidth_hz : float
        Noise bandwidth the need is told in. [Hz]
    snr_db_hz : float
        Signal power over noise power in 1 Hz that a contact needs. [dB-Hz]
    duty_cycle : float
        Mean power over stated power while sending, 0 to 1.
    lowest_mhz : float
        Lowest frequency it is used on; 0 if any. [MHz]
    basis : str
        Where the need comes from.
    duty_basis : str
        Where the duty cycle comes from.
    is_slotted : bool
        Whether it sends and listens by turns; its duty cycle counts both.
    """

    name: str
    designator: str
    bandwidth_hz: float
    snr_db_hz: float
    duty_cycle: float
    lowest_mhz: float = 0.0
    basis: str = ""
    duty_basis: str = ""
    is_slotted: bool = False

    @property
    def snr_db(self) -> float:
        """Needed ratio in the emission's own noise bandwidth, in dB."""
        return self.snr_in_db(self.bandwidth_hz)

    def snr_in_db(self, bandwidth_hz: float = REFERENCE_BANDWIDTH_HZ) -> float:
        """
        State the need in some bandwidth.

        Parameters
        ----------
        bandwidth_hz : float, optional
            Bandwidth in which the noise is measured. [Hz]

        Returns
        -------
        snr_db : float
            Needed signal-to-noise ratio in that bandwidth. [dB]

        Examples
        --------
        >>> round(emission_by_name("FT8").snr_in_db(2500.0), 1)
        -18.0
        """
        return self.snr_db_hz - 10.0 * math.log10(bandwidth_hz)

    def fits(self, band: Band) -> bool:
        """
        Tell whether the emission is used on a band.

        Parameters
        ----------
        band : Band
            The band.

        Returns
        -------
        fits : bool
            False where the band plan has no room for its bandwidth, or where the
            band lies below the emission's lowest frequency.
        """
        return self.bandwidth_hz <= band.widest_hz and self.lowest_mhz <= band.high_mhz


def emission_by_name(name: str) -> Emission:
    """
    Find an emission in the table.

    Parameters
    ----------
    name : str
        One of `EMISSION_NAMES` or another name for it ("USB", "Morse"); case does
        not matter.

    Returns
    -------
    emission : Emission
        The emission.

    Raises
    ------
    InputError
        If there is none of that name.

    Examples
    --------
    >>> emission_by_name("cw").designator
    '150HA1A'
    """
    emissions = _by_folded_name()
    found = emissions.get(name.strip().casefold())
    if found is None:
        close = near_matches(name.strip(), EMISSION_NAMES)
        raise InputError(
            f"no emission {name[:40]!r}{f' ({close})' if close else ''}: give one of"
            f" {', '.join(EMISSION_NAMES)}, or a bandwidth and a ratio"
        )
    return found


def custom_emission(
    bandwidth_hz: float, snr_db: float, duty_cycle: float = 1.0, name: str = "own"
) -> Emission:
    """
    Make an emission that is not in the table.

    Parameters
    ----------
    bandwidth_hz : float
        Noise bandwidth, 0.1 to 100 000. [Hz]
    snr_db : float
        Needed signal-to-noise ratio in that bandwidth, -60 to 60. [dB]
    duty_cycle : float, optional
        Average power over stated power while on the air, above 0 up to 1.
    name : str, optional
        What to call it.

    Returns
    -------
    emission : Emission
        The emission; its designator is empty.

    Raises
    ------
    InputError
        If a number is out of its range or not finite.

    Examples
    --------
    >>> custom_emission(500.0, 3.0).snr_db_hz
    29.99
    """
    for what, value, low, high in (
        ("bandwidth_hz", bandwidth_hz, 0.1, 1e5),
        ("snr_db", snr_db, -60.0, 60.0),
        ("duty_cycle", duty_cycle, 0.001, 1.0),
    ):
        if not low <= value <= high:
            raise InputError(
                f"emission {what} {value:g} is not allowed: give {low:g} to {high:g}"
            )
    return Emission(
        name=name,
        designator="",
        bandwidth_hz=bandwidth_hz,
        snr_db_hz=snr_db + 10.0 * math.log10(bandwidth_hz),
        duty_cycle=duty_cycle,
        basis="your own figures",
        duty_basis="your own figures",
    )


@cache
def _by_folded_name() -> dict[str, Emission]:
    """Read the table of emissions, by every name that is accepted."""
    found: dict[str, Emission] = {}
    for row in read_table("emissions").rows():
        emission = Emission(
            name=row["emission"],
            designator=row["designator"],
            bandwidth_hz=float(row["bandwidth_hz"]),
            snr_db_hz=float(row["snr_2500_db"])
            + 10.0 * math.log10(REFERENCE_BANDWIDTH_HZ),
            duty_cycle=float(row["duty_cycle"]),
            lowest_mhz=float(row["lowest_mhz"] or 0.0),
            basis=row["basis"],
            duty_basis=row["duty_basis"],
            is_slotted=row["is_slotted"] == "True",
        )
        for name in (emission.name, *row["also_called"].split(";")):
            if name:
                found[name.casefold()] = emission
    return found
