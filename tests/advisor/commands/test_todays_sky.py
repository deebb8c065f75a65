"""Fetching today's sky: from a stub on this machine, never from the network."""

import importlib
import json
import re
import threading
import time
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import numpy as np
import pytest
from click.testing import CliRunner

from advisor.cli import main
from advisor.commands import service as office
from advisor.commands import todays_sky
from geo import bulletins
from geo.errors import InputError

NOW = datetime(2026, 12, 5, 14, 40, tzinfo=UTC)
WORDS = ["--from", "KF07jo", "--to", "KE", "--shape", "dipole", "--height-m", "8"]
TONIGHT = ["tonight", *WORDS, "--band", "20m", "--hours", "1"]


@pytest.fixture(autouse=True)
def no_own_station(monkeypatch, tmp_path):
    """Keep the tester's own station file out."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))


def fluxes(now, *, flux=150.0, mean=130.0, days=0):
    """Form of the service's flux file, newest first; only Noon is F10.7."""
    noon = (now - timedelta(days=days)).replace(hour=20)
    noon -= timedelta(days=noon > now - timedelta(days=days))
    return [
        {
            "time_tag": f"{noon + timedelta(hours=hours):%Y-%m-%dT%H:00:00}",
            "frequency": 2800,
            "flux": figure,
            "reporting_schedule": schedule,
            "ninety_day_mean": over_90_days,
        }
        for hours, figure, schedule, over_90_days in (
            (2, 211.0, "Afternoon", None),
            (0, flux, "Noon", mean),
            (-3, 209.0, "Morning", None),
            (-24, 99.0, "Noon", None),
        )
    ]


def forecasts(now, values=(2.0,) * 30):
    """Form of the forecast since April 2026: mappings, and "predicted" from now on."""
    last = now.replace(hour=now.hour - now.hour % 3, minute=0, second=0, microsecond=0)
    return [
        {
            "time_tag": f"{last + timedelta(hours=3 * i):%Y-%m-%dT%H:%M:%S}",
            "kp": kp,
            "observed": "predicted" if i > 0 else "estimated",
            "noaa_scale": None,
        }
        for i, kp in enumerate(values)
    ]


def xrays(now, *, flare=2e-4, age_min=5):
    """Form of the X-rays: two bands by turns; a flare in the newest ten minutes."""
    newest = now - timedelta(minutes=age_min)
    return [
        {
            "time_tag": f"{newest - timedelta(minutes=10 * i):%Y-%m-%dT%H:%M:00Z}",
            "satellite": 16,
            "flux": (flare if i == 0 else 1e-6) * share,
            "electron_contaminaton": False,
            "energy": energy,
        }
        for i in reversed(range(36))
        for energy, share in (("0.05-0.4nm", 0.03), ("0.1-0.8nm", 1.0))
    ]


MAP_PATH = "/products/glotec/geojson_2d_urt/glotec_icao_made.geojson"


def maps(now, age_min=10):
    """Form of the index of maps."""
    tag = f"{now - timedelta(minutes=age_min):%Y-%m-%dT%H:%M:00Z}"
    return [{"url": MAP_PATH, "time_tag": tag}]


def electrons(density_m3=1.2e12):
    """Form of a map: GeoJSON, a point each 10 by 15 degrees."""
    return {
        "type": "FeatureCollection",
        "features": [
            {
                "type": "Feature",
                "geometry": {"type": "Point", "coordinates": [lon, lat]},
                "properties": {"NmF2": density_m3, "hmF2": 300.0, "quality_flag": "1"},
            }
            for lat in range(-85, 90, 10)
            for lon in range(-180, 180, 15)
        ],
    }


def absorbed(now, mhz=0.0, age_min=6, lon_step=4):
    """Form of the map of absorption: comments, longitudes, a line a latitude."""
    valid = now - timedelta(minutes=age_min)
    lons = range(-178, 180, lon_step)
    lines = [
        "# DRAP Tabular Values",
        f"# Product Valid At : {valid:%Y-%m-%d %H:%M} UTC",
        "# Frequency (MHz) as a function of Latitude and Longitude",
        "      " + " ".join(f"{lon:4d}" for lon in lons),
        "-" * 70,
        *(
            f"{lat:3d} | " + " ".join(f"{mhz:4.1f}" for _ in lons)
            for lat in range(89, -90, -2)
        ),
    ]
    return "\n".join(lines).encode()


def scales(now, scale="0"):
    """Form of the scales: figures are strings, of other days there may be none."""
    return {
        "0": {
            "DateStamp": f"{now:%Y-%m-%d}",
            "TimeStamp": f"{now:%H:%M}:00",
            "R": {"Scale": "0", "Text": "none"},
            "S": {"Scale": scale, "Text": "none"},
        },
        "1": {"S": {"Scale": None, "Text": None, "Prob": "75"}},
    }


def outlooks(now, flux=110, ap=15):
    """Form of the outlook: a head and a line a day."""
    days = [now + timedelta(days=i) for i in range(27)]
    rows = [f"{day:%Y %b %d}     {flux}          {ap}          4" for day in days]
    return "\n".join([":Product: 27-day Outlook", "#  Date  10.7 cm", *rows]).encode()


def kps(now, values=(2.0,) * 14):
    """Form of the service's Kp file till April 2026: a row of names, then rows."""
    last = now.replace(hour=now.hour - now.hour % 3, minute=0, second=0, microsecond=0)
    rows = [
        [
            f"{last - timedelta(hours=3 * i):%Y-%m-%d %H:%M:%S}.000",
            f"{kp:.2f}",
            "7",
            "8",
        ]
        for i, kp in enumerate(reversed(values))
    ]
    return [["time_tag", "Kp", "a_running", "station_count"], *reversed(rows)]


class Stub(ThreadingHTTPServer):
    """A service that answers as it is told, and remembers what it was asked."""

    daemon_threads = True

    def __init__(self):
        self.answers, self.asked = {}, []
        server = self

        class Handler(BaseHTTPRequestHandler):
            def do_GET(self):
                server.asked.append((self.path, dict(self.headers)))
                server.answers[self.path](self)

            def log_message(self, *_):
                pass

        super().__init__(("127.0.0.1", 0), Handler)

    def say(self, path, data, code=200, **headers):
        """Answer a path with JSON, or with bytes as they are."""
        body = data if isinstance(data, bytes) else json.dumps(data).encode()

        def answer(handler):
            handler.send_response(code)
            for name, value in headers.items():
                handler.send_header(name, value)
            handler.end_headers()
            handler.wfile.write(body)

        self.answers[path] = answer


@pytest.fixture
def service(monkeypatch):
    """The stub in the service's place; HTTP is let through, all else is the real."""
    # The one door's own library, so that this file needs no network client.
    request = importlib.import_module("urllib.request")
    stub = Stub()
    threading.Thread(target=stub.serve_forever, args=(0.01,), daemon=True).start()
    real = office.opener

    def with_http():
        built = real()
        built.add_handler(request.HTTPHandler())
        return built

    monkeypatch.setattr(office, "opener", with_http)
    monkeypatch.setattr(office, "SERVICE", f"http://127.0.0.1:{stub.server_port}")
    monkeypatch.setattr(office, "TIMEOUT_S", 0.5)
    monkeypatch.setattr(office, "FRESH_S", 0.0)
    monkeypatch.setenv("no_proxy", "127.0.0.1")
    now = datetime.now(UTC)
    stub.say(office.FLUX_PATH, fluxes(now))
    stub.say(office.KP_PATH, kps(now))
    stub.say(office.FORECAST_PATH, forecasts(now))
    stub.say(office.XRAY_PATH, xrays(now, flare=1e-6))
    stub.say(office.OUTLOOK_PATH, outlooks(now))
    stub.say(office.SCALES_PATH, scales(now))
    stub.say(office.ABSORPTION_PATH, absorbed(now))
    stub.say(office.MAPS_PATH, maps(now))
    # So low that nobody believes it: the layers are those of another test's cache.
    stub.say(MAP_PATH, electrons(3.2e9))
    yield stub
    stub.shutdown()
    stub.server_close()


def run(*words):
    """Run the command; whatever happens there is no trace of a crash."""
    result = CliRunner().invoke(main, list(words))
    assert "Traceback" not in result.output
    assert result.exception is None or isinstance(result.exception, SystemExit)
    return result


@pytest.fixture
def fell_back(capsys):
    """Fetch what cannot all be had: one line on standard error, and what there was."""

    def fetched(hours=1, ahead=0):
        now = datetime.now(UTC)
        start = now + timedelta(days=ahead)
        end = start + timedelta(hours=hours)
        today = todays_sky.fetch(now, start, end, "KF07jo", None)
        (line,) = capsys.readouterr().err.strip().splitlines()
        assert line.startswith("skiplobe: --fetch: ")
        assert re.search("the month('s sky it is| serves for the rest)$", line)
        return line, today

    return fetched


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
@pytest.mark.usefixtures("service")
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
        [hour, hour + np.timedelta64(2, "h")], 0.0, 20.8
    )[:, 0]
    assert 19.0 < first <= 20.0
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
        (lambda text: text.replace(b" 0.0", b" 1e9"), "outside 0 to 60 MHz"),
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


@pytest.mark.parametrize(("scale", "flux"), [("0", 0.0), ("1", 10.0), ("5", 100_000.0)])
def test_protons_are_those_of_the_scale(scale, flux):
    """NOAA Space Weather Scales: each step is ten times as many."""
    assert todays_sky.storm_protons(json.dumps(scales(NOW, scale)), NOW) == flux


@pytest.mark.parametrize("scale", [None, "x", "7", "-1"])
def test_protons_that_are_not_told(scale):
    with pytest.raises(InputError, match="none of now"):
        todays_sky.storm_protons(json.dumps(scales(NOW, scale)), NOW)
    with pytest.raises(InputError, match="the newest is of"):
        todays_sky.storm_protons(json.dumps(scales(NOW)), NOW + timedelta(hours=4))


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
    assert todays_sky.observed_kp(bulletins.kp_blocks(kept.text), now).kp.size == 13
    later = now + timedelta(hours=13)
    with pytest.raises(InputError, match="the newest is of"):
        todays_sky.observed_kp(bulletins.kp_blocks(kept.text), later)


def test_with_no_network_all_that_is_kept_serves_and_nobody_is_waited_for(
    service, monkeypatch, tmp_path, capsys
):
    """Six files, of which the first finds out; the others are not asked for."""
    monkeypatch.setattr(office, "TIMEOUT_S", 2.0)
    now = datetime.now(UTC)
    asked = now, now, now + timedelta(hours=1), "KF07jo", tmp_path
    before = todays_sky.fetch(*asked)
    assert capsys.readouterr().err == ""
    service.asked.clear()

    def silent(_):
        time.sleep(0.3)

    for path in service.answers:
        service.answers[path] = silent
    monkeypatch.setattr(office, "TIMEOUT_S", 0.1)
    assert todays_sky.fetch(*asked) == before
    line = capsys.readouterr().err
    assert len(service.asked) == 1
    assert "nothing more (no answer in 0.1 s), flux and Kp and " in line
    assert "map of electron content as kept from before" in line


def test_a_damaged_file_that_is_kept_is_asked_for_again(service, tmp_path):
    now = datetime.now(UTC)
    office.read(office.KP_PATH, now, tmp_path)
    (kept,) = tmp_path.glob("sky-*.npz")
    kept.write_bytes(kept.read_bytes()[:100])
    assert office.read(office.KP_PATH, now, tmp_path).text
    assert len(service.asked) == 2


# --- what is made of it ---------------------------------------------------------------


def flux_of(rows, **more):
    """Flux that is used now."""
    return todays_sky.flux_of(json.dumps(rows), NOW, NOW, **more)


def test_the_mean_may_be_missing():
    assert flux_of(fluxes(NOW, mean=None))[0] == 150.0
    assert flux_of(fluxes(NOW))[0] == 140.0


def test_the_newest_noon_counts_whatever_the_order():
    rows = fluxes(NOW)
    assert flux_of(rows[::-1]) == flux_of(rows)
    bad = [rows[0], rows[1] | {"flux": None}, *rows[2:]]
    assert flux_of(bad)[1].startswith("flux 99 sfu of 2026-12-03 20Z (43 h old)")


def test_observed_comes_before_forecast_and_forecast_before_outlook():
    observed = todays_sky.observed_kp(
        bulletins.kp_blocks(json.dumps(kps(NOW, [1.0] * 14))), NOW
    )
    forecast = bulletins.kp_blocks(json.dumps(forecasts(NOW, [4.0] * 24)))
    days = bulletins.outlook(outlooks(NOW, ap=15).decode())
    times, kp = todays_sky.joined_kp(observed, forecast, days)
    assert (np.diff(times) == np.timedelta64(3, "h")).all()
    assert kp[:36].tolist() == [1.0] * 13 + [4.0] * 23
    assert kp[36:] == pytest.approx(3.0)
    assert times[-1] == np.datetime64("2026-12-31T21:00")
