"""One figure laid open where bands are shut or modes rare: as tonight has it."""

import json

import pytest
from click.testing import CliRunner

from advisor.cli import main


@pytest.fixture(autouse=True)
def no_own_station(monkeypatch, tmp_path):
    """Keep the tester's own station file out."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("HOME", str(tmp_path))


def run(*words: str):
    """Run the command."""
    return CliRunner().invoke(main, list(words))


def told(*words: str) -> dict:
    """Run ``why`` and read its JSON."""
    result = run("why", *words, "--json")
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout, parse_constant=lambda _: pytest.fail("not JSON"))


SKIP_ZONE = ["--from", "JN48qm", "--emission", "FT8", "--shape", "dipole"]
SKIP_ZONE += ["--height-m", "8", "--band", "20m", "--to", "48.5,14.0"]


@pytest.mark.slow
def test_the_mode_that_carries_is_that_of_most_chance_everywhere():
    """
    A strong ray that hardly ever comes down is not what a contact goes by.

    Inside the skip zone 1F2 would have 37 dB to spare on a day in some hundreds; the
    ground beyond scatters a weak signal back every day.
    """
    found = told(*SKIP_ZONE, "--at", "2026-12-05T12:00Z")["why"]
    modes = {mode["name"]: mode for mode in found["modes"]}
    most = max(modes.values(), key=lambda mode: mode["chance"])["name"]
    strongest = max(modes.values(), key=lambda mode: mode["share"])["name"]
    assert (most, strongest) == ("scatter", "1F2")
    assert found["budgets"][0]["way"] == most
    for mode in modes.values():
        assert mode["chance"] <= found["here"]["chance"] + 0.02
    words = ["tonight", *SKIP_ZONE, "--date", "2026-12-05T12:00Z", "--hours", "1"]
    (row,) = json.loads(run(*words, "--json").stdout)["results"]
    assert row["mode"] == most
    assert "only by scatter;" in " ".join(run(*words).stdout.split())


@pytest.mark.slow
def test_no_sum_is_of_a_ray_below_the_horizon():
    """Where nothing gets through, the ray with the highest MUF may be a hidden one."""
    wire = ["--from", "JN48qm", "--shape", "dipole", "--height-m", "8", "--to", "FN31"]
    at = ["--at", "2026-12-05T02:00Z", "--emission", "SSB", "--horizon-deg", "50"]
    found = told(*wire, *at, "--band", "40m")["why"]
    hidden = {each["name"] for each in found["modes"] if not each["is_clear"]}
    assert hidden
    assert not hidden & {each["way"] for each in found["budgets"]}


@pytest.mark.slow
def test_with_nothing_open_why_lays_the_nearest_band_open_as_tonight_has_it():
    """The same band and the same word for what keeps it shut."""
    wire = ["--from", "JN48qm", "--shape", "dipole", "--height-m", "8", "--to", "FN31"]
    wire += ["--emission", "SSB"]
    found = told(*wire, "--at", "2026-12-05T02:00Z")["why"]
    when = ["--date", "2026-12-05T02:00Z", "--hours", "1"]
    whole = json.loads(run("tonight", *wire, *when, "--json").stdout)
    rows = {row["band"]: row for row in whole["results"]}
    row = rows[found["band"]]
    assert found["whole"]["state"] == row["state"] != "open"
    alike = [each for each in rows.values() if each["state"] == row["state"]]
    assert row["margin_db"] == max(each["margin_db"] for each in alike)
    shown = " ".join(run("why", *wire, "--at", "2026-12-05T02:00Z").stdout.split())
    assert f"{found['band']} (none opens; this is nearest)" in shown
    assert f"Shut: {row['state']}, {-row['margin_db']:.0f} dB short" in shown
