"""How long a battery lasts."""

import pytest

from advisor.answers.outing.battery import battery_use, battery_words
from advisor.station.emissions import emission_by_name
from advisor.station.file import resolve_station


def battery_station(**values):
    keys = {"place": "KF07jo", "battery_ah": 10.0, "receive_a": 0.2, **values}
    return resolve_station(None, keys)[0]


def test_a_battery_lasts_its_charge_over_the_mean_current():
    """By hand: 0.2 A, and 2 A more for half of the time at 40 %: 0.6 A."""
    cw = emission_by_name("CW")
    use = battery_use(battery_station(send_a=2.2), cw, 16.0)
    assert use.mean_a == pytest.approx(0.6)
    assert use.lasts_h == pytest.approx(10.0 / 0.6)
    assert use.is_enough
    assert "lasts the 16 h" in battery_words(use)
    assert not battery_use(battery_station(send_a=2.2), cw, 17.0).is_enough
    assert battery_use(resolve_station(None, {"place": "KF07jo"})[0], cw, 8.0) is None


def test_a_slotted_emission_sends_every_other_slot_and_not_half_of_that():
    """By hand: 1 A, and 19 A more in every other slot: 10.5 A of 20 Ah, 1.9 h."""
    station = battery_station(battery_ah=20.0, receive_a=1.0, send_a=20.0)
    use = battery_use(station, emission_by_name("FT8"), 3.0)
    assert use.mean_a == pytest.approx(10.5)
    assert not use.is_enough
    assert "sending every other slot at 100 % of it" in battery_words(use)


def test_more_power_and_more_duty_empty_a_battery_sooner():
    """100 W of a steady carrier: about 20 A at 13.8 V beyond receiving."""
    lasts = [
        battery_use(
            battery_station(power_w=watts, battery_v=13.8), emission_by_name(sent), 8.0
        )
        for watts, sent in ((5.0, "CW"), (100.0, "CW"), (100.0, "RTTY"))
    ]
    hours = [each.lasts_h for each in lasts]
    assert hours == sorted(hours, reverse=True)
    assert lasts[2].send_a - lasts[2].receive_a == pytest.approx(20.0, abs=1.0)
