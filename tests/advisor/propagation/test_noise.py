"""Noise: table values, the sum of sources, and what the layer keeps out."""

import numpy as np
import pytest

from advisor.propagation.noise import (
    KT0_DBW_HZ,
    Noise,
    combine,
    environments,
    galactic_noise,
    man_made_noise,
)
from advisor.propagation.noise_sources import lightning_share
from geo.errors import InputError


def test_unknown_environment_names_the_allowed():
    """A mistyped environment gets its near match."""
    with pytest.raises(InputError, match=r"residental.*did you mean 'residential'"):
        man_made_noise("residental", 7.0)


def test_noise_falls_with_frequency_and_by_environment():
    """City over residential over rural over quiet rural, on every band."""
    frequency = np.array([1.8, 3.6, 7.1, 14.1, 28.5])
    levels = np.array([man_made_noise(e, frequency).factor_db for e in environments()])
    assert np.all(np.diff(levels, axis=0) < 0)
    assert np.all(np.diff(levels, axis=1) < 0)


def test_galactic_noise_is_kept_out_below_fof2():
    """Below the critical frequency overhead it adds nothing."""
    assert galactic_noise(5.0, 6.0).factor_db == -np.inf
    assert np.isfinite(galactic_noise(7.0, 6.0).factor_db)
    alone = combine([man_made_noise("rural", 5.0)])
    both = combine([man_made_noise("rural", 5.0), galactic_noise(5.0, 6.0)])
    assert both.factor_db == pytest.approx(alone.factor_db)


def test_galactic_noise_comes_in_as_the_sky_opens():
    """No step at foF2, nor where all of the sky is open; near it a flat cone."""
    ratio = 1.0 + np.geomspace(1e-9, 9.0, 4001)
    galactic = galactic_noise(7.1, 7.1 / ratio)
    total = combine([man_made_noise("quiet rural", 7.1), galactic]).factor_db
    shut = combine([man_made_noise("quiet rural", 7.1)]).factor_db
    assert total[0] == pytest.approx(shut, abs=1e-6)
    assert np.all(np.diff(total) >= 0.0)
    assert np.diff(total).max() < 0.05
    # Straight overhead a layer is flat: its cone has 1 - cos i of the hemisphere, to
    # which a curved one adds 2 h/R.
    near = 10.0 ** (0.1 * (galactic_noise(7.1, 7.1 / 1.001).factor_db - 52.0 + 19.576))
    assert near == pytest.approx(
        (1.0 - 1.0 / 1.001) * (1.0 + 300.0 / 6371.0) ** 2, rel=2e-3
    )
    open_sky = galactic_noise(7.1, 0.0).factor_db
    assert galactic_noise(7.1, 7.1 / 3.4).factor_db == open_sky


def test_one_source_is_itself():
    """Adding only thermal noise changes a strong source by nothing that counts."""
    source = man_made_noise("city", 7.0)
    total = combine([source])
    assert total.factor_db == pytest.approx(source.factor_db, abs=0.01)
    assert total.upper_db == pytest.approx(source.upper_db, abs=0.01)
    assert total.lower_db == pytest.approx(source.lower_db, abs=0.01)


def test_never_below_thermal():
    """A silent place still has the thermal noise of the receiver's surroundings."""
    silent = combine([Noise(np.array(-np.inf), np.array(2.0), np.array(2.0))])
    assert silent.factor_db == pytest.approx(0.0, abs=1e-9)


def test_sum_against_drawn_powers():
    """The log-normal rule against the median of powers drawn at random."""
    rng = np.random.default_rng(7)
    sources = [
        Noise(np.array(30.0), np.array(9.0), np.array(9.0)),
        Noise(np.array(28.0), np.array(6.0), np.array(6.0)),
    ]
    drawn = sum(
        10 ** ((s.factor_db + s.upper_db / 1.2816 * rng.standard_normal(400_000)) / 10)
        for s in sources
    )
    total = combine(sources)
    # Matching means and variances overstates neither the median nor the decile much.
    assert total.factor_db == pytest.approx(10 * np.log10(np.median(drawn)), abs=1.2)
    decile = 10 * np.log10(np.quantile(drawn, 0.9))
    assert total.factor_db + total.upper_db == pytest.approx(decile, abs=0.8)


def test_thermal_density(outside):
    """CODATA: 10 log10(1.380649e-23 * 290)."""
    exact = 10 * np.log10(1.380649e-23 * 290)
    check = outside("CODATA, Boltzmann's constant", "worked apart")
    why = "half the last digit"
    check.near("10 log kT0 [dBW/Hz]", KT0_DBW_HZ, exact, abs=0.005, why=why)


def test_the_share_of_lightning_is_that_of_its_power_whatever_was_learned():
    def told(db):
        return Noise(np.array(db), np.array(8.0), np.array(6.0))

    half = {"lightning": told(37.0), "total": told(40.0)}
    assert lightning_share(half) == pytest.approx(0.501, abs=1e-3)
    more = {**half, "total": told(45.0), "learned": told(5.0)}
    assert lightning_share(more) == pytest.approx(lightning_share(half))
    # The median of a sum may lie below that of a part.
    assert lightning_share({"lightning": told(41.0), "total": told(40.0)}) == 1.0
