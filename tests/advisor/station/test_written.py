"""A station written as a file is read as the same station."""

from dataclasses import replace

import pytest

from advisor.station.file import demo_station, resolve_station, starter_toml
from advisor.station.learned import Learned
from advisor.station.written import station_toml, station_values, with_learned

FULL = """
place = "-33.3,26.5"
name = 'hut "ö" \\ \U0001f4e1'
emission = {name = "own", bandwidth_hz = 500, snr_db = 3, duty_cycle = 0.4}
horizon = [[0, 3], [90, 12.5]]
to = ["KE", "within 800 km"]
[far_end]
setup = "slope"
at_least_one_of = 3
[learned]
source = "a log"
noise_db = {40m = 3.5, "20 m" = -2}
far_end_db = 1
[learned.level_db]
slope = {"15 m" = -4.5}
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


def test_what_was_learned_takes_the_place_of_what_was_and_leaves_the_rest():
    text = FULL.replace("[far_end]", "# mine\n[far_end]")
    again = with_learned(text, {"source": "new", "noise_db": {"30 m": 2.0}})
    before, after = (resolve_station(each, {})[0] for each in (text, again))
    assert after.learned == Learned("new", (("30 m", 2.0),))
    assert before.setups[0].level_db == (("15 m", -4.5),)
    assert replace(before.setups[0], level_db=()) == after.setups[0]
    assert before.far_end.setup == after.far_end.setup
    assert "# mine" in again
    assert again.count("learned") == 1
