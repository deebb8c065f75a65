"""Fetching today's sky: from a stub on this machine, never from the network."""

import json
import time
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from advisor.antenna.solver.cache_files import take_trouble
from advisor.commands import service as office
from advisor.commands import todays_files, todays_sky
from geo import bulletins
from geo.errors import InputError
from tests.advisor.commands.service_made import (
    MAP_PATH,
    NOW,
    electrons,
    fluxes,
    forecasts,
    kps,
    outlooks,
    run,
    scales,
)

WORDS = ["--from", "KF07jo", "--to", "KE", "--shape", "dipole", "--height-m", "8"]
TONIGHT = ["tonight", *WORDS, "--band", "20m", "--hours", "1"]


@pytest.fixture(autouse=True)
def no_own_station(monkeypatch, tmp_path):
    """Keep the tester's own station file out."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))


# --- from the command line ------------------------------------------------------------


@pytest.mark.slow
def test_good_figures_are_used_and_named_with_their_hours(service):
    service.say(MAP_PATH, electrons())
    result = run(*TONIGHT, "--fetch", "--json")
    assert result.exit_code == 0
    assert result.stderr == ""
    inputs = json.loads(result.stdout)["inputs"]
    basis = inputs["solar"]["basis"]
    assert "flux 150 sfu of 20" in basis
    assert "90-day mean of 130" in basis
    assert "(NOAA SWPC), in place of the month's" in basis
    assert inputs["conditions"]["kp"] == 2.0
    first, kp, rays, lost, seen, moved = inputs["assumed"]
    assert first.startswith("The sky is today's, asked for at 20")
    assert "Kp 2 in the three hours from 20" in kp
    assert "stands for 2.0 in these hours, foF2 at KF07jo times 1.00" in kp
    assert rays.startswith("X-rays C1.0 at ")
    assert rays.endswith(" min old), quiet level C1.0: no short-wave fade.")
    assert lost.startswith("Map of D-region absorption of ")
    assert lost.endswith("no more is lost here than in the month.")
    assert seen.startswith("Map of measured electron content of ")
    assert seen.endswith("foF2 9.8 MHz and hmF2 300 km at KF07jo.")
    assert moved.startswith("The map moves foF2 at KF07jo by ")
    service.say(MAP_PATH, electrons(3.2e9))
    without = json.loads(run(*TONIGHT, "--fetch", "--json").stdout)["results"]
    by_hand = json.loads(run(*TONIGHT, "--flux", "140", "--kp", "2", "--json").stdout)
    assert by_hand["inputs"]["solar"]["r12"] == inputs["solar"]["r12"]
    assert by_hand["results"] == without
    assert by_hand["results"] != json.loads(result.stdout)["results"]
    text = " ".join(run(*TONIGHT, "--fetch").stdout.split())
    assert "The sky is today's, asked for at 20" in text
    assert "90-day mean of 130 (NOAA SWPC), in place of the month's" in text


@pytest.mark.slow
def test_only_program_and_version_are_told(service):
    run(*TONIGHT, "--fetch")
    assert [path for path, _ in service.asked] == [
        office.FLUX_PATH,
        office.KP_PATH,
        office.FORECAST_PATH,
        office.XRAY_PATH,
        office.ABSORPTION_PATH,
        office.SCALES_PATH,
        office.MAPS_PATH,
        MAP_PATH,
    ]
    for _, headers in service.asked:
        assert headers["User-Agent"].startswith("skiplobe/")
        assert not set(headers) - {
            "User-Agent", "Accept", "Accept-Encoding", "Host", "Connection",
        }  # fmt: skip


@pytest.mark.slow
def test_never_by_default_nor_by_the_environment(service, monkeypatch):
    monkeypatch.setenv("SKIPLOBE_TONIGHT_FETCH", "1")
    plain = run(*TONIGHT)
    assert service.asked == []
    assert plain.stdout == run(*TONIGHT).stdout
    run(*TONIGHT, "--fetch")
    assert service.asked
    service.asked.clear()
    assert run(*TONIGHT).stdout == plain.stdout
    assert service.asked == []


@pytest.mark.slow
@pytest.mark.usefixtures("service")
@pytest.mark.parametrize("command", ["sky", "hops", "aim"])
def test_other_commands_take_it_too(command):
    """Each puts its question by a way of its own; the others go as 'aim' does."""
    words = {
        "sky": ["--from", "KF07jo", "--hours", "1"],
        "hops": ["--from", "KF07jo"],
    }.get(command, [*WORDS, "--band", "20m", "--hours", "1"])
    result = run(command, *words, "--fetch")
    assert result.exit_code == 0, result.output
    assert "(NOAA SWPC)" in " ".join(result.stdout.split())


@pytest.mark.slow
@pytest.mark.usefixtures("service", "coarse_world")
def test_a_sheet_repeats_the_figures_and_not_the_fetch(tmp_path):
    page = tmp_path / "hill.html"
    assert run(*TONIGHT, "--fetch", "--sheet", str(page)).exit_code == 0
    text = page.read_text()
    assert "--flux 140" in text
    assert "--kp 2" in text
    assert "--fetch" not in text


@pytest.mark.slow
@pytest.mark.usefixtures("service")
def test_provenance_names_what_was_fetched():
    made = json.loads(run(*TONIGHT, "--fetch", "--json", "--provenance").stdout)[
        "provenance"
    ]
    assert "flux 150 sfu" in made["fetched"]
    origins = {row["key"]: row["origin"] for row in made["inputs"]}
    assert origins["solar activity"] == "fetched"
    assert origins["assumed"] == "fetched"
    assert "The sky is today's" in made["fetched"]


@pytest.mark.parametrize("option", ["--flux", "--r12", "--kp"])
def test_one_figure_is_given_one_way(service, option):
    result = run(*TONIGHT, "--fetch", option, "7" if option == "--kp" else "90")
    assert result.exit_code == 2
    assert f"{option} both given" in result.stderr
    assert service.asked == []


@pytest.mark.parametrize("words", [["--date", "2050-01-01"], ["--date", "1995-01-01"]])
def test_another_time_is_refused(service, words):
    result = run(*TONIGHT, "--fetch", *words)
    assert result.exit_code == 2
    assert "ask about the next 26 days" in result.stderr
    assert service.asked == []


@pytest.mark.slow
def test_ten_days_ahead_are_of_the_outlook(service):
    """The day's flux and A index there; ap 15 is a Kp of 3."""
    then = datetime.now(UTC) + timedelta(days=10)
    result = run(*TONIGHT, "--fetch", "--date", f"{then:%Y-%m-%dT12:00Z}", "--json")
    inputs = json.loads(result.stdout)["inputs"]
    assert "flux 110 sfu of the outlook for that day" in inputs["solar"]["basis"]
    assert inputs["conditions"]["kp"] == pytest.approx(3.0, abs=0.01)
    assert office.OUTLOOK_PATH in [path for path, _ in service.asked]


# --- what goes wrong ------------------------------------------------------------------


@pytest.mark.parametrize(("scale", "flux"), [("0", 0.0), ("1", 10.0), ("5", 100_000.0)])
def test_protons_are_those_of_the_scale(scale, flux):
    """NOAA Space Weather Scales: each step is ten times as many."""
    assert todays_files.storm_protons(json.dumps(scales(NOW, scale)), NOW) == flux


@pytest.mark.parametrize("scale", [None, "x", "7", "-1"])
def test_protons_that_are_not_told(scale):
    with pytest.raises(InputError, match="none of now"):
        todays_files.storm_protons(json.dumps(scales(NOW, scale)), NOW)
    with pytest.raises(InputError, match="the newest is of"):
        todays_files.storm_protons(json.dumps(scales(NOW)), NOW + timedelta(hours=4))


# --- what is kept ---------------------------------------------------------------------


def test_a_fresh_file_is_not_asked_for_twice(service, monkeypatch, tmp_path):
    monkeypatch.setattr(office, "FRESH_S", 600.0)
    now = datetime.now(UTC)
    first = office.read(office.KP_PATH, now, tmp_path)
    assert office.read(office.KP_PATH, now, tmp_path) == first
    assert len(service.asked) == 1
    office.read(office.KP_PATH, now + timedelta(minutes=11), tmp_path)
    office.read(office.KP_PATH, now, None)
    assert len(service.asked) == 3


def test_an_old_file_serves_where_nobody_answers(service, tmp_path):
    """As long as its figures are young enough, which they say themselves."""
    now = datetime.now(UTC)
    office.read(office.KP_PATH, now, tmp_path)
    service.say(office.KP_PATH, b"", 503)
    kept = office.read(office.KP_PATH, now, tmp_path)
    assert str(kept.why_kept) == "it answered 503"
    assert todays_files.observed_kp(bulletins.kp_blocks(kept.text), now).kp.size == 13
    later = now + timedelta(hours=13)
    with pytest.raises(InputError, match="the newest is of"):
        todays_files.observed_kp(bulletins.kp_blocks(kept.text), later)


def test_with_no_network_all_that_is_kept_serves_and_nobody_is_waited_for(
    service, monkeypatch, tmp_path, capsys
):
    """Six files, of which the first finds out; the others are not asked for."""
    monkeypatch.setattr(office, "TIMEOUT_S", 5.0)
    now = datetime.now(UTC)
    asked = now, now, now + timedelta(hours=1), "KF07jo", tmp_path
    before = todays_sky.fetch(*asked)
    assert capsys.readouterr().err == ""
    service.asked.clear()

    def silent(_):
        time.sleep(0.8)

    for path in service.answers:
        service.answers[path] = silent
    monkeypatch.setattr(office, "TIMEOUT_S", 0.4)
    assert todays_sky.fetch(*asked) == before
    line = capsys.readouterr().err
    assert len(service.asked) == 1
    assert "nothing more (no answer in 0.4 s), flux and Kp and " in line
    assert "map of electron content as kept from before" in line


def test_a_damaged_file_that_is_kept_is_asked_for_again(service, tmp_path):
    now = datetime.now(UTC)
    office.read(office.KP_PATH, now, tmp_path)
    (kept,) = tmp_path.glob("sky-*.npz")
    kept.write_bytes(kept.read_bytes()[:100])
    assert office.read(office.KP_PATH, now, tmp_path).text
    assert len(service.asked) == 2
    assert "damaged file in the cache" in take_trouble()


# --- what is made of it ---------------------------------------------------------------


def flux_of(rows, **more):
    """Flux that is used now."""
    return todays_files.flux_of(json.dumps(rows), NOW, NOW, **more)


def test_the_mean_may_be_missing():
    assert flux_of(fluxes(NOW, mean=None))[0] == 150.0
    assert flux_of(fluxes(NOW))[0] == 140.0


def test_the_newest_noon_counts_whatever_the_order():
    rows = fluxes(NOW)
    assert flux_of(rows[::-1]) == flux_of(rows)
    bad = [rows[0], rows[1] | {"flux": None}, *rows[2:]]
    assert flux_of(bad)[1].startswith("flux 99 sfu of 2026-12-03 20Z (43 h old)")


def test_observed_comes_before_forecast_and_forecast_before_outlook():
    observed = todays_files.observed_kp(
        bulletins.kp_blocks(json.dumps(kps(NOW, [1.0] * 14))), NOW
    )
    forecast = bulletins.kp_blocks(json.dumps(forecasts(NOW, [4.0] * 24)))
    days = bulletins.outlook(outlooks(NOW, ap=15).decode())
    times, kp = todays_files.joined_kp(observed, forecast, days)
    assert (np.diff(times) == np.timedelta64(3, "h")).all()
    assert kp[:36].tolist() == [1.0] * 13 + [4.0] * 23
    assert kp[36:] == pytest.approx(3.0)
    assert times[-1] == np.datetime64("2026-12-31T21:00")
