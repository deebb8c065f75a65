"""
The beacons' schedule against what is published of it.

International Beacon Project of IARU and NCDXF: 18 sites, five frequencies, ten seconds
each, a round of three minutes (public schedule, from memory).
"""

from dataclasses import replace

import pytest

from advisor.station.beacons import (
    BEACON_END,
    BEACON_MHZ,
    at_a_beacon,
    beacon_called,
    beacons,
)
from advisor.station.emissions import emission_by_name
from advisor.station.file import resolve_station
from advisor.station.learned import Learned
from geo.errors import InputError


def test_the_first_opens_the_hour_and_climbs_a_band_every_ten_seconds():
    first = beacon_called("1")
    assert [first.starts_s(band) for band in BEACON_MHZ] == [0, 10, 20, 30, 40]
    assert list(BEACON_MHZ.values()) == [14.1, 18.11, 21.15, 24.93, 28.2]


def test_each_band_is_never_silent_and_nobody_sends_on_two_at_once():
    sites = beacons()
    assert [each.slot for each in sites] == list(range(1, 19))
    for band in BEACON_MHZ:
        starts = {each.starts_s(band) for each in sites}
        assert starts == set(range(0, 180, 10))
    for each in sites:
        assert len({each.starts_s(band) for band in BEACON_MHZ}) == 5


def test_a_beacon_is_found_by_its_call_or_number_only():
    last = beacons()[-1]
    assert beacon_called(last.call_sign.lower()) == beacon_called("18") == last
    # The spot value of the table: slot 14 is in the south of Finland.
    finland = beacon_called("14")
    assert (finland.lat_deg, finland.lon_deg) == (60.32, 24.83)
    with pytest.raises(InputError, match="no beacon '19'"):
        beacon_called("19")


def test_a_beacon_is_no_usual_far_end():
    """What was learned of those says nothing of 100 W into a vertical."""
    station, _ = resolve_station(None, {"place": "KF07jo"})
    learned = Learned(source="a log", noise_db=(("20 m", 3.0),), far_end_db=-6.0)
    there = at_a_beacon(replace(station, learned=learned), emission_by_name("CW"))
    assert there.far_end == BEACON_END
    assert there.learned == replace(learned, far_end_db=0.0)
