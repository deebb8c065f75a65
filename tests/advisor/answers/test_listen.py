"""Which beacon to listen for: what hearing and silence mean must add up."""

import numpy as np
import pytest

from advisor.answers.ask import answer, question_for
from advisor.answers.listen import TOLD, beacon_rows
from advisor.show.text.listen import listen_text
from advisor.station.file import resolve_station


@pytest.fixture(scope="module")
def advice():
    """Morning in the Karoo for two targets, on two bands."""
    given = {"place": "KF07jo", "power_w": 20.0, "emission": "CW"}
    given["setups"] = [{"shape": "dipole", "height_m": 8, "bearing_deg": 120}]
    station, _ = resolve_station(None, given)
    first = np.datetime64("2026-12-05T05:00")
    bands = ["20 m", "15 m"]
    return answer(question_for(station, ["KE", "DE"], first, 2, band_names=bands))


@pytest.mark.slow
def test_hearing_raises_and_silence_lowers_and_the_most_telling_is_first(advice):
    rows = list(beacon_rows(advice))
    assert rows
    for target in {row.target for row in rows}:
        those = [row for row in rows if row.target == target]
        assert len(those) <= TOLD
        assert len({row.beacon for row in those}) == len(those)
    for row in rows:
        assert row.if_silent < row.chance < row.if_heard
        assert row.beacon_band in ("20 m", "15 m")
    text = listen_text(rows)
    first = rows[0]
    assert f"{first.start_s // 60}:{first.start_s % 60:02d}" in text
    assert f"beacon {first.beacon}'" in text


@pytest.mark.slow
def test_of_a_beacon_that_surely_sends_both_cases_make_up_the_month(
    advice, monkeypatch
):
    """The law of total probability, with nobody mistaken and nothing off the air."""
    monkeypatch.setattr("advisor.engine.hearing.ON_THE_AIR", 1.0)
    monkeypatch.setattr("advisor.engine.hearing.MISTAKEN", 0.0)
    for row in beacon_rows(advice):
        both = row.heard * row.if_heard + (1.0 - row.heard) * row.if_silent
        assert both == pytest.approx(row.chance, abs=0.02)


def test_without_a_beacon_it_says_so():
    assert "No beacon" in listen_text([])
