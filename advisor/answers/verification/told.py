"""
What the program tells of the times at which a way was tried: chances and levels.

The engine is asked in blocks: all far ends of a band over the hours of ten days at
once, in the middle of them. A level is kept as the share of days on which the ratio of
a sender of one watt is above each of a few.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import cached_property
from pathlib import Path

import numpy as np

from advisor.answers.ask import solar_index
from advisor.answers.verification.blocks import Block, blocks_of, each_of
from advisor.answers.verification.trials import Trials
from advisor.antenna.ground import ground_by_name
from advisor.antenna.pattern import Pattern
from advisor.engine.contact import Contact, contact_chance
from advisor.engine.engine import gains_towards, link_for
from advisor.engine.link import Link
from advisor.engine.question import Question
from advisor.engine.wires import far_end_patterns
from advisor.logs.sightings import CONTACT, HEARD, WAYS, Sightings
from advisor.station.bands import Band
from advisor.station.emissions import REFERENCE_BANDWIDTH_HZ, Emission, emission_by_name
from advisor.station.station import Station
from geo.arrays import Floats, Indices
from geo.places import Place, Target
from geo.records import ArrayRecord

RATIOS_DB = np.arange(-25.0, 131.0, 5.0)
"""Ratios in 1 Hz of a sender of one watt that shares are kept for. [dB]"""

DECODE_BELOW_DB = 4.0
"""A spot is made of signals so far below what a contact needs: the table's needs are 3
dB over what is decoded half of the time, and a few are decoded below. [dB]"""

PER_HZ_DB = 10.0 * np.log10(REFERENCE_BANDWIDTH_HZ)
"""From a ratio in 2.5 kHz to one in 1 Hz. [dB]"""

_LOUDER_DB = 25.0
_NEVER = 1e-3
_HEARD, _CONTACT = WAYS.index(HEARD), WAYS.index(CONTACT)


class Wire(ArrayRecord):
    """
    One set-up as it hangs.

    Attributes
    ----------
    name : str
        What the station calls it; empty for the usual dipole.
    patterns : mapping of str to Pattern
        Pattern by band name.
    bearing_deg : float or None
        Way it runs; None if that is not known: its mean over all ways then. [deg]
    """

    name: str
    patterns: Mapping[str, Pattern]
    bearing_deg: float | None

    def on(self, band: str) -> Pattern | None:
        """
        Give its pattern on a band.

        Parameters
        ----------
        band : str
            Name of the band.

        Returns
        -------
        pattern : Pattern or None
            None where it is not used.
        """
        found = self.patterns.get(band)
        if found is None or self.bearing_deg is not None:
            return found
        return found.mean_over_azimuth()


class Setting(ArrayRecord):
    """
    Who is told: station, place and wires.

    Attributes
    ----------
    station : Station
        Power, noise, ground and horizon here, and the far end.
    lat_deg, lon_deg : float
        My place where a row does not say another. [deg]
    bands : tuple of Band
        Every band of the rows.
    wires : tuple of Wire
        The set-ups; the best one is used.
    cache_dir : pathlib.Path, optional
        Where rays are kept between runs.
    processes : int, optional
        Over how many processes the sky is shared out; the answer is the same.
    """

    station: Station
    lat_deg: float
    lon_deg: float
    bands: tuple[Band, ...]
    wires: tuple[Wire, ...]
    cache_dir: Path | None = None
    processes: int = 1

    @property
    def here(self) -> complex:
        """Latitude and longitude of my place as one number."""
        return self.lat_deg + 1j * self.lon_deg

    @cached_property
    def far_patterns(self) -> dict[str, Pattern]:
        """Pattern of the far end by band name."""
        return far_end_patterns(self.station.far_end, self.bands)

    def emission(self, name: str) -> Emission:
        """
        Give an emission by its name.

        Parameters
        ----------
        name : str
            Empty for the station's own.

        Returns
        -------
        emission : Emission
            The emission.
        """
        return emission_by_name(name) if name else self.station.emission

    def link(
        self,
        own: tuple[float, float],
        far: Floats,
        times: object,
        bands: Sequence[Band],
    ) -> Link:
        """
        Ask the engine for the sky's half, both senders of one watt, either way round.

        Parameters
        ----------
        own : tuple of float
            Latitude and longitude of my place. [deg]
        far : numpy.ndarray
            Shape (2, P), those of the far ends. [deg]
        times : array_like of datetime64[s]
            Shape (T,), UTC.
        bands : sequence of Band
            The B bands.

        Returns
        -------
        link : Link
            With nothing needed: levels are ratios in 1 Hz.
        """
        moments, count = np.asarray(times), far.shape[1]
        solar = solar_index(moments)
        # For one watt either way, and nothing needed.
        alike = np.full(count, 1.0 / count)
        need = replace(self.station.emission, snr_db_hz=0.0)
        there = replace(self.station.far_end, power_w=1.0)
        question = Question(
            station=replace(self.station, power_w=1.0, far_end=there, emission=need),
            place=Place(*own, self.station.place),
            targets=(Target("", "point", far[0], far[1], alike, ""),),
            times=moments,
            bands=tuple(bands),
            emission=need,
            solar=solar,
        )
        return link_for(
            question, solar.r12, self.far_patterns, cache_dir=self.cache_dir
        )

    def asker(
        self, link: Link, bands: Sequence[Band]
    ) -> Callable[[float, float], Contact]:
        """
        Let the wires meet a link.

        Parameters
        ----------
        link : Link
            As of `link`.
        bands : sequence of Band
            Its bands.

        Returns
        -------
        ask : callable
            From what the far end needs of me and I of it, for a watt, to the chances
            (P, T, B) of the best wire. [dB]
        """
        soil = ground_by_name(self.station.ground)
        gains = [
            gains_towards(
                link,
                [wire.on(band.name) for band in bands],
                soil,
                [wire.bearing_deg or 0.0],
            )
            for wire in self.wires
        ]

        def ask(heard_db: float, hear_db: float) -> Contact:
            asked = replace(
                link, heard_db=link.heard_db - heard_db, hear_db=link.hear_db - hear_db
            )
            each = [contact_chance(asked, own) for own in gains]
            return Contact(
                *(
                    np.max([getattr(one, name)[0] for one in each], axis=0)
                    for name in ("heard", "hear", "both")
                )
            )

        return ask


def powers_dbw(
    seen: Sightings, rows: Indices, setting: Setting
) -> tuple[Floats, Floats]:
    """
    Find the powers of both ends.

    Parameters
    ----------
    seen : Sightings
        Rows of the files.
    rows : numpy.ndarray of int
        Shape (M,), which.
    setting : Setting
        What they are where a row does not say.

    Returns
    -------
    own_dbw, far_dbw : numpy.ndarray
        Shape (M,). [dBW]
    """
    station = setting.station
    return tuple(  # type: ignore[return-value]
        10.0 * np.log10(np.where(np.isfinite(told[rows]), told[rows], usual))
        for told, usual in (
            (seen.own_power_w, station.power_w),
            (seen.far_power_w, station.far_end.power_w),
        )
    )


def needs_db(seen: Sightings, rows: Indices, setting: Setting) -> Floats:
    """
    Say what each row needs in 1 Hz: a contact more than a spot.

    Parameters
    ----------
    seen : Sightings
        Rows of the files.
    rows : numpy.ndarray of int
        Shape (M,), which.
    setting : Setting
        Whose emission it is where a row does not say.

    Returns
    -------
    needs_db : numpy.ndarray
        Shape (M,). [dB]
    """
    needs = {
        name: setting.emission(name).snr_db_hz for name in np.unique(seen.emission)
    }
    spot = DECODE_BELOW_DB * (seen.way[rows] != _CONTACT)
    each = [needs[name] for name in seen.emission[rows].tolist()]
    return np.asarray(np.array(each, dtype=float) - spot)


def cells_of(
    seen: Sightings, trials: Trials, setting: Setting, *, whole_days: bool
) -> int:
    """
    Count what the engine would be asked for.

    Parameters
    ----------
    seen : Sightings
        Rows of the files.
    trials : Trials
        The times.
    setting : Setting
        Who is told.
    whole_days : bool
        Whether for all hours and bands, as `day_chances` does.

    Returns
    -------
    cells : int
        Far ends times hours, of each band those of its rows unless whole days are
        wanted, over all blocks.
    """
    blocks = blocks_of(
        *(seen, trials, setting.bands, setting.here),
        whole_days=whole_days,
        all_bands=whole_days,
    )
    return sum(block.cells for block in blocks)


def told_shares(
    seen: Sightings,
    trials: Trials,
    setting: Setting,
    step: Callable[[int], None] = lambda _: None,
    *,
    of_contacts: bool = False,
) -> Floats:
    """
    Tell on which share of days the ratio is above each of `RATIOS_DB`.

    Parameters
    ----------
    seen : Sightings
        Rows of the files.
    trials : Trials
        M times.
    setting : Setting
        Who is told.
    step : callable, optional
        Told how many cells were worked out.
    of_contacts : bool, optional
        Whether what was heard is that of contacts: of days on which the other end heard
        too.

    Returns
    -------
    shares : numpy.ndarray
        Shape (N, M), of a sender of one watt: at my end for what was heard, at the far
        end for who heard me; of a contact in both, the far end being as much stronger
        than me as it is.
    """
    shares = np.zeros((RATIOS_DB.size, trials.row.size))
    own_dbw, far_dbw = powers_dbw(seen, trials.row, setting)
    way = seen.way[trials.row]
    power = np.where(way == _HEARD, far_dbw, own_dbw)
    need = needs_db(seen, trials.row, setting) - power
    # Without levels nothing is asked but what is needed.
    has_levels = bool(np.isfinite(trials.ratio_db).any())
    step_db = RATIOS_DB[1] - RATIOS_DB[0]
    least = need - (_LOUDER_DB if has_levels else 0.0)
    most = RATIOS_DB[-1] if has_levels else need.max(initial=0.0) + step_db
    stronger = np.where(way == _CONTACT, np.round(far_dbw - own_dbw), 0.0)
    # What the end needs, of a watt, that does not tell the level.
    other = np.round(need + power - np.where(way == _HEARD, own_dbw, far_dbw))

    def tell(block: Block) -> Floats:
        members = block.members
        told = np.zeros((RATIOS_DB.size, members.size))
        times = _moments(block.day, block.hours)
        link = setting.link(block.own, block.far, times, block.bands)
        ask = setting.asker(link, block.bands)
        start = np.searchsorted(RATIOS_DB, least[members].min(), side="right") - 1
        of_row = (other if of_contacts else stronger)[members]
        for more_db in np.unique(of_row).tolist():
            alike = of_row == more_db
            for n in range(max(int(start), 0), RATIOS_DB.size):
                if RATIOS_DB[n] > most:
                    break
                ratio = float(RATIOS_DB[n])
                if of_contacts:
                    each = [ask(more_db, ratio).both, ask(ratio, more_db).both]
                else:
                    found = ask(ratio, ratio - more_db)
                    each = [found.hear, found.heard, found.both]
                for kind, values in enumerate(each):
                    mine = alike & (way[members] == kind)
                    at = block.place[mine], block.hour[mine], block.band[mine]
                    told[n, mine] = values[at]
                if max(float(values.max()) for values in each[:2]) < _NEVER:
                    break
        # Below what was asked for, the same as there.
        told[: max(int(start), 0)] = told[max(int(start), 0)]
        return told

    blocks = blocks_of(seen, trials, setting.bands, setting.here, whole_days=False)
    for block, told in each_of(blocks, tell, setting.processes, step):
        shares[:, block.members] = told
    return shares


def day_chances(
    seen: Sightings,
    trials: Trials,
    setting: Setting,
    step: Callable[[int], None] = lambda _: None,
    *,
    all_bands: bool,
) -> Floats:
    """
    Tell the chance of each row at every hour of its day, on every band if wanted.

    Parameters
    ----------
    seen : Sightings
        Rows of the files.
    trials : Trials
        M times.
    setting : Setting
        Who is told.
    step : callable, optional
        Told how many cells were worked out.
    all_bands : bool
        Whether all bands of the setting are wanted.

    Returns
    -------
    chances : numpy.ndarray
        Shape (M, 24, B), of one band unless all are wanted.
    """
    count = len(setting.bands) if all_bands else 1
    chances = np.zeros((trials.row.size, 24, count))
    own_dbw, far_dbw = powers_dbw(seen, trials.row, setting)
    needs = needs_db(seen, trials.row, setting)
    way = seen.way[trials.row]
    # What is asked of both ends, in whole decibels so that many rows ask the same.
    asked = np.round(np.stack([needs - own_dbw, needs - far_dbw], axis=1))

    def tell(block: Block) -> Floats:
        told = np.zeros((block.members.size, 24, count))
        link = setting.link(
            block.own, block.far, _moments(block.day, block.hours), block.bands
        )
        ask = setting.asker(link, block.bands)
        kinds, kind = np.unique(asked[block.members], axis=0, return_inverse=True)
        for n, (heard_db, hear_db) in enumerate(kinds):
            found = ask(float(heard_db), float(hear_db))
            each = [found.hear, found.heard, found.both]
            for w, values in enumerate(each):
                mine = (kind.ravel() == n) & (way[block.members] == w)
                at = block.place[mine]
                told[mine] = (
                    values[at]
                    if all_bands
                    else values[at, :, block.band[mine]][..., None]
                )
        return told

    blocks = blocks_of(
        *(seen, trials, setting.bands, setting.here),
        whole_days=True,
        all_bands=all_bands,
    )
    for block, told in each_of(blocks, tell, setting.processes, step):
        chances[block.members] = told
    return chances


def _moments(day: np.datetime64, hours: Indices) -> object:
    """Middles of hours of a day."""
    first = day.astype("datetime64[D]").astype("datetime64[s]")
    return first + (hours * 3600 + 1800).astype("timedelta64[s]")


def share_above(shares: Floats, ratio_db: Floats) -> Floats:
    """
    Read the share of days above a ratio, in straight lines between those kept.

    Parameters
    ----------
    shares : numpy.ndarray
        Shape (N, M), as of `told_shares`.
    ratio_db : numpy.ndarray
        Shape (M,), ratio of a sender of one watt. [dB]

    Returns
    -------
    share : numpy.ndarray
        Shape (M,).
    """
    step = RATIOS_DB[1] - RATIOS_DB[0]
    place = np.clip((ratio_db - RATIOS_DB[0]) / step, 0.0, RATIOS_DB.size - 1.0001)
    low = place.astype(int)
    column = np.arange(shares.shape[1])
    under, over = shares[low, column], shares[low + 1, column]
    return np.asarray(under + (place - low) * (over - under))


def ratio_at(shares: Floats, share: Floats) -> Floats:
    """
    Find the ratio that is passed on a share of days.

    Parameters
    ----------
    shares : numpy.ndarray
        Shape (N, M), falling with the ratio.
    share : numpy.ndarray
        Shape (M,).

    Returns
    -------
    ratio_db : numpy.ndarray
        Shape (M,), of a sender of one watt; the ends of `RATIOS_DB` beyond them. [dB]
    """
    last = np.clip((shares > share).sum(axis=0), 1, RATIOS_DB.size - 1)
    column = np.arange(shares.shape[1])
    under, over = shares[last, column], shares[last - 1, column]
    fall = np.where(over > under, over - under, 1.0)
    back = np.clip((share - under) / fall, 0.0, 1.0)
    return np.asarray(RATIOS_DB[last] - back * (RATIOS_DB[last] - RATIOS_DB[last - 1]))


def level_told_db(shares: Floats, least_db: Floats) -> Floats:
    """
    Tell the middle ratio of the days on which it is above the least.

    Parameters
    ----------
    shares : numpy.ndarray
        Shape (N, M), as of `told_shares`.
    least_db : numpy.ndarray
        Shape (M,), least ratio of a sender of one watt that shows. [dB]

    Returns
    -------
    ratio_db : numpy.ndarray
        Shape (M,), of a sender of one watt. [dB]
    """
    return ratio_at(shares, 0.5 * share_above(shares, least_db))
