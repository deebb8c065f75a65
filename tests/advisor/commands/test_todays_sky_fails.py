"""What of the sky of today cannot be had, and what serves then."""

import json
import re
import time
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from advisor.commands import service as office
from geo import sun
from tests.advisor.commands.service_made import (
    MAP_PATH,
    absorbed,
    electrons,
    fluxes,
    kps,
    maps,
    run,
    xrays,
)

WORDS = ["--from", "KF07jo", "--to", "KE", "--shape", "dipole", "--height-m", "8"]
TONIGHT = ["tonight", *WORDS, "--band", "20m", "--hours", "1"]


@pytest.fixture(autouse=True)
def no_own_station(monkeypatch, tmp_path):
    """Keep the tester's own station file out."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))


@pytest.mark.slow
def test_nobody_there(service, fell_back):
    service.shutdown()
    service.server_close()
    line, _ = fell_back()
    assert "nothing at all (it cannot be reached: " in line
    assert line.endswith("the month's sky it is")
    alone = run(*TONIGHT, "--fetch", "--json")
    assert alone.stderr.strip() == line
    assert alone.stdout == run(*TONIGHT, "--json").stdout


@pytest.mark.slow
@pytest.mark.parametrize("wait", ["before", "headers", "between"])
def test_time_out(service, wait, fell_back):
    """No answer, or one that drips: both end, and the second is not waited for."""

    def slow(handler):
        if wait == "between":
            handler.send_response(200)
            handler.end_headers()
        if wait == "headers":
            handler.wfile.write(b"HTTP/1.0 200 OK\r\n")
        sent = {"before": b"", "headers": b"X: 1\r\n", "between": b" "}[wait]
        for _ in range(30):
            time.sleep(0.1)
            try:
                handler.wfile.write(sent)
            except OSError:
                return

    service.answers[office.FLUX_PATH] = slow
    begun = time.monotonic()
    line = fell_back()[0]
    assert "nothing at all (" in line
    assert "in 0.5 s" in line
    assert time.monotonic() - begun < 10.0
    assert len(service.asked) == 1


def test_codes_that_a_terminal_obeys_are_not_passed_on(service, fell_back):
    def hostile(handler):
        handler.wfile.write(b"\x1b]0;owned\x07 403\r\n\r\n")

    service.answers[office.FLUX_PATH] = hostile
    line, _ = fell_back()
    assert "\x1b" not in line
    assert "owned" in line


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"<html>sorry</html>", "not JSON"),
        (b"\xff\xfe\x00", "not text"),
        (b"", "not JSON"),
        (b"[" * 100_000, "not JSON"),
        (json.dumps(fluxes(datetime.now(UTC))).encode()[:-20], "not JSON"),
        ([1, 2], "another form"),
        ([], "no flux"),
        ([{"time_tag": "yesterday", "flux": 150}], "no flux"),
        ([{"time_tag": 5, "flux": 150}], "no flux"),
        ([{"flux": 150}], "no flux"),
        (fluxes(datetime.now(UTC))[:1], "no flux of a noon"),
        (fluxes(datetime.now(UTC), flux="many")[:3], "no flux"),
        (fluxes(datetime.now(UTC), flux=True)[:3], "no flux"),
        (fluxes(datetime.now(UTC), flux=10**400)[:3], "no flux"),
        (fluxes(datetime.now(UTC), flux=float("nan"))[:3], "no flux"),
        (fluxes(datetime.now(UTC), flux=-1)[:3], "no flux"),
        (fluxes(datetime.now(UTC), flux=1500)[:3], "no flux"),
        (fluxes(datetime.now(UTC), days=30), "the newest is of"),
        (fluxes(datetime.now(UTC), days=-30), "no flux"),
    ],
)  # fmt: skip
def test_garbled_flux_is_left_out_and_kp_still_used(service, data, says, fell_back):
    service.say(office.FLUX_PATH, data)
    line, today = fell_back()
    assert says in line
    assert "no Kp" not in line
    assert today.flux_sfu is None
    assert today.measured.kp.size > 13


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"{}", "no Kp"),
        (b"7", "another form"),
        ([["time_tag", "Kp"], ["2026-12-05"]], "another form"),
        ([["time_tag", "Kp"]], "no Kp"),
        (kps(datetime.now(UTC), (2.0,) * 12), "has gaps"),
        (kps(datetime.now(UTC), (2.0,) * 5 + (-1.0,) + (2.0,) * 8), "has gaps"),
        (kps(datetime.now(UTC), (9.5,) * 14), "no Kp"),
        (kps(datetime.now(UTC) - timedelta(days=2)), "the newest is of"),
    ],
)
def test_garbled_kp_is_left_out_and_flux_still_used(service, data, says, fell_back):
    service.say(office.KP_PATH, data)
    line, today = fell_back()
    assert says in line
    assert today.measured.kp.size == 0
    assert today.flux_sfu == 140.0


@pytest.mark.parametrize("code", [404, 500, 503])
def test_refused(service, code, fell_back):
    for path in service.answers:
        service.say(path, b"no", code)
    line = fell_back()[0]
    assert line.count(f"it answered {code}") == 6
    assert line.endswith("the month's sky it is")


def test_sent_on_to_plain_http(service, fell_back):
    """Even where HTTP itself is let through, a redirection to it is not followed."""
    elsewhere = f"{office.SERVICE}/elsewhere"
    for path in (office.FLUX_PATH, office.KP_PATH):
        service.say(path, b"", 302, Location=elsewhere)
    service.say("/elsewhere", fluxes(datetime.now(UTC)))
    line = fell_back()[0]
    assert "it sends on to http, not https" in line
    assert "/elsewhere" not in [path for path, _ in service.asked]


@pytest.mark.parametrize(
    "where",
    ["https://[", "//", "https://" + "a" * 70 + ".example", "ftp://127.0.0.1/x"],
)
def test_sent_on_to_nowhere(service, where, fell_back):
    for path in (office.FLUX_PATH, office.KP_PATH):
        service.say(path, b"", 302, Location=where)
    fell_back()[0]


@pytest.mark.parametrize(
    "words",
    [
        ["tonight", *WORDS, "--to", "Atlantis"],
        ["tonight", *WORDS, "--hours", "0"],
        ["tonight", *WORDS, "--band", "21 m"],
        ["tonight", *WORDS, "--hours", "99999999999"],
        ["sky", "--from", "KF07jo", "--hours", "0"],
    ],
)
def test_nothing_is_fetched_for_what_cannot_be_asked(service, words):
    assert run(*words, "--fetch").exit_code == 2
    assert service.asked == []


def test_the_real_opener_knows_https_only(service):
    """The stub's own address is refused without the handler that the tests add."""
    address = office.SERVICE
    built = office.opener.__closure__[0].cell_contents()
    for scheme in (address, "file:///etc/hostname", "ftp://127.0.0.1/x", "data:,x"):
        with pytest.raises(OSError, match="unknown url type"):
            built.open(scheme, timeout=0.5)
    assert service.asked == []


def test_huge_body(service, fell_back):
    def pour(handler):
        handler.send_response(200)
        handler.end_headers()
        try:
            for _ in range(100):
                handler.wfile.write(b" " * 65536)
        except OSError:
            return

    service.answers[office.FLUX_PATH] = pour
    line = fell_back()[0]
    assert "it sent over 1000000 bytes" in line


def test_a_page_to_look_at_and_a_body_cut_short(service, fell_back):
    """A login page answers 200 as a figure does; a lost line ends like a whole file."""
    service.say(office.FLUX_PATH, b"[]", **{"Content-Type": "text/html; charset=utf-8"})
    service.say(office.KP_PATH, kps(datetime.now(UTC)), **{"Content-Length": "99999"})
    line = fell_back()[0]
    assert "no flux (it sent a page to look at, not data)" in line
    assert "no Kp (it broke off in the middle)" in line


def test_a_forecast_that_fails_leaves_what_was_observed(service, fell_back):
    service.say(office.FORECAST_PATH, b"", 404)
    line, today = fell_back()
    assert "no forecast of Kp (it answered 404)" in line
    now = np.datetime64(datetime.now(UTC).replace(tzinfo=None), "h")
    assert "no forecast: it is held" in today.measured.words(now)[1]


def test_x_rays_of_two_hours_ago_say_nothing_of_now(service, fell_back):
    service.say(office.XRAY_PATH, xrays(datetime.now(UTC), age_min=125))
    line, today = fell_back()
    assert "no X-rays (the newest is of" in line
    assert today.measured.xray_w_m2.size == 0


def test_x_rays_are_of_no_use_for_tomorrow(service, fell_back):
    service.say(office.FORECAST_PATH, b"", 404)
    fell_back(ahead=1)
    assert office.XRAY_PATH not in [path for path, _ in service.asked]


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b'{"type": "FeatureCollection", "features": [', "not JSON"),
        ({"type": "FeatureCollection", "features": []}, "no map of the whole world"),
        (electrons(1e20), "most of the map is missing"),
        (b"[" + b" " * 5_000_000, "it sent over 4000000 bytes"),
    ],
)
def test_a_map_that_is_damaged_is_left_out(service, data, says, fell_back, monkeypatch):
    monkeypatch.setattr(office, "TIMEOUT_S", 2.0)
    service.say(MAP_PATH, data)
    line, today = fell_back()
    assert "no map of electron content (" in line
    assert says in line
    assert today.measured.electron_map is None
    assert today.flux_sfu == 140.0


def test_a_map_of_absorption_serves_where_there_are_no_x_rays(service, fell_back):
    """The law of D-region absorption: dB as the power 1.5 of the frequency of 1 dB."""
    now = datetime.now(UTC)
    service.say(office.ABSORPTION_PATH, absorbed(now, 20.0, age_min=0))
    service.say(office.XRAY_PATH, b"", 503)
    line, today = fell_back()
    assert "no X-rays (it answered 503)" in line
    sky = today.measured
    hour = np.datetime64(now.replace(tzinfo=None), "h")
    first, later = sky.mapped_fadeout_mhz(
        [hour, hour + np.timedelta64(2, "h")], *sun.subsolar_point(sky.absorption.time)
    )[:, 0]
    # Under the sun it is of X-rays; the quiet sun's share of C1, 5 MHz, is off it.
    assert first == pytest.approx((20.0**1.5 - 5.0**1.5) ** (2 / 3), rel=0.01)
    assert 0.0 < later < 0.2 * first
    words = sky.words(np.array([hour]))[-2]
    assert re.search(
        r"absorption of \d\d:\d\dZ \(\d+ min old\): 1 dB on 20.0 MHz", words
    )
    adds = sky.mapped_fadeout_mhz(hour, sky.place.lat_deg, sky.place.lon_deg).item()
    assert f"it adds 1 dB straight up and down on {adds:.1f} MHz" in words


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (lambda text: text[: len(text) // 2], "whole"),
        (lambda text: text.replace(b"Valid", b"Void"), "when it is valid"),
        (lambda text: text.replace(b" 0.0", b" 1e9"), "outside 0 to 500 MHz"),
        (lambda text: text.replace(b" 0.0", b" n/a"), "another form"),
        (lambda _: absorbed(datetime.now(UTC), age_min=70), "the newest is of"),
        (lambda _: absorbed(datetime.now(UTC), lon_step=90), "no map of the whole"),
        (lambda text: text + b" " * 1_000_001, "it sent over 1000000 bytes"),
    ],
)
def test_a_map_of_absorption_that_is_damaged_is_left_out(
    service, spoil, says, fell_back
):
    service.say(office.ABSORPTION_PATH, spoil(absorbed(datetime.now(UTC))))
    line, today = fell_back()
    assert "no map of absorption (" in line
    assert says in line
    assert today.measured.absorption is None
    assert today.measured.xray_times.size


def test_a_map_of_hours_ago_is_left_out(service, fell_back):
    service.say(office.MAPS_PATH, maps(datetime.now(UTC), age_min=200))
    assert "no map of electron content (the newest is of" in fell_back()[0]
    assert MAP_PATH not in [path for path, _ in service.asked]
