"""The error beside the answer: of the month and of the method, never in the chance."""

import json
from dataclasses import dataclass, replace

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from advisor.answers.uncertainty import (
    LIGHTNING_DECILE_DB,
    METHOD_DECILE_DB,
    METHOD_RMS_DB,
    error_range,
    level_off,
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


@dataclass(frozen=True)
class _Sky:
    """What of a link's levels an error moves."""

    heard_db: np.ndarray
    hear_db: np.ndarray
    lightning_share: tuple[np.ndarray, np.ndarray]


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
    """
    Worked out here anew: two months, and the level 1.2816 times 8 dB off.

    On 20 m by day lightning is no noise to speak of; its error makes it no narrower.
    """
    question, halves = advice.question, advice.halves
    one = advice.setups[0]
    wire = one.bearing.wire_deg

    def chance(link, more_db=(0.0, 0.0)):
        gains = wire_gains(question, link, halves.patterns[one.name], wire)
        louder = replace(
            link, heard_db=link.heard_db + more_db[0], hear_db=link.hear_db + more_db[1]
        )
        return over_targets(question, contact_chance(louder, gains).both[0])

    months = [chance(link) for link in halves.spared]
    # A tenth of the noise being lightning, 10 dB more of it makes it 1.9 times as loud.
    weaker = chance(
        halves.link,
        [
            -np.hypot(METHOD_DECILE_DB, 10.0 * np.log10(1.0 + 9.0 * share))
            for share in halves.link.lightning_share
        ],
    )
    assert (weaker <= chance(halves.link, [-METHOD_DECILE_DB] * 2) + 1e-12).all()
    down = np.hypot(
        np.maximum(one.chance - np.minimum(*months), 0.0), one.chance - weaker
    )
    assert np.allclose(one.chance_low, np.clip(one.chance - down, 0, 1), atol=1e-12)
    assert (one.chance_high >= np.maximum(*months) - 1e-12).all()
    assert (one.chance_high - one.chance_low).max() > 0.3


def test_lightning_puts_the_level_off_by_its_share_of_the_noise():
    """None of it the method alone; all of it both, 10 dB a decile, as squares."""
    nothing = np.zeros(3)
    shares = np.array([0.0, 0.1, 1.0]), np.ones(3)
    sky = _Sky(heard_db=nothing, hear_db=nothing, lightning_share=shares)
    weak, strong = level_off(sky, -1.0), level_off(sky, 1.0)
    assert weak.heard_db[0] == pytest.approx(-METHOD_DECILE_DB)
    assert weak.heard_db[1] == pytest.approx(-np.hypot(METHOD_DECILE_DB, 2.7875), 1e-4)
    for at in (weak.heard_db[2], *weak.hear_db, *-strong.hear_db, -strong.heard_db[2]):
        assert at == pytest.approx(-np.hypot(METHOD_DECILE_DB, LIGHTNING_DECILE_DB))
    # Without a tenth of it the noise is hardly lower.
    assert strong.heard_db[1] == pytest.approx(METHOD_DECILE_DB, abs=0.02)


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
