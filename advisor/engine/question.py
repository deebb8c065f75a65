"""The question put to the engine: everything it needs, nothing it must look up."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from advisor.engine.heard import Heard
from advisor.station.bands import Band
from advisor.station.emissions import Emission
from advisor.station.station import Station
from geo.errors import InputError
from geo.fields import record
from geo.ionosphere.conditions import QUIET, Conditions
from geo.magnetic import decimal_year_of, declination_deg
from geo.places import Place, Target
from geo.records import ContentRecord


class SolarIndex(ContentRecord):
    """
    Twelve-month smoothed sunspot number hour by hour, with its range.

    Attributes
    ----------
    r12, low, high : numpy.ndarray
        Shape (T,): middle, low and high value on the scale of the maps.
    ig12 : numpy.ndarray
        Shape (T,): ionospheric index that goes with the middle value.
    basis : str
        Where it comes from, in words.
    """

    r12: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    ig12: NDArray[np.float64]
    basis: str

    def at(self, hours: slice | NDArray[np.intp]) -> SolarIndex:
        """
        Keep some of the hours.

        Parameters
        ----------
        hours : slice or numpy.ndarray of int
            Which.

        Returns
        -------
        solar : SolarIndex
            Of those.
        """
        return SolarIndex(
            self.r12[hours],
            self.low[hours],
            self.high[hours],
            self.ig12[hours],
            self.basis,
        )


@record
class LeftOut:
    """
    A set-up that is left out on some bands because it cannot be hung there.

    Attributes
    ----------
    setup : str
        Name of the set-up.
    bands : tuple of str
        Bands it was to be used on.
    keys : tuple of str
        Its keys that decide it, as in a station file.
    why : str
        What does not fit, on the first of them.
    """

    setup: str
    bands: tuple[str, ...]
    keys: tuple[str, ...]
    why: str

    @property
    def words(self) -> str:
        """Set-up, bands, reason and keys in a sentence."""
        return (
            f"{self.setup} is left out on {', '.join(self.bands)}: {self.why}. "
            f"Keys of this set-up: {', '.join(self.keys)}."
        )


class Question(ContentRecord):
    """
    What is asked: which band, bearing, hour and set-up, for these targets.

    Attributes
    ----------
    station : Station
        Who transmits, with which set-ups.
    place : Place
        Where from.
    targets : tuple of Target
        Where to, at least one.
    times : numpy.ndarray of datetime64[s]
        Shape (T,), hours in UTC.
    bands : tuple of Band
        Bands to look at, lowest first.
    emission : Emission
        What is sent and what it needs.
    solar : SolarIndex
        Solar activity for each hour.
    long_path : bool
        Whether the long way round is asked about.
    conditions : Conditions
        What is assumed of the sky besides the medians of the month.
    left_out : tuple of LeftOut
        Set-ups of the station that cannot be hung on some of the bands.
    heard : Heard or None
        What was heard and not heard; None if nothing is known but the month.

    Raises
    ------
    geo.errors.InputError
        If there is no target, hour, band or set-up.
    """

    station: Station
    place: Place
    targets: tuple[Target, ...]
    times: NDArray[np.datetime64]
    bands: tuple[Band, ...]
    emission: Emission
    solar: SolarIndex
    long_path: bool = False
    conditions: Conditions = QUIET
    left_out: tuple[LeftOut, ...] = ()
    heard: Heard | None = None

    def __post_init__(self) -> None:
        super().__post_init__()
        for what, items in (
            ("target", self.targets),
            ("band", self.bands),
            ("set-up", self.station.setups),
        ):
            if not items:
                raise InputError(f"no {what} to work on: name at least one")
        if not self.times.size:
            raise InputError("no hour to work on: ask for at least 1 hour")

    def __repr__(self) -> str:
        targets = ", ".join(target.name for target in self.targets)
        return (
            f"Question({self.place.label} to {targets}, {self.times.size} h from "
            f"{self.times[0].astype('datetime64[h]')}Z, {len(self.bands)} "
            f"{'band' if len(self.bands) == 1 else 'bands'})"
        )

    @property
    def frequency_mhz(self) -> NDArray[np.float64]:
        """Planning frequency of each band, shape (B,), in MHz."""
        return np.array([band.planning_mhz for band in self.bands])

    @property
    def assumed(self) -> tuple[str, ...]:
        """What is assumed of sky and station and what was heard, in whole sentences."""
        words = self.conditions.words(self.times, self.solar.r12)
        words += () if self.heard is None else self.heard.words
        return words + tuple(filter(None, [self.station.taught]))

    @property
    def here(self) -> str:
        """What to call my end: the station's name, or the place as it was given."""
        return self.station.own_name or self.place.label

    @property
    def declination_deg(self) -> float:
        """Magnetic declination at the station on the first day, east positive."""
        year = decimal_year_of(self.times[:1])[0]
        place = self.place
        return float(declination_deg(place.lat_deg, place.lon_deg, 0.0, year))
