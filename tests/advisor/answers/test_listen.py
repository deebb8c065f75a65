"""Which beacon to listen for: what hearing and silence mean must add up."""

import csv
import json
from dataclasses import replace

import numpy as np
import pytest
from click.testing import CliRunner

from advisor.answers.ask import answer, question_for
from advisor.answers.listen import TOLD, beacon_rows, tells
from advisor.answers.rows.tonight import BeaconRow
from advisor.cli import main
from advisor.show.page.lead_sections import beacons_section
from advisor.show.text.listen import listen_text
from advisor.station.file import resolve_station


@pytest.fixture(scope="module")
def advice():
    """Morning in the Karoo for two targets, on two bands."""
    given = {"place": "KF07jo", "power_w": 20.0, "emission": "CW"}
    given["setups"] = [{"shape": "dipole", "height_m": 8, "bearing_deg": 120}]
    station, _ = resolve_station(None, given)
    first = np.datetime64("2026-12-05T07:00")
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
    on_page = beacons_section(rows)
    assert len(on_page.tables) == len({row.target for row in rows})
    assert on_page.tables[0].rows[0][0].text == f"{first.beacon}, {first.place}"
    assert f"beacon {first.beacon}'" in on_page.lines[0]


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


def test_without_a_beacon_it_says_so_and_of_one_that_tells_nothing_too():
    assert "No beacon" in listen_text([])
    row = BeaconRow(
        *("Kenya", "2026-12-05T11:00Z", "17 m", 0.45, "5Z4B", "Kariobangi"),
        *("17 m", 18.11, 100, 0.67),
        if_heard=0.45,
        if_silent=0.44,
    )
    assert not tells(row)
    assert "tells nothing of Kenya" in listen_text([row])
    assert "tells nothing" not in listen_text([replace(row, if_silent=0.3)])
    assert "No beacon" in beacons_section([]).lines[0]


@pytest.mark.slow
def test_a_table_of_the_command_is_of_the_beacons(monkeypatch, tmp_path):
    """CSV and ECSV hold what JSON has under beacons; the page has it too."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    words = "tonight --from KF07jo --to KE --shape dipole --height-m 8 --band 20m"
    words = [*words.split(), "--date", "2026-12-05T05:00Z", "--hours", "1", "--listen"]
    page = tmp_path / "it.html"
    asked = [*words, "--json", "--sheet", str(page)]
    (known, table) = (
        CliRunner().invoke(main, each).stdout for each in (asked, [*words, "--csv"])
    )
    beacons = json.loads(known)["beacons"]
    rows = list(csv.DictReader(table.splitlines()))
    assert [row["beacon"] for row in rows] == [each["beacon"] for each in beacons]
    assert float(rows[0]["if_heard"]) == pytest.approx(beacons[0]["if_heard"])
    assert all(each["place"] in page.read_text("utf-8") for each in beacons)
