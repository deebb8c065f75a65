"""Where on a band an emission belongs: the band plans of the three IARU regions."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache

from advisor.station.bands import Band
from advisor.station.emissions import Emission
from geo.fields import record
from geo.tables import read_table

_USES = {
    "CW": "CW",
    "SSB": "phone",
    "AM": "phone",
    "FM": "FM",
    "RTTY": "digital",
    "PSK31": "digital",
}
"""Under what a band plan holds each emission that has no dial frequency of its own."""

_CUSTOM = 0
"""Stands for all three regions in the table."""

LICENCE_FIRST = "Your licence and national band plan come first."


@record
class Segment:
    """
    Where on a band an emission belongs.

    Attributes
    ----------
    band : str
        The band.
    use : str
        What the segment is for: CW, digital, phone, FM, or an emission that has dial
        frequencies of its own.
    low_mhz : float
        Lower edge. [MHz]
    high_mhz : float
        Upper edge; the same for a dial frequency. [MHz]
    source : str
        Where it was taken from.
    note : str
        What a licence holder should look up; may be empty.
    """

    band: str
    use: str
    low_mhz: float
    high_mhz: float
    source: str
    note: str = ""

    @property
    def words(self) -> str:
        """Band and edges, or the dial frequency."""
        if self.low_mhz == self.high_mhz:
            return f"{self.band} {_mhz(self.low_mhz)} on the dial"
        return f"{self.band} {_mhz(self.low_mhz)}-{_mhz(self.high_mhz)}"


def segments(bands: Iterable[Band], emission: Emission) -> tuple[Segment, ...]:
    """
    Find where an emission belongs on some bands.

    Parameters
    ----------
    bands : iterable of Band
        The bands; each knows its region.
    emission : Emission
        What is sent.

    Returns
    -------
    segments : tuple of Segment
        One a band; none where the band plan has no place for the emission, or where
        none is held. An emission of one's own has none.

    Examples
    --------
    >>> from advisor.station.bands import band_by_name
    >>> from advisor.station.emissions import emission_by_name
    >>> segments([band_by_name("40 m", 1)], emission_by_name("CW"))[0].words
    '40 m 7.000-7.040'
    """
    found = []
    for band in bands:
        named = _table().get((band.name, _CUSTOM, emission.name))
        use = _USES.get(emission.name, "") if emission.designator else ""
        region = band.iaru_region
        named = named or _table().get((band.name, region, emission.name))
        planned = _table().get((band.name, region, use))
        found += [each for each in (named or planned,) if each]
    return tuple(found)


def segment_words(found: Iterable[Segment], emission: Emission) -> str:
    """
    Say where an emission belongs, and what comes first.

    Parameters
    ----------
    found : iterable of Segment
        From `segments`.
    emission : Emission
        What is sent.

    Returns
    -------
    words : str
        Two sentences, the second with what a segment asks to be looked up; empty
        without a segment.
    """
    found = tuple(found)
    if not found:
        return ""
    notes = "".join(f" {each.band}: {each.note}." for each in found if each.note)
    spans = ", ".join(each.words for each in found)
    return f"{emission.name}, MHz: {spans}. {LICENCE_FIRST}{notes}"


def _mhz(value: float) -> str:
    """Write a frequency to the kilohertz, finer where it is finer."""
    fine = f"{value:.4f}"
    return fine.removesuffix("0")


@cache
def _table() -> dict[tuple[str, int, str], Segment]:
    """Read the table, by band, region and use."""
    table = read_table("band_segments")
    regions = [int(each) for each in table.columns["iaru_region"]]
    return {
        (each.band, region, each.use): each
        for each, region in zip(table.records(Segment), regions, strict=True)
    }
