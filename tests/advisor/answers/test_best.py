"""The best wire and band of an hour, and what shut bands are called."""

import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from advisor.answers.ask import answer, question_for
from advisor.answers.best import STAY_CHANCE, best_ways
from advisor.answers.limits import OPEN_CHANCE
from advisor.answers.rows.tonight import advice_details, advice_rows
from advisor.answers.shut import bridge, hour_words, shut_bands
from advisor.answers.states import (
    FAR_SHORT_DB,
    NO_LAYER,
    OPEN,
    SHORT,
    STATES,
    WEAK_SIGNAL,
    mark,
    states,
    weak_signal_db,
)
from advisor.answers.uncertainty import range_words
from advisor.answers.words import best_cell, headline, reasons
from advisor.engine.gains import NO_GAIN_DB
from advisor.show.text.tonight import advice_text
from advisor.station.emissions import emission_by_name
from advisor.station.file import resolve_station
from geo.errors import InputError

FIXED = {"bearing_deg": 90}
TEN = {"name": "for 10 m", "shape": "dipole", "height_m": 8, "bands": ["10 m"]}
HIGH = {"name": "for 20 m", "shape": "dipole", "height_m": 10, "bands": ["20 m"]}
LOW = {"name": "for 40 m", "shape": "dipole", "height_m": 5, "bands": ["40 m"]}
TALL = {"name": "tall L", "shape": "inverted L", "height_m": 8}
START = np.datetime64("2026-12-05T00")


def asked(setups, targets=("KE",), hours=24, **values):
    station, _ = resolve_station(None, {"place": "KF07jo", "setups": setups, **values})
    return question_for(station, targets, START, hours, r12=58)


@pytest.fixture(scope="module")
def two():
    return answer(asked([HIGH, LOW], ("KE", "within 400 km")))


def test_a_way_is_kept_while_nothing_gains_much():
    rng = np.random.default_rng(17)
    chance = rng.random((3, 2, 40, 4)) * (rng.random((3, 2, 40, 4)) > 0.3)
    wire, band = best_ways(chance)
    for k in range(2):
        for t in range(40):
            greatest = chance[:, k, t].max()
            if wire[k, t] < 0:
                assert greatest < OPEN_CHANCE
                continue
            here = chance[wire[k, t], k, t, band[k, t]]
            assert here >= greatest - STAY_CHANCE
            if t and wire[k, t - 1] >= 0:
                before = chance[wire[k, t - 1], k, t, band[k, t - 1]]
                moved = (wire[k, t], band[k, t]) != (wire[k, t - 1], band[k, t - 1])
                assert moved == (before < max(greatest - STAY_CHANCE, OPEN_CHANCE))


@pytest.mark.slow
def test_the_best_of_each_hour_is_that_of_some_set_up(two):
    best = two.best
    for k, t, b in np.ndindex(best.chance.shape):
        one = two.setups[best.setup[k, t, b]]
        assert best.chance[k, t, b] == one.chance[k, t, b]
        assert best.limit[k, t, b] == one.limit[k, t, b]
        assert one.works[b] or not best.works[b]
    near, far = best.wire[1], best.wire[0]
    assert {two.setups[i].name for i in near[near >= 0]} == {"for 40 m"}
    assert {two.setups[i].name for i in far[far >= 0]} == {"for 20 m", "for 40 m"}


@pytest.mark.slow
def test_hours_of_json_rows_and_text_agree(two):
    rows = advice_rows(two)
    text = advice_text(two, 0.0)
    for told in advice_details(two).answer:
        for hour in told.hours:
            cells = [r for r in rows if (r.target, r.utc) == (told.target, hour.utc)]
            greatest = max(row.chance for row in cells)
            assert (hour.state == "open") == (greatest >= OPEN_CHANCE)
            if hour.band:
                (row,) = (
                    r for r in cells if (r.setup, r.band) == (hour.setup, hour.band)
                )
                assert row.chance == hour.chance >= greatest - STAY_CHANCE
                assert row.state == "open"
        assert told.headline.split(".")[0] in " ".join(text.split())
    assert text.count("UTC") == len(two.targets)


@pytest.mark.slow
def test_shut_is_told_apart():
    """Nothing is short that is not open for want of signal; no power makes a layer."""
    weak = answer(
        asked([one | FIXED for one in (HIGH, LOW, TEN)], power_w=1.0, emission="SSB")
    )
    strong = answer(
        asked([one | FIXED for one in (HIGH, LOW, TEN)], power_w=100.0, emission="SSB")
    )
    low = np.isin(weak.states, [SHORT, WEAK_SIGNAL])
    assert low.any()
    assert (weak.best.margin_db[low] < 0.0).all()
    assert (weak.best.margin_db[low] >= -FAR_SHORT_DB).all()
    dead = weak.states == NO_LAYER
    assert dead.any()
    assert np.isin(strong.states[dead], [NO_LAYER, OPEN]).all()
    digital = answer(
        asked([one | FIXED for one in (HIGH, LOW, TEN)], power_w=1.0, emission="FT8")
    )
    # Both ways, and the far end's power is as it was: what is open for weak signals
    # in SSB is open in FT8, maybe on another wire, or has no lack there.
    spared = weak.states == WEAK_SIGNAL
    no_lack = digital.best.margin_db[spared] >= -1e-9
    assert (no_lack | (digital.states[spared] == OPEN)).all()


@pytest.mark.slow
def test_what_no_layer_returns_is_called_so_and_hung_broadside_all_the_same():
    """Far off with no power: the words are one, and the wire is not put end on."""
    far = answer(asked([TEN, LOW], ("US",), hours=1, power_w=0.1, emission="SSB"))
    assert not far.best.chance.any()
    assert "the nearest way is" in reasons(far, 0)[0]
    assert "the sky offers" not in " ".join(reasons(far, 0))
    for line in reasons(far, 0)[1:]:
        for part in line.removesuffix(".").split(": ", 1)[1].split("; "):
            band = [each.name for each in far.question.bands].index(part[:4])
            is_dead = far.states[0, best_cell(far, 0)[0], band] == NO_LAYER
            assert is_dead == part.endswith("no layer")
    for one in far.setups:
        off = abs((one.bearing.wire_deg - far.targets[0].bearing_deg) % 180.0 - 90.0)
        assert off < 45.0


def test_a_range_has_one_decimal_always():
    said = [
        range_words(low, high) for low, high in ((0.0, 0.3), (0.2, 0.8), (0.9, 1.0))
    ]
    assert all(re.match(r"\d+\.\d to \d+\.\d with", each) for each in said)


@pytest.mark.slow
def test_hills_hide_what_the_layers_return():
    """40 degrees all round: nothing from 3000 km comes in so steeply on 20 m."""
    hidden = answer(asked([HIGH], hours=3, horizon_deg=40))
    assert {STATES[i] for i in np.unique(hidden.states)} == {"below the horizon"}
    assert "below your horizon" in advice_text(hidden, 0.0)


def to_new_zealand(power_w, emission="CW", target="NZ"):
    """10 m from Japan in a December morning: open in part, over several hops."""
    return answer(
        asked([TEN], [target], 2, place="QN13wt", power_w=power_w, emission=[emission])
    )


@pytest.mark.slow
def test_what_bridges_a_lack_opens_the_band_when_asked_again():
    """From the table of emissions FT8 asks for 18 dB less than CW."""
    hour = 0, 1, 0
    weak = to_new_zealand(1.0)
    words = bridge(weak, *hour)
    power_w = float(re.fullmatch(r"FT8 or (\d+) W would open it 1 day in 20", words)[1])
    assert weak.best.chance[hour] < OPEN_CHANCE
    assert to_new_zealand(power_w).best.chance[hour] >= OPEN_CHANCE
    assert to_new_zealand(power_w - 1.0).best.chance[hour] < OPEN_CHANCE
    assert to_new_zealand(1.0, "FT8").best.chance[hour] >= OPEN_CHANCE
    assert bridge(to_new_zealand(1.0, target="021"), 0, 0, 0) == ""


@pytest.mark.slow
def test_a_ray_that_lands_along_the_ground_is_no_way():
    """An antenna over soil has no gain at 0 degrees: such a mode is there on no day."""
    shut = to_new_zealand(21.0, target="053")
    link = shut.halves.link
    nil = (link.far.hop_db <= NO_GAIN_DB) & (link.modes.muf_mhz > 28.5)
    assert nil.any()
    assert not link.modes.returned[nil].any()
    assert set(np.unique(shut.states)) <= {OPEN, NO_LAYER}


@pytest.mark.slow
def test_hours_marked_but_not_named_the_best_are_said_to_be_worse(two):
    """Of a band at 8 days in ten and at 1, the hours of 1 are no best ones."""
    best = two.best
    stars, hours = np.zeros_like(best.band), np.arange(best.band.shape[1])
    chance = np.zeros_like(best.chance)
    chance[..., 0] = np.where(hours < 3, 0.8, 0.1)
    worse = replace(two)
    vars(worse)["best"] = replace(best, band=stars, wire=stars, chance=chance)
    assert "00-03Z; other open hours are under 1.5 days in ten." in headline(worse, 0)
    chance = np.where(chance > 0.5, chance, 0.0)
    stars = np.where(hours < 3, stars, -1)
    vars(worse)["best"] = replace(best, band=stars, wire=stars, chance=chance)
    assert "00-03Z. At best 8" in headline(worse, 0)


def test_weak_signal_modes_spare_what_the_table_of_emissions_says():
    question = asked([HIGH], hours=1)
    sent = replace(question, emission=emission_by_name("SSB"))
    assert weak_signal_db(sent) == pytest.approx(10.0 + 18.0)
    digital = replace(question, emission=emission_by_name("JS8"))
    assert weak_signal_db(digital) == 0.0


@pytest.mark.slow
def test_states_of_one_set_up_are_those_of_its_rows(two):
    for one in two.setups:
        found = states(two.question, two.halves.link, one)
        is_open = one.chance >= OPEN_CHANCE
        assert ((found == OPEN) == (is_open & one.works)).all()
    for shut in shut_bands(two, 0):
        assert shut.state != "open"
    assert mark(OPEN, 3.0) == ""


def test_what_cannot_be_hung_is_left_out_and_named():
    """5.3 m of wire do not go up 8 m."""
    question = asked([{**TALL, "bands": ["40 m", "20 m"]}, HIGH], hours=1)
    (left,) = question.left_out
    assert (left.setup, left.bands) == ("tall L", ("20 m",))
    assert left.keys == ("height_m", "bands")
    assert "leaves 0.00 m for the level part" in left.words
    assert [each.bands for each in question.station.setups] == [("40 m",), ("20 m",)]
    with pytest.raises(InputError, match="tall L is left out on 20 m"):
        asked([{**TALL, "bands": ["20 m"]}], hours=1)


def test_an_hour_names_no_band_that_its_table_leaves_out():
    """A band shut in all hours has no column: it is told of in a line of its own."""
    bands = tuple(SimpleNamespace(name=name) for name in ("40 m", "20 m"))
    always_shut = np.array([[[SHORT, OPEN], [SHORT, NO_LAYER]]])
    advice = SimpleNamespace(
        states=always_shut,
        best=SimpleNamespace(margin_db=np.array([[[-5.0, 3.0], [-5.0, np.nan]]])),
        question=SimpleNamespace(bands=bands),
    )
    assert hour_words(advice, 0, 1) == "no layer"
    advice.states = np.full_like(always_shut, SHORT)
    advice.best.margin_db = np.full((1, 2, 2), -5.0)
    assert hour_words(advice, 0, 0) == "40 m 5 dB short"
    advice.best.margin_db[0, 1, 1] = -2.0
    assert hour_words(advice, 0, 0, 1) == "20 m 2 dB short"
    advice.states[0, 0, 1] = WEAK_SIGNAL
    weak = f"{bands[1].name} for weak-signal modes"
    assert hour_words(advice, 0, 0) == weak
