"""What was heard: which days it makes likelier, and where."""

from dataclasses import replace

import numpy as np
import pytest

from advisor.answers.ask import question_for
from advisor.engine.contact import contact_chance
from advisor.engine.engine import link_for, wire_gains
from advisor.engine.heard import Reception, among, in_common, turned_at
from advisor.engine.hearing import (
    MISTAKEN,
    ON_THE_AIR,
    after_hearing,
    cell_of,
    heard_on,
)
from advisor.engine.wires import far_end_patterns, patterns_of
from advisor.station.bands import band_by_name
from advisor.station.file import demo_station, resolve_station
from geo.paths import paths_to
from geo.places import resolve_target

FIRST = np.datetime64("2026-12-05T12:00:00")


@pytest.fixture(scope="module")
def asked():
    """Two bands to Kenya for twelve hours from the demonstration's hill."""
    station, _ = resolve_station(demo_station(), {})
    wire = replace(station.setups[0], bearing_deg=120.0)
    station = replace(station, setups=(wire,))
    return question_for(station, ["KE"], FIRST, 12, band_names=["20 m", "15 m"], r12=20)


@pytest.fixture(scope="module")
def parts(asked):
    """Link and gains of that question by the month."""
    far = far_end_patterns(asked.station.far_end, asked.bands)
    link = link_for(asked, asked.solar.r12, far)
    setup = asked.station.setups[0]
    return link, wire_gains(asked, link, patterns_of(setup, asked), setup.bearing_deg)


def reception(asked, band="15 m", where="KE", hour=0, is_heard=True, **told):
    """One thing heard or not."""
    time = FIRST + np.timedelta64(hour, "h")
    region = asked.station.iaru_region
    target = resolve_target(where, asked.place)
    return Reception(band_by_name(band, region), target, time, is_heard, **told)


def given(asked, parts, *receptions):
    """Chances to hear, (P, T, B), by the month and after what was heard."""
    link, gains = parts
    heard = after_hearing(asked, receptions).heard
    today = heard.over(link.paths, asked.times, len(asked.bands))
    return [
        contact_chance(each, gains).hear[0]
        for each in (link, replace(link, today=today))
    ]


@pytest.mark.slow
def test_hearing_raises_and_silence_lowers_and_both_fade(asked, parts):
    """More on the band and hour heard, less with hours, nothing after half a day."""
    month, heard = given(asked, parts, reception(asked))
    _, silent = given(asked, parts, reception(asked, is_heard=False))
    # In odds: of days in ten there is little left to gain where nearly all are good.
    month_odds, heard_odds, silent_odds = (
        np.log(each[:, :4] / (1.0 - each[:, :4])).mean(axis=0)
        for each in (month, heard, silent)
    )
    more, less = heard_odds - month_odds, month_odds - silent_odds
    assert (more[0] > 0.0).all()
    assert (less[0] > 0.0).all()
    assert more[0, 1] > more[3, 1] > 0.0
    assert np.array_equal(heard[:, 10:], month[:, 10:])
    # One station of many that may not be sending: weaker than having heard one.
    assert less[0, 1] < more[0, 1]


@pytest.mark.slow
def test_the_other_way_round_the_compass_it_says_little(asked, parts):
    """Heard from the west it says a quarter of what it does of the north, or less."""
    month, north = given(asked, parts, reception(asked))
    _, west = given(asked, parts, reception(asked, where="-25,-70"))
    here, there = (np.abs(each - month)[:, 0, 1].mean() for each in (north, west))
    assert there < 0.25 * here


@pytest.mark.slow
def test_a_strong_signal_says_more_than_a_weak_one(asked, parts):
    """A ratio read well above what is usual there raises the chance further."""
    need = asked.emission.snr_db_hz
    weak, strong = (
        given(asked, parts, reception(asked, snr_db_hz=need + over))[1][:, 0, 0].mean()
        for over in (-10.0, 10.0)
    )
    assert strong > weak + 0.01


@pytest.mark.slow
def test_two_places_and_hours_as_days_drawn_one_by_one(asked):
    """
    Brute force: 16 000 days drawn with other numbers, kept by throws of the dice.

    Heard on 15 m at 16Z, silent on 20 m at 17Z; asked of 15 m elsewhere at 18Z.
    """
    there = "-5,37"
    receptions = (
        reception(asked, hour=4),
        reception(asked, "20 m", "ZW", hour=5, is_heard=False),
    )
    third = reception(asked, "15 m", there, hour=6)
    cells = [cell_of(asked, each) for each in (*receptions, third)]
    lat, lon = (np.stack([each[2][k] for each in cells], axis=1) for k in (0, 1))
    rng, count = np.random.default_rng(3), 16_000
    days = np.stack(
        [
            np.linalg.cholesky(among((*receptions, third), k, lat[k], lon[k]))
            @ rng.normal(size=(3, count))
            for k in range(3)
        ]
    )
    hears = [
        heard_on(days[:, n], routes, ends, each, asked)
        for n, (each, (routes, ends, _)) in enumerate(
            zip((*receptions, third), cells, strict=True)
        )
    ]
    throws = rng.random((2, count))
    kept = throws[0] < MISTAKEN + (1.0 - MISTAKEN) * hears[0]
    kept &= throws[1] > ON_THE_AIR * hears[1]
    expected = hears[2][kept].mean()

    one = replace(asked, targets=(resolve_target(there, asked.place),))
    far = far_end_patterns(one.station.far_end, one.bands)
    after = after_hearing(one, receptions)
    link = link_for(after, one.solar.r12, far)
    setup = one.station.setups[0]
    gains = wire_gains(after, link, patterns_of(setup, one), setup.bearing_deg)
    ours = contact_chance(link, gains).hear[0, 0, 6, 1]
    month = contact_chance(replace(link, today=None), gains).hear[0, 0, 6, 1]
    lift = expected - hears[2].mean()
    assert lift > 0.02
    assert ours - month == pytest.approx(lift, abs=0.01)


def test_paths_correlate_as_their_places_do():
    """1 on one path, the law of soundings for short ones, little on another way."""
    paths = paths_to(-32.0, 21.0, [-14.0, -14.0, 50.0], [21.0, 39.0, 0.0])
    places = turned_at(paths, 1)
    found = in_common(1, places, places)
    assert np.diagonal(found) == pytest.approx(1.0)
    assert np.array_equal(found, found.T)
    # Middles 945 km apart: exp(-945/2000).
    assert found[0, 1] == pytest.approx(0.62, abs=0.01)
    assert found[0, 2] < found[0, 1]
    assert (np.linalg.eigvalsh(found) > 0.0).all()
