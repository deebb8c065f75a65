"""
The beacons' schedule against what is published of it.

International Beacon Project of IARU and NCDXF: 18 sites, five frequencies, ten seconds
each, a round of three minutes (public schedule, from memory).
"""

import pytest

from advisor.station.beacons import BEACON_MHZ, beacon_called, beacons
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
