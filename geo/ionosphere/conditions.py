"""
What is assumed of the sky besides the medians of the month.

An operator may know more than the month: foF2 as just sounded somewhere, a storm of
the magnetic field, or want to know what a flare or protons over the polar caps would
do. Whatever it is, it is put into the layers that the engine reads, so that MUFs,
rays, noise and absorption all follow from one sky.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geo.bulletins import FOF2_RANGE_MHZ
from geo.errors import InputError
from geo.ionosphere.flare import (
    fadeout_frequency_mhz,
    flare_flux_w_m2,
    polar_cap_30_mhz_db,
    polar_cap_db,
    polar_cap_share,
)
from geo.ionosphere.layers import Layers, layers_at
from geo.ionosphere.measured import MeasuredSky
from geo.ionosphere.measured_map import m3000f2_ratio
from geo.ionosphere.sounding import (
    CORRELATION_HOURS,
    CORRELATION_KM,
    LEAST_SPREAD,
    carried_over,
)
from geo.ionosphere.storm import storm_factor_from_kp
from geo.places import Place

RATIO_RANGE = (0.4, 2.5)
"""A sounding further off the map than this is taken for a slip of the pen: the
deepest storms halve foF2. The project's choice."""

HEIGHT_RATIO_RANGE = (0.7, 1.5)
"""A measured hmF2 further off the map's is left out. The project's choice."""

LARGEST_FLARE_W_M2 = 1e-2
"""X100; the largest flares known are put at X40 or so. [W/m2]"""

LARGEST_PROTON_FLUX = 1e6
"""Above 10 MeV; the largest storms reached some 40 000. [1/(cm2 s sr)]"""

_PROTON_MEV, _PROTON_SLOPE = 10.0, 1.0
"""Energy the flux is given for, and how the flux above an energy falls with it: as
1/E, the project's choice; measured slopes lie between 0.5 and 3. [MeV], [1]"""

_USUAL_KP, _WARN_FROM_KP = 2.0, 5.0
_STORM_FROM_KP, _STORM_FULL_KP, _STORM_WIDER = 3.0, 7.0, 0.5
"""By Kp 7 the lower decile lies half as far again below the storm's mean foF2, for
single storms differ; the project's choice, no source."""

_OVAL_QUIET_DEG, _OVAL_PER_KP_DEG, _OVAL_MARGIN_DEG = 67.0, 2.0, 5.0


@dataclass(frozen=True)
class Sounding:
    """
    One measured foF2.

    Attributes
    ----------
    fof2_mhz : float
        Critical frequency of the F2 layer, ordinary wave. [MHz]
    place : Place
        Where.
    time : numpy.datetime64
        When, UTC.
    hmf2_km : float or None
        Height of the F2 peak, if it was measured too. [km]

    Raises
    ------
    geo.errors.InputError
        If no ionosonde could have shown it.
    """

    fof2_mhz: float
    place: Place
    time: np.datetime64
    hmf2_km: float | None = None

    def __post_init__(self) -> None:
        low, high = FOF2_RANGE_MHZ
        if not low <= self.fof2_mhz <= high:
            raise InputError(
                f"foF2 of {self.fof2_mhz:g} MHz is outside {low:g} to {high:g} MHz: "
                "give the critical frequency of the F2 layer, not a MUF"
            )


@dataclass(frozen=True)
class Conditions:
    """
    What is assumed besides the medians; as it stands, nothing.

    Attributes
    ----------
    soundings : tuple of Sounding
        Measured foF2.
    kp : float or None
        Planetary index Kp, taken to have held for the past day and a half; the largest
        such one of the hours asked about where ``measured`` has it by the hour.
    flare : str or None
        Class of a flare taken to be at its peak at every hour.
    proton_flux : float or None
        Protons above 10 MeV. [1/(cm2 s sr)]
    measured : MeasuredSky or None
        What was measured today.

    Raises
    ------
    geo.errors.InputError
        If a value is out of range.
    """

    soundings: tuple[Sounding, ...] = ()
    kp: float | None = None
    flare: str | None = None
    proton_flux: float | None = None
    measured: MeasuredSky | None = None

    def __post_init__(self) -> None:
        if self.kp is not None and not 0.0 <= self.kp <= 9.0:
            raise InputError(
                f"Kp {self.kp:g} is outside 0 to 9: 5+ is 5.33, 5- is 4.67"
            )
        if self.flare and flare_flux_w_m2(self.flare) > LARGEST_FLARE_W_M2:
            raise InputError(f"a flare of {self.flare} was never seen: up to X100")
        flux = self.proton_flux
        if flux is not None and not 0.0 <= flux <= LARGEST_PROTON_FLUX:
            raise InputError(
                f"proton flux {flux:g} is outside 0 to {LARGEST_PROTON_FLUX:g}: give "
                "protons above 10 MeV per cm2, second and steradian"
            )

    def over(
        self, lat_deg: ArrayLike, lon_deg: ArrayLike, times: ArrayLike, r12: ArrayLike
    ) -> Layers:
        """
        Describe the sky over some places under these conditions.

        Parameters
        ----------
        lat_deg, lon_deg : array_like
            Places, (P,). [deg]
        times : array_like of datetime64
            UTC, (T,).
        r12 : array_like
            Smoothed sunspot number, old scale, (T,) or scalar.

        Returns
        -------
        layers : Layers
            Medians, moved by the storm, by the map of electron content, then by what
            was sounded.

        Notes
        -----
        The storm comes first: a sounding made in a storm already shows its effect
        and is set against the storm's foF2, not the month's. So is the map, and a
        sounding against what the map has made of it.
        """
        layers = self._by_map(layers_at(lat_deg, lon_deg, times, r12))
        if self.soundings:
            ratio, higher = self._sounded(times, r12)
            layers = _moved(layers, *self._carried(layers, ratio))
            if np.isfinite(higher).any():
                height = layers.hmf2_km * self._carried(layers, higher)[0]
                layers = _lifted(layers, height)
        known = self.measured is not None
        if known or self.flare is not None or self.proton_flux is not None:
            layers = replace(layers, fadeout_mhz=self._fadeout_mhz(layers))
        return layers

    def ratios(self, times: ArrayLike, r12: ArrayLike) -> NDArray[np.float64]:
        """
        Set each sounding against the layers without it, in storm if there is one.

        Parameters
        ----------
        times : array_like of datetime64
            Hours for which the solar activity is known, (T,), UTC.
        r12 : array_like
            Smoothed sunspot number, old scale, (T,) or scalar; held before the
            first hour and after the last.

        Returns
        -------
        ratios : numpy.ndarray
            Shape (K,): sounded foF2 over that of the map there and then.
        """
        return self._sounded(times, r12)[0]

    def _sounded(
        self, times: ArrayLike, r12: ArrayLike
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Find sounded over mapped foF2, and hmF2 where it was sounded, (K,)."""
        hours = np.atleast_1d(np.asarray(times, dtype="datetime64[s]")).astype(float)
        spots = np.broadcast_to(np.asarray(r12, dtype=float), hours.shape)
        fof2, higher = np.full((2, len(self.soundings)), np.nan)
        for place in dict.fromkeys(each.place for each in self.soundings):
            of_it = [k for k, each in enumerate(self.soundings) if each.place == place]
            known = [self.soundings[k] for k in of_it]
            when = np.array([each.time for each in known], dtype="datetime64[s]")
            then = np.interp(when.astype(float), hours, spots)
            here = self._by_map(layers_at(place.lat_deg, place.lon_deg, when, then))
            fof2[of_it] = [each.fof2_mhz for each in known] / here.fof2_mhz[:, 0]
            height = [each.hmf2_km or np.nan for each in known]
            higher[of_it] = height / here.hmf2_km[:, 0]
        return fof2, np.where(
            (higher >= HEIGHT_RATIO_RANGE[0]) & (higher <= HEIGHT_RATIO_RANGE[1]),
            higher,
            np.nan,
        )

    def _carried(
        self, layers: Layers, ratio: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Carry over to the layers what was sounded, where it was, (T, P) each."""
        known = np.isfinite(ratio)
        heard = [
            each
            for each, is_known in zip(self.soundings, known, strict=True)
            if is_known
        ]
        return carried_over(
            layers.lat_deg,
            layers.lon_deg,
            layers.times,
            [each.place.lat_deg for each in heard],
            [each.place.lon_deg for each in heard],
            [each.time for each in heard],
            ratio[known],
        )

    def _by_map(self, layers: Layers) -> Layers:
        """Move layers by the storm, and by the map of electron content."""
        stormy = self._in_storm(layers)
        known = None if self.measured is None else self.measured.electron_map
        if known is None:
            return stormy
        hours = layers.times.astype(float)
        then = np.interp(
            known.time.astype("datetime64[s]").astype(float), hours, layers.r12
        )
        month = self._in_storm(
            layers_at(layers.lat_deg, layers.lon_deg, known.time, then)
        )
        factor, spread, higher_km = known.departure(month, layers.times)
        return _lifted(_moved(stormy, factor, spread), stormy.hmf2_km + higher_km)

    def _in_storm(self, layers: Layers) -> Layers:
        """Lower (or raise) foF2 as storms of this Kp do on average."""
        kp = self._kp_by_hour(layers.times)
        if kp is None:
            return layers
        year = layers.times.astype("datetime64[Y]")
        day = (layers.times - year) / np.timedelta64(86400, "s") + 1.0
        factor = storm_factor_from_kp(kp, layers.geomagnetic_lat_deg, day[:, None])
        storm = np.interp(kp, (_STORM_FROM_KP, _STORM_FULL_KP), (0.0, 1.0))
        wider = 1.0 + _STORM_WIDER * storm
        return replace(
            layers,
            fof2_mhz=layers.fof2_mhz * factor,
            fof2_lower_ratio=1.0 - (1.0 - layers.fof2_lower_ratio) * wider,
        )

    def strongest_kp(self, times: ArrayLike) -> float | None:
        """
        Find the largest Kp of some hours, which the aurora follows at once.

        Parameters
        ----------
        times : array_like of datetime64
            Hours of the question, (T,), UTC.

        Returns
        -------
        kp : float or None
            Of what was measured and forecast for them, the three hours before the first
            included; else `kp`, which stands for the past day and a half as foF2
            follows a storm. None if neither is known.
        """
        found = None if self.measured is None else self.measured.strongest_kp(times)
        return self.kp if found is None else max(found, self.kp or 0.0)

    def _kp_by_hour(self, times: NDArray[np.datetime64]) -> NDArray[np.float64] | None:
        """Kp that stands for the past day and a half at each hour, (T, 1)."""
        found = None if self.measured is None else self.measured.steady_kp(times)
        if found is None and self.kp is not None:
            found = np.full(times.size, self.kp)
        return None if found is None else found[:, None]

    def _fadeout_mhz(self, layers: Layers) -> NDArray[np.float64]:
        """Frequency that X-rays, flare and protons together take 1 dB of, (T, P)."""
        zenith = layers.zenith_deg
        lost = np.zeros(zenith.shape)
        if self.measured is not None:
            lost += self.measured.fadeout_mhz(layers.times, zenith) ** 1.5
        if self.flare is not None:
            flux = flare_flux_w_m2(self.flare)
            lost += fadeout_frequency_mhz(flux, zenith) ** 1.5
        protons = self.proton_flux
        if protons is None and self.measured is not None:
            protons = self.measured.proton_flux
        if protons:
            five, two = (
                protons * (_PROTON_MEV / energy) ** _PROTON_SLOPE
                for energy in (5.2, 2.2)
            )
            kp = self.strongest_kp(layers.times)
            kp = _USUAL_KP if kp is None else kp
            inside = polar_cap_share(layers.geomagnetic_lat_deg, kp)
            upward = inside * polar_cap_30_mhz_db(five, two, zenith)
            lost += polar_cap_db(1.0, upward, 90.0)
        if self.measured is not None:
            # The map holds X-rays and protons of its minute: the more of both.
            where = layers.times, layers.lat_deg, layers.lon_deg
            mapped = self.measured.mapped_fadeout_mhz(*where)
            lost = np.maximum(lost, mapped**1.5)
        return np.asarray(lost ** (1.0 / 1.5))

    def measured_words(self, times: ArrayLike, r12: ArrayLike) -> tuple[str, ...]:
        """
        Say what was measured today and how far it moves the month.

        Parameters
        ----------
        times : array_like of datetime64
            Hours of the question, (T,), UTC.
        r12 : array_like
            Smoothed sunspot number, old scale, (T,) or scalar.

        Returns
        -------
        words : tuple of str
            Whole sentences; empty if nothing was.
        """
        if self.measured is None:
            return ()
        said = self.measured.words(times)
        if self.measured.electron_map is None:
            return said
        here = self.measured.place
        layers = layers_at(here.lat_deg, here.lon_deg, times, r12)
        month, moved = self._in_storm(layers), self._by_map(layers)
        factor = (moved.fof2_mhz / month.fof2_mhz)[:, 0]
        higher = (moved.hmf2_km - month.hmf2_km)[:, 0]
        last = (
            f", {factor[-1]:.2f} and {higher[-1]:+.0f} km in the last"
            if factor.size > 1
            else ""
        )
        return (
            *said,
            f"The map moves foF2 at {here.label} by {factor[0]:.2f} and hmF2 by "
            f"{higher[0]:+.0f} km in the first hour{last}: its share by its own error "
            "and its age.",
        )

    def check_against_map(self, times: ArrayLike, r12: ArrayLike) -> None:
        """
        Refuse a sounding that cannot be right.

        Parameters
        ----------
        times : array_like of datetime64
            Hours of the question, (T,), UTC.
        r12 : array_like
            Smoothed sunspot number, old scale, (T,) or scalar.

        Raises
        ------
        geo.errors.InputError
            If a sounding is less than 0.4 or more than 2.5 of what the map has.
        """
        # What the map of today makes of the month may be what is wrong.
        month = self.measured and replace(self.measured, electron_map=None)
        ratios = replace(self, measured=month).ratios(times, r12)
        for each, ratio in zip(self.soundings, ratios, strict=True):
            if not RATIO_RANGE[0] <= ratio <= RATIO_RANGE[1]:
                raise InputError(
                    f"foF2 of {each.fof2_mhz:g} MHz at {each.place.label} at "
                    f"{_minute(each.time)} is {ratio:.1f} of the map's "
                    f"{each.fof2_mhz / ratio:.1f} MHz: check figure, place and time"
                )

    def words(self, times: ArrayLike, r12: ArrayLike) -> tuple[str, ...]:
        """
        Say what is assumed.

        Parameters
        ----------
        times : array_like of datetime64
            Hours of the question, (T,), UTC.
        r12 : array_like
            Smoothed sunspot number, old scale, (T,) or scalar.

        Returns
        -------
        words : tuple of str
            Whole sentences; empty if nothing is assumed.
        """
        words = []
        off = self.ratios(times, r12)
        for place in dict.fromkeys(each.place for each in self.soundings):
            of_it = [k for k, each in enumerate(self.soundings) if each.place == place]
            known = [self.soundings[k] for k in of_it]
            moments = [_minute(each.time) for each in known]
            mhz = _span([f"{each.fof2_mhz:g}" for each in known])
            ratio = _span([f"{off[k]:.2f}" for k in of_it])
            words.append(
                f"Assumed: foF2 {mhz} MHz at {place.label} at {_span(moments)}, "
                f"{ratio} of the map, carried over to the layer about it with less and "
                f"less weight (1/e at {CORRELATION_KM:.0f} km or "
                f"{CORRELATION_HOURS:.0f} h)."
            )
        words = [*self.measured_words(times, r12), *words]
        is_measured = self.measured is not None and self.measured.kp.size > 0
        if self.kp is not None and not is_measured:
            words.append(
                f"Assumed: Kp {self.kp:g} for the past day and a half, foF2 moved "
                "as storms do on average."
            )
        kp = self.strongest_kp(times)
        if kp is not None and kp >= _WARN_FROM_KP:
            words.append(
                "Do not rely on paths that touch "
                f"{unsafe_latitude_deg(kp):.0f} degrees of geomagnetic "
                "latitude or more: the figures hold only the usual auroral loss."
            )
        if self.flare is not None:
            words.append(
                f"What if: a flare of class {self.flare} at its peak, at each hour by "
                "itself; it absorbs where the sun is up."
            )
        if self.proton_flux is not None:
            words.append(
                f"What if: {self.proton_flux:g} protons above 10 MeV per cm2, second "
                "and steradian, which absorb over the polar caps."
            )
        return tuple(words)


def _moved(
    layers: Layers, factor: NDArray[np.float64], spread: NDArray[np.float64]
) -> Layers:
    """Multiply foF2, and narrow the spread and the error of the map, (T, P)."""
    left = np.maximum(layers.unsounded * spread, LEAST_SPREAD)
    # Narrowed twice, by map and by sounding, the days still differ by the least.
    spread = np.maximum(spread, left / layers.unsounded)
    return replace(
        layers,
        fof2_mhz=layers.fof2_mhz * factor,
        fof2_lower_ratio=1.0 - (1.0 - layers.fof2_lower_ratio) * spread,
        fof2_upper_ratio=1.0 + (layers.fof2_upper_ratio - 1.0) * spread,
        unsounded=left,
    )


def _lifted(layers: Layers, hmf2_km: NDArray[np.float64]) -> Layers:
    """Put the peak of F2 elsewhere, and M(3000) after it."""
    ratio = m3000f2_ratio(layers.hmf2_km, hmf2_km)
    return replace(layers, hmf2_km=hmf2_km, m3000f2=layers.m3000f2 * ratio)


QUIET = Conditions()
"""The medians of the month and nothing else."""


def unsafe_latitude_deg(kp: float) -> float:
    """
    Geomagnetic latitude from which a storm's aurora may upset a path.

    Parameters
    ----------
    kp : float
        Planetary index Kp, 0 to 9.

    Returns
    -------
    latitude_deg : float
        5 degrees equatorward of the oval's edge. [deg]

    Notes
    -----
    The equatorward edge of the auroral oval at midnight is put at 67 degrees less 2
    for each unit of Kp, corrected geomagnetic latitude (common practice, from memory).

    Examples
    --------
    >>> unsafe_latitude_deg(6.0)
    50.0
    """
    return _OVAL_QUIET_DEG - _OVAL_PER_KP_DEG * kp - _OVAL_MARGIN_DEG


def _span(values: list[str]) -> str:
    """Write the first of some values, and the last if there are more."""
    return values[0] if len(values) == 1 else f"{values[0]} to {values[-1]}"


def _minute(time: np.datetime64) -> str:
    """Write a moment to the minute, UTC."""
    return f"{time.astype('datetime64[m]')}Z"
