"""The error beside the answer: of the month and of the method, never in the chance."""

import json
from dataclasses import replace

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from advisor.answers.uncertainty import (
    METHOD_DECILE_DB,
    METHOD_RMS_DB,
    error_range,
    range_words,
)
from advisor.cli import main
from advisor.engine.contact import contact_chance
from advisor.engine.engine import wire_gains
from advisor.engine.months import month_layers
from advisor.engine.targets import over_targets
from advisor.propagation.muf import MAP_ERROR_DECILE, MAP_RMS
from geo.ionosphere.index import ig12_at

SHARES = st.floats(0.0, 1.0)
START = "2026-12-05T12"


@pytest.fixture(scope="module")
def advice(ask):
    """Two hours on the usual bands, with the activity given."""
    return ask("KF07jo", "KI88", START, hours=2)


@given(SHARES, st.lists(SHARES, min_size=4, max_size=4))
def test_the_range_holds_the_answer_and_either_error(chance, others):
    """It is as wide as the greater of the two alone, and no wider than their sum."""
    now, weak, strong, low_db, high_db = map(np.array, (chance, *others))
    low, high = error_range(now, [weak, strong], [low_db, high_db])
    assert 0.0 <= low <= min(chance, *others) + 1e-12
    assert max(chance, *others) - 1e-12 <= high <= 1.0
    down = max(chance - min(weak, strong), 0) + max(chance - min(low_db, high_db), 0)
    assert low >= chance - down - 1e-12


def test_month_and_method_are_put_off_equally_far():
    """By what one in ten passes at either end of a normal law."""
    decile = norm.isf(0.1)
    assert pytest.approx(decile, abs=1e-3) == METHOD_DECILE_DB / METHOD_RMS_DB
    assert pytest.approx(decile, abs=1e-3) == MAP_ERROR_DECILE / MAP_RMS


@pytest.mark.slow
def test_fof2_is_off_by_a_decile_of_the_map_where_the_sun_is_given(advice):
    """18.6 %: 1.2816 times 14.5 % rms of monthly medians off the maps (ionosondes)."""
    question, paths = advice.question, advice.halves.link.paths
    usual, weak, strong = (
        month_layers(question, question.solar.r12, paths, month) for month in (0, -1, 1)
    )
    assert np.allclose(weak.fof2_mhz / usual.fof2_mhz, 1.0 - 0.186, atol=1e-3)
    assert np.allclose(strong.fof2_mhz / usual.fof2_mhz, 1.0 + 0.186, atol=1e-3)
    for name in ("foe_mhz", "m3000f2", "hmf2_km", "foes_mhz", "fof2_upper_ratio"):
        assert np.array_equal(getattr(weak, name), getattr(usual, name), equal_nan=True)
    # What the months have in common is worked out once, and as without keeping it.
    everywhere = paths.control_lat_deg.ravel(), paths.control_lon_deg.ravel()
    anew = question.conditions.over(*everywhere, question.times, question.solar.r12)
    assert np.array_equal(usual.hmf2_km, anew.hmf2_km, equal_nan=True)
    assert np.array_equal(usual.fof2_mhz, anew.fof2_mhz, equal_nan=True)
    # Given the month, its days spread by themselves.
    assert not weak.unsounded.any()
    assert usual.unsounded.all()


@pytest.mark.slow
def test_the_sun_and_the_map_add_as_squares(advice):
    """A range of the activity makes a month stand off farther, in quadrature."""
    question, paths = advice.question, advice.halves.link.paths
    solar = question.solar
    low = solar.r12 - 40.0
    ranged = replace(question, solar=replace(solar, low=low))
    usual, weak = (month_layers(ranged, solar.r12, paths, m) for m in (0, -1))
    at_low = replace(solar, r12=low, ig12=ig12_at(question.times, low))
    edge = month_layers(replace(question, solar=at_low), low, paths)
    by_sun = edge.fof2_mhz / usual.fof2_mhz - 1.0
    assert (by_sun < -0.02).all()
    expected = 1.0 - np.sqrt(by_sun**2 + 0.1858**2)
    assert np.allclose(weak.fof2_mhz / usual.fof2_mhz, expected, atol=1e-3)


@pytest.mark.slow
def test_the_range_of_an_answer_is_that_of_its_parts(advice):
    """Worked out here anew: two months, and the level 1.2816 times 8 dB off."""
    question, halves = advice.question, advice.halves
    one = advice.setups[0]
    wire = one.bearing.wire_deg

    def chance(link, more_db=0.0):
        gains = wire_gains(question, link, halves.patterns[one.name], wire)
        louder = replace(
            link, heard_db=link.heard_db + more_db, hear_db=link.hear_db + more_db
        )
        return over_targets(question, contact_chance(louder, gains).both[0])

    months = [chance(link) for link in halves.spared]
    weaker = chance(halves.link, -METHOD_DECILE_DB)
    down = np.hypot(
        np.maximum(one.chance - np.minimum(*months), 0.0), one.chance - weaker
    )
    assert np.allclose(one.chance_low, np.clip(one.chance - down, 0, 1), atol=1e-12)
    assert (one.chance_high >= np.maximum(*months) - 1e-12).all()
    assert (one.chance_high - one.chance_low).max() > 0.3


@pytest.mark.slow
def test_one_range_in_text_json_and_why():
    """The same two ends, the same words."""
    words = ["--from", "KF07jo", "--to", "KI88", "--shape", "dipole", "--r12", "60"]
    words += ["--band", "20 m"]
    when = ["--date", f"{START}:00Z", "--hours", "1"]

    def run(*asked):
        result = CliRunner().invoke(main, list(asked))
        assert result.exit_code == 0, result.output
        return result.stdout

    (row,) = json.loads(run("tonight", *words, *when, "--json"))["results"]
    why = json.loads(run("why", *words, "--at", f"{START}:00Z", "--json"))["why"]
    ends = row["chance_low"], row["chance_high"]
    assert (why["whole"]["chance_low"], why["whole"]["chance_high"]) == ends
    told = range_words(*ends)
    assert told
    for text in (
        run("tonight", *words, *when),
        run("why", *words, "--at", f"{START}:00Z"),
    ):
        assert told in " ".join(text.split())
