"""What a log taught of a station, and the keys under which its file holds that."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from advisor.station.bands import band_by_name
from advisor.station.checks import Key, number, shown, text
from advisor.station.setup import band_name
from geo.errors import InputError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from geo.arrays import Floats


@dataclass(frozen=True)
class Learned:
    """
    What a log taught of the station, over what is worked out.

    Attributes
    ----------
    source : str
        Where it was learned; empty if nothing was.
    noise_db : tuple of (str, float)
        Band, and how much more all noise here is there. [dB]
    far_end_db : float
        How much more gain the usual far end has, sending and receiving. [dB]
    """

    source: str = ""
    noise_db: tuple[tuple[str, float], ...] = ()
    far_end_db: float = 0.0

    def noise_over_db(self, frequency_mhz: ArrayLike, iaru_region: int) -> Floats:
        """
        How much more all noise is than worked out.

        Parameters
        ----------
        frequency_mhz : array_like
            Shape (B,). [MHz]
        iaru_region : int
            Radio region, which says where the bands are.

        Returns
        -------
        more_db : numpy.ndarray
            Shape (B,); 0 outside the bands of which it is known. [dB]
        """
        import numpy as np

        frequency = np.atleast_1d(np.asarray(frequency_mhz, dtype=float))
        more = np.zeros(frequency.shape)
        for name, more_db in self.noise_db:
            band = band_by_name(name, iaru_region)
            more[(band.low_mhz <= frequency) & (frequency <= band.high_mhz)] = more_db
        return more

    def words(self, level_db: Mapping[str, tuple[tuple[str, float], ...]]) -> str:
        """
        Say what was learned.

        Parameters
        ----------
        level_db : mapping of str to tuple
            For each set-up, band and how much more it sends. [dB]

        Returns
        -------
        words : str
            One sentence; empty if nothing was.
        """
        by_band = {"noise here": self.noise_db}
        by_band |= {f"level of {name}": each for name, each in level_db.items()}
        told = [
            f"{what} {', '.join(f'{band} {more_db:+g}' for band, more_db in each)} dB"
            for what, each in by_band.items()
            if each
        ]
        if self.far_end_db:
            told.append(f"usual far end {self.far_end_db:+g} dB")
        source = f" ({self.source})" if self.source else ""
        return f"With what your log taught{source}: {'; '.join(told)}." if told else ""


NOTHING_LEARNED = Learned()
"""Of a station that no log has taught."""

_MORE_DB = number(-30.0, 30.0, "dB")


def _by_band(value: Any) -> dict[str, float]:
    """Accept a table of decibels by band."""
    if not isinstance(value, Mapping):
        raise InputError(f"{shown(value)} is not allowed: give a table such as 40m = 3")
    return {band_name(band): _MORE_DB(more_db) for band, more_db in value.items()}


def _by_set_up(value: Any) -> dict[str, dict[str, float]]:
    """Accept such a table for each of some set-ups."""
    if not isinstance(value, Mapping):
        raise InputError(f"{shown(value)} is not allowed: give a table by set-up")
    return {text(name): _by_band(each) for name, each in value.items()}


LEARNED_KEYS: dict[str, Key] = {
    "source": Key(text, "where it was learned", "a log"),
    "noise_db": Key(_by_band, "how much more the noise here is, by band [dB]"),
    "level_db": Key(_by_set_up, "how much more a set-up sends, by band [dB]"),
    "far_end_db": Key(_MORE_DB, "how much more gain the far end has [dB]"),
}
"""The keys of what was learned from a log."""
