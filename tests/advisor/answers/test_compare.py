"""
Set-ups side by side: ranking, yardsticks, reasons, and agreement with tonight.

Rules of thumb here are common practice, no source.
"""

from __future__ import annotations

import numpy as np
import pytest

from advisor.answers.ask import answer, question_for
from advisor.answers.best import best_bands
from advisor.answers.compare import compare
from advisor.answers.rows.compare import compare_rows
from advisor.answers.shut import least_bad_words
from advisor.show.text.compare import compare_text
from advisor.station.file import resolve_station

EQUINOX = "2026-03-21"

DIPOLE = {"name": "dipole", "shape": "dipole", "height_m": 10.0}
LONG_LINE = {**DIPOLE, "name": "long line", "line": "RG-58", "line_m": 60.0}
LOW = {**DIPOLE, "name": "low", "height_m": 3.0}
UPRIGHT = {"name": "upright", "shape": "ground-mounted vertical"}


def asked(setups, targets=("014",), *, hours=6, bands=("40 m", "20 m"), **more):
    """A question from the middle of Europe at R12 60, from noon on."""
    station, _ = resolve_station(None, {"place": "48,10", "setups": setups, **more})
    first = np.datetime64(EQUINOX) + np.timedelta64(12, "h")
    return question_for(
        station, list(targets), first, hours, band_names=bands, r12=60.0
    )


@pytest.fixture(scope="module")
def compared():
    """Four set-ups on one question."""
    return compare(answer(asked([LOW, UPRIGHT, LONG_LINE, DIPOLE])))


@pytest.mark.slow
def test_chances_margins_and_order_are_those_of_tonight(compared):
    """One question through two commands gives one number."""
    there = answer(asked([LOW, UPRIGHT, LONG_LINE, DIPOLE]))
    assert [each.advice.name for each in compared.setups] == [
        each.name for each in there.setups
    ]
    for ours, theirs in zip(compared.setups, there.setups, strict=True):
        assert np.array_equal(ours.advice.chance, theirs.chance)
        np.testing.assert_array_equal(ours.advice.margin_db, theirs.margin_db)
        assert ours.advice.bearing == theirs.bearing
        assert ours.score_low <= ours.advice.score <= ours.score_high
        assert np.array_equal(ours.best_band, best_bands(theirs.chance))
    assert np.array_equal(
        compared.setups[0].best_band, best_bands(there.setups[0].chance)
    )


@pytest.mark.slow
def test_a_worse_set_up_never_ranks_above_one_that_dominates_it(compared):
    """The same wire behind 60 m of thin line is worse everywhere, and stands below."""
    found = {each.advice.name: each for each in compared.setups}
    names = list(found)
    good, bad = found["dipole"], found["long line"]
    assert np.all(good.advice.chance >= bad.advice.chance - 1e-12)
    assert names.index("dipole") < names.index("long line")
    assert np.all(bad.feed_loss_db > good.feed_loss_db + 1.0)
    np.testing.assert_allclose(bad.efficiency_db, good.efficiency_db)


@pytest.mark.slow
def test_of_two_wires_that_differ_in_the_feed_the_feed_decides(compared):
    """The other parts are nothing, and the decibels are those of the line."""
    assert compared.setups[0].advice.name == "dipole"
    lead = next(each for each in compared.leads if each.name == "long line")
    loss = {each.advice.name: each.feed_loss_db for each in compared.setups}
    more = loss["long line"] - loss["dipole"]
    assert lead.feed == pytest.approx(lead.lead, abs=0.003)
    assert lead.angle == pytest.approx(0.0, abs=0.003)
    assert lead.efficiency == pytest.approx(0.0, abs=1e-9)
    assert more.min() <= lead.feed_db <= more.max()
    assert lead.angle_db == pytest.approx(0.0, abs=0.05)
    assert lead.is_clear


@pytest.mark.slow
def test_decibels_of_a_lead_are_the_difference_in_gain(compared):
    """Angles, efficiency and feed together; so by definition of gain."""
    first = compared.setups[0].advice
    for lead in compared.leads:
        other = next(
            each.advice for each in compared.setups if each.advice.name == lead.name
        )
        gain = first.gain_dbi - other.gain_dbi
        worth = np.maximum(first.chance, other.chance)
        known = np.isfinite(gain)
        mean = (gain * worth)[known].sum() / worth[known].sum()
        parts = lead.angle_db + lead.efficiency_db + lead.feed_db
        assert parts == pytest.approx(mean, abs=1e-9)


@pytest.mark.slow
def test_two_like_set_ups_are_level():
    """The same wire under two names: nothing to tell them apart, and it says so."""
    found = compare(answer(asked([DIPOLE, {**DIPOLE, "name": "twin"}], hours=6)))
    lead = found.leads[0]
    assert lead.lead == 0.0
    assert not lead.is_clear
    assert "level with twin" in compare_text(found)
    assert compare(answer(asked([DIPOLE], hours=6))).leads == ()


@pytest.mark.slow
def test_what_is_closed_at_every_hour_is_not_called_level():
    """At noon 40 m is absorbed over 6000 km; 10 m may be shut too in a weak month."""
    high = {**DIPOLE, "name": "high band", "bands": ["10 m"]}
    low = {**DIPOLE, "bands": ["40 m"]}
    question = asked([low, high], hours=3, bands=("40 m", "10 m"), power_w=5.0)
    found = compare(answer(question))
    lead = found.leads[0]
    assert lead.lead_low < 0.005 < lead.lead
    assert lead.is_clear
    assert "closed in every hour" in " ".join(compare_text(found).split())


@pytest.mark.slow
def test_a_set_up_that_is_a_yardstick_stands_at_nothing():
    """A vertical as it is by default and no line; a dipole with none."""
    upright = {
        **UPRIGHT,
        "line": "none",
        "transformer": "none",
    }
    level = {**DIPOLE, "line": "none", "transformer": "none", "bearing_deg": 60.0}
    found = {
        each.advice.name: each
        for each in compare(answer(asked([upright, level]))).setups
    }
    over = found["upright"].over_vertical_db
    assert np.nanmax(np.abs(over)) == pytest.approx(0.0, abs=1e-6)
    # Solved against assumed currents, conductor loss, 15 degree steps of the bearing.
    assert found["dipole"].mean_over_dipole_db == pytest.approx(-0.1, abs=0.4)
    np.testing.assert_allclose(found["dipole"].top_m, 10.0)
    np.testing.assert_allclose(found["upright"].top_m, [10.56, 5.32], rtol=0.03)


@pytest.mark.slow
def test_adding_a_set_up_never_lowers_the_best_chance():
    alone = compare(answer(asked([DIPOLE], hours=6))).setups[0].advice.score
    more = (
        compare(answer(asked([DIPOLE, UPRIGHT, LOW], hours=6))).setups[0].advice.score
    )
    assert more >= alone


@pytest.mark.slow
def test_bands_that_only_one_is_cut_for_are_named_and_counted():
    """Against the same wire for one band the others are all that it leads by."""
    narrow = {**DIPOLE, "name": "narrow", "bands": ["20 m"]}
    found = compare(answer(asked([narrow, DIPOLE], hours=12)))
    assert found.setups[0].advice.name == "dipole"
    lead = found.leads[0]
    assert lead.only_first == ("40 m",)
    assert lead.only_other == ()
    assert lead.bands == pytest.approx(lead.lead, abs=0.01)
    assert max(map(abs, (lead.angle, lead.efficiency, lead.feed))) < 0.01


@pytest.mark.slow
def test_doubling_the_power_is_worth_3_db_and_never_a_band():
    """
    Common practice, no source.

    Where being heard is the worse direction the margin rises by 3 dB; what the layers
    carry, and so which bands can open at all, stays as it was.
    """
    wire = {**DIPOLE, "bearing_deg": 60.0}
    once, twice = (
        answer(asked([wire], ("KE",), power_w=w, far_end={"power_w": 1000.0}))
        for w in (5.0, 10.0)
    )
    ours, theirs = (each.setups[0].margin_db for each in (once, twice))
    known = np.isfinite(ours)
    assert np.array_equal(known, np.isfinite(theirs))
    np.testing.assert_allclose((theirs - ours)[known], 3.0103, atol=1e-3)
    for one, other in zip(once.targets, twice.targets, strict=True):
        assert np.array_equal(one.support, other.support)
    closed = once.targets[0].support == 0.0
    assert np.all(twice.setups[0].chance[0][closed] < 0.01)


@pytest.mark.slow
def test_rows_are_those_of_tonight_with_the_yardsticks(compared):
    from advisor.answers.rows.tonight import advice_rows

    rows, theirs = compare_rows(compared), advice_rows(compared.advice)
    assert len(rows) == len(theirs)
    for row, other in zip(rows, theirs, strict=True):
        same = {key: value for key, value in vars(row).items() if key in vars(other)}
        assert same == pytest.approx(vars(other), nan_ok=True)
    assert {row.rank for row in rows} == {1, 2, 3, 4}


@pytest.mark.slow
def test_when_nothing_opens_it_says_so():
    found = compare(answer(asked([DIPOLE], ("48,25",), hours=2, bands=("10 m",))))
    assert "Nothing opens in these hours" in compare_text(found)


@pytest.mark.slow
@pytest.mark.parametrize("place", ["90,0", "-90,0", "0,180"])
def test_poles_and_edges_do_not_break(place):
    station, _ = resolve_station(None, {"place": place, "setups": [DIPOLE, UPRIGHT]})
    question = question_for(
        station, ["009"], np.datetime64(EQUINOX), 2, band_names=["20 m"], r12=60.0
    )
    text = compare_text(compare(answer(question)))
    assert "nan" not in text


@pytest.mark.slow
def test_a_folded_v_and_the_least_bad_bearing_are_told():
    """As `wire` and `tonight` say; ends of 10 m of V hang 4.5 m below its middle."""
    folded = {"name": "V", "shape": "inverted V", "length_m": 10.0, "apex_m": 10.0}
    found = compare(answer(asked([folded | {"end_m": 5.5}, DIPOLE], bands=("20 m",))))
    assert [each.topic for each in found.cautions] == ["folded legs"]
    for brief in (False, True):
        said = " ".join(compare_text(found, brief=brief).split())
        assert "Legs nearer than 80 deg" in said
        assert "V (20 m " in said
    shut = answer(asked([DIPOLE], ("US",), hours=1, power_w=0.01, emission="SSB"))
    least_bad = least_bad_words(shut, shut.question.declination_deg)
    assert least_bad.startswith("Least bad: dipole")
    said = " ".join(compare_text(compare(shut)).split())
    assert f"Ask for other hours. {least_bad}" in said
    assert "Legs nearer" not in said
