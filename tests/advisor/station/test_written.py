"""A station written as a file is read as the same station."""

import pytest

from advisor.station.file import demo_station, resolve_station, starter_toml
from advisor.station.written import station_toml, station_values

FULL = """
place = "-33.3,26.5"
name = 'hut "ö" \\ \U0001f4e1'
emission = {name = "own", bandwidth_hz = 500, snr_db = 3, duty_cycle = 0.4}
horizon = [[0, 3], [90, 12.5]]
to = ["KE", "within 800 km"]
[far_end]
setup = "slope"
at_least_one_of = 3
[[setups]]
name = "slope"
shape = "sloper"
bearing_deg = 37
traps = [[3, 4, 50, 200]]
tuner = false
[[setups]]
shape = "free wire"
points_m = [[0, 0, 2], [0, 9.5, 8]]
"""


@pytest.mark.parametrize("source", [demo_station(), starter_toml(), FULL])
def test_written_and_read_again_nothing_has_changed(source):
    station, _ = resolve_station(source, {})
    again, _ = resolve_station(station_toml(station_values(station)), {})
    assert again == station
