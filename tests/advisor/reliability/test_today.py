"""Days like today: what is known of ranks, against days drawn one by one."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm

from advisor.reliability.chance import Ends, chance
from advisor.reliability.day_states import NO_SIGNAL_DB, Routes
from advisor.reliability.today import LEAST_SPREAD, Today

E_SUPPORT, F2_SUPPORT = np.array([0.7, 0.2]), np.array([0.8, 0.35, 0.1])
E_DB, F2_DB = np.array([-4.0, 3.0]), np.array([-2.0, 4.0, 9.0])
ES_SHARE, ES_DB = np.array([0.02, 0.1, 0.28, 0.6]), [12.0, 6.0, -5.0, NO_SIGNAL_DB]
ABOVE_DB = np.array([-40.0, -20.0, -12.0, -8.0])


def cells(count, today=None):
    """The same cell many times."""

    def many(values):
        return np.repeat(np.asarray(values, dtype=float)[None], count, axis=0)

    return Routes(
        many(E_SUPPORT),
        many(F2_SUPPORT),
        many(E_DB),
        many(F2_DB),
        many(ES_SHARE),
        many([ES_DB]),
        many(NO_SIGNAL_DB),
        many([ABOVE_DB]),
        np.array([2]),
        many(np.zeros(6)),
        many(0.0),
        today,
    )


def ends(count):
    """Two ends alike."""
    spread = np.full(count, 8.0), np.full(count, 11.0)
    half = np.full(count, 0.5)
    return Ends(spread, spread, np.zeros(count), half, (half, half))


def on_days(deviates):
    """Chance to hear on each day, worked out from its ranks alone."""
    u, v, w = norm.cdf(deviates)
    power = 10 ** (0.1 * ABOVE_DB[np.minimum((v * 4).astype(int), 3)])
    for support, level in zip(E_SUPPORT, E_DB, strict=True):
        power += 10 ** (0.1 * level) * (u > 1.0 - support)
    for support, level in zip(F2_SUPPORT, F2_DB, strict=True):
        power += 10 ** (0.1 * level) * (v > 1.0 - support)
    slices = np.searchsorted(np.cumsum(ES_SHARE), 1.0 - w)
    power += 10 ** (0.1 * np.array(ES_DB)[np.minimum(slices, 3)])
    over = 10 * np.log10(power)
    spread = np.where(over > 0, 11.0, 8.0)
    return np.clip(0.5 + 0.8 * over / (spread + np.abs(over)), 0.0, 1.0)


def test_days_that_are_known_one_by_one():
    """With every rank known the chance is that of the one day."""
    deviates = np.random.default_rng(1).normal(size=(3, 300))
    known = Today(
        np.arange(300), deviates[..., None], np.full(deviates.shape, LEAST_SPREAD)
    )
    ours = chance(cells(300, known), ends(300))[1]
    assert ours == pytest.approx(on_days(deviates), abs=1e-3)


def test_what_was_heard_at_another_place_as_days_drawn_say():
    """
    Of days drawn at two places, those on which the first was heard.

    Brute force: 400 000 days with ranks tied together by a Gaussian copula, each heard
    at the first place or not by a throw of its chance.
    """
    rng, common = np.random.default_rng(2), np.array([0.9, 0.7, 0.4])[:, None]
    first = rng.normal(size=(3, 400_000))
    second = common * first + np.sqrt(1 - common**2) * rng.normal(size=first.shape)
    heard = rng.random(first.shape[1]) < on_days(first)
    expected = on_days(second[:, heard]).mean()
    by_month = on_days(second).mean()
    days = first[:, np.flatnonzero(heard)[:4000]]
    today = Today(
        np.zeros(1, dtype=int), (common * days)[:, None], np.sqrt(1 - common**2)
    )
    ours = chance(cells(1, today), ends(1))[1].item()
    assert expected > by_month + 0.03
    assert ours == pytest.approx(expected, abs=0.01)


def test_nothing_known_is_the_month():
    """Without a row, and with deviates that are worth nothing, it is the month's."""
    month = chance(cells(2), ends(2))
    nothing = np.zeros((3, 1, 7))
    today = Today(np.array([-1, 0]), nothing, np.ones((3, 1)))
    ours = chance(replace(cells(2), today=today), ends(2))
    assert np.array_equal(ours[:, 0], month[:, 0])
    assert ours[:, 1] == pytest.approx(month[:, 1], abs=1e-12)
