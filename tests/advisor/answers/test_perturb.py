"""One thing changed: nothing else moves, nothing is worked out that did not change."""

import numpy as np
import pytest

from advisor.answers import perturb
from advisor.answers.ask import question_for
from advisor.answers.bearings import bearing_from, scan_bearings
from advisor.answers.perturb import (
    NOISE,
    POWER,
    SIGNAL,
    Perturbation,
    ask_again,
    assume,
    case_of,
    turned_to_best,
    what_if,
)
from advisor.engine.wires import patterns_of
from advisor.station.file import resolve_station
from geo.errors import InputError


@pytest.fixture(scope="module")
def asked():
    """A dipole that hangs end on to its target, one hour, one band."""
    wire = {"name": "wire", "shape": "dipole", "height_m": 10.0, "bearing_deg": 29.0}
    values = {"place": "KF07jo", "setups": [wire], "noise": "residential"}
    station, _ = resolve_station(None, values)
    start = np.datetime64("2026-12-05T16")
    return question_for(station, ["KE"], start, 1, band_names=["20 m"], r12=60.0)


@pytest.fixture(scope="module")
def now(asked):
    """The case asked about."""
    wire = asked.station.setups[0]
    return case_of(assume(asked), patterns_of(wire, asked), wire.bearing_deg)


def mean(chance):
    return float(chance.mean())


def test_nothing_changed_is_nothing_gained(now):
    (same,) = ask_again(now, [Perturbation("none", "nothing", lambda c: c)], mean)
    assert same.gain == 0.0
    assert same.chance == mean(now.chance())


def test_what_is_not_possible_is_left_out(now):
    def refuse(_):
        raise InputError("no such wire")

    tried = [Perturbation("height", "higher", refuse), SIGNAL]
    assert [each.kind for each in ask_again(now, tried, mean)] == ["signal"]


def test_more_signal_serves_both_ends_power_one_and_quiet_the_other(now):
    """Gain moves both levels; power only that there, quiet only that here."""
    louder, quieter = POWER.applied(now).link, NOISE.applied(now).link
    np.testing.assert_array_equal(louder.hear_db, now.link.hear_db)
    np.testing.assert_allclose(louder.heard_db - now.link.heard_db, 10 * np.log10(2.0))
    np.testing.assert_array_equal(quieter.heard_db, now.link.heard_db)
    gained = quieter.hear_db - now.link.hear_db
    # Lightning and the galaxy stay, so that less than the 6 dB is won.
    assert (gained > 0.0).all()
    assert (gained < perturb.LESS_NOISE_DB).all()
    signal, power, noise = ask_again(now, [SIGNAL, POWER, NOISE], mean)
    assert min(power.gain, noise.gain) >= 0.0
    assert signal.gain > power.gain


@pytest.mark.slow
def test_the_sky_is_not_worked_out_again_for_a_wire(asked, now, monkeypatch):
    """Only another hour or band asks for it; the wire is solved for the bands alone."""
    skies, wires = [], []
    link_for, solved = perturb.link_for, perturb.patterns_of
    monkeypatch.setattr(
        perturb, "link_for", lambda *a, **kw: skies.append(a) or link_for(*a, **kw)
    )
    monkeypatch.setattr(
        perturb, "patterns_of", lambda *a: wires.append(a) or solved(*a)
    )
    wire = asked.station.setups[0]
    scan = scan_bearings(asked, now.link, now.patterns)
    bearing = bearing_from(scan, wire.bearing_deg)
    (turn,) = ask_again(now, turned_to_best(bearing), mean)
    assert turn.gain > 0.0
    assert (skies, wires) == ([], [])
    found = what_if(now, wire, bearing)
    kinds = [each.kind for each in found]
    assert kinds.count("hour") == 2
    assert len(skies) == kinds.count("hour") + kinds.count("band")
    assert len(wires) == kinds.count("band")
