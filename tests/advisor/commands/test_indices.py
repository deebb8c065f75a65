"""Fetching solar flux and Kp: from a stub on this machine, never from the network."""

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
from advisor.commands import indices

NOW = datetime(2026, 12, 5, 14, 40, tzinfo=UTC)
WORDS = ["--from", "KF07jo", "--to", "KE", "--shape", "dipole", "--height-m", "8"]
TONIGHT = ["tonight", *WORDS, "--band", "20m", "--hours", "1"]


@pytest.fixture(autouse=True)
def no_own_station(monkeypatch, tmp_path):
    """Keep the tester's own station file out."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))


def fluxes(now, *, flux=150.0, mean=130.0, days=0):
    """Form of the service's flux file (from memory), newest first."""
    tag = f"{now - timedelta(days=days, hours=2):%Y-%m-%dT%H:00:00}"
    older = f"{now - timedelta(days=days + 1):%Y-%m-%dT%H:00:00}"
    return [
        {"time_tag": tag, "frequency": 2800, "flux": flux, "ninety_day_mean": mean},
        {"time_tag": older, "frequency": 2800, "flux": 99.0, "ninety_day_mean": None},
    ]


def kps(now, values=(2.0,) * 14):
    """Form of the service's Kp file (from memory): a row of names, then rows."""
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
    real = indices.opener

    def with_http():
        built = real()
        built.add_handler(request.HTTPHandler())
        return built

    monkeypatch.setattr(indices, "opener", with_http)
    monkeypatch.setattr(indices, "SERVICE", f"http://127.0.0.1:{stub.server_port}")
    monkeypatch.setattr(indices, "TIMEOUT_S", 0.5)
    monkeypatch.setenv("no_proxy", "127.0.0.1")
    now = datetime.now(UTC)
    stub.say(indices.FLUX_PATH, fluxes(now))
    stub.say(indices.KP_PATH, kps(now))
    yield stub
    stub.shutdown()
    stub.server_close()


def run(*words):
    """Run the command; whatever happens there is no trace of a crash."""
    result = CliRunner().invoke(main, list(words))
    assert "Traceback" not in result.output
    assert result.exception is None or isinstance(result.exception, SystemExit)
    return result


def fell_back(result):
    """One line on standard error; the answer is that without the option."""
    assert result.exit_code == 0
    lines = result.stderr.strip().splitlines()
    assert len(lines) == 1
    assert lines[0].startswith("skiplobe: --fetch-indices: ")
    assert lines[0].endswith("what is shipped is used instead")
    return lines[0]


# --- from the command line ------------------------------------------------------------


@pytest.mark.usefixtures("service")
def test_good_figures_are_used_and_named_with_their_hours():
    result = run(*TONIGHT, "--fetch-indices", "--json")
    assert result.exit_code == 0
    assert result.stderr == ""
    inputs = json.loads(result.stdout)["inputs"]
    basis = inputs["solar"]["basis"]
    assert "flux 150 sfu of 20" in basis
    assert "90-day mean of 130" in basis
    assert "Kp of 20" in basis
    assert basis.endswith("(NOAA SWPC)")
    assert inputs["conditions"]["kp"] == 2.0
    by_hand = json.loads(run(*TONIGHT, "--flux", "140", "--kp", "2", "--json").stdout)
    assert by_hand["inputs"]["solar"]["r12"] == inputs["solar"]["r12"]
    assert by_hand["results"] == json.loads(result.stdout)["results"]
    text = run(*TONIGHT, "--fetch-indices").stdout
    assert "(NOAA SWPC)" in " ".join(text.split())


def test_only_program_and_version_are_told(service):
    run(*TONIGHT, "--fetch-indices")
    assert [path for path, _ in service.asked] == [
        indices.FLUX_PATH,
        indices.KP_PATH,
    ]
    for _, headers in service.asked:
        assert headers["User-Agent"].startswith("skiplobe/")
        assert not set(headers) - {
            "User-Agent", "Accept", "Accept-Encoding", "Host", "Connection",
        }  # fmt: skip


@pytest.mark.slow
def test_never_by_default_nor_by_the_environment(service, monkeypatch):
    monkeypatch.setenv("SKIPLOBE_TONIGHT_FETCH_INDICES", "1")
    plain = run(*TONIGHT)
    assert service.asked == []
    assert plain.stdout == run(*TONIGHT).stdout
    run(*TONIGHT, "--fetch-indices")
    assert service.asked
    service.asked.clear()
    assert run(*TONIGHT).stdout == plain.stdout
    assert service.asked == []


@pytest.mark.slow
@pytest.mark.usefixtures("service")
@pytest.mark.parametrize("command", ["sky", "aim", "reach", "why"])
def test_other_commands_take_it_too(command):
    words = {
        "sky": ["--from", "KF07jo", "--hours", "1"],
        "why": [*WORDS, "--band", "20m"],
    }.get(command, [*WORDS, "--band", "20m", "--hours", "1"])
    result = run(command, *words, "--fetch-indices")
    assert result.exit_code == 0, result.output
    assert "(NOAA SWPC)" in " ".join(result.stdout.split())


@pytest.mark.slow
@pytest.mark.usefixtures("service")
def test_a_sheet_repeats_the_figures_and_not_the_fetch(tmp_path):
    page = tmp_path / "hill.html"
    assert run(*TONIGHT, "--fetch-indices", "--sheet", str(page)).exit_code == 0
    text = page.read_text()
    assert "--flux 140" in text
    assert "--kp 2" in text
    assert "--fetch-indices" not in text


@pytest.mark.usefixtures("service")
def test_provenance_names_what_was_fetched():
    made = json.loads(
        run(*TONIGHT, "--fetch-indices", "--json", "--provenance").stdout
    )["provenance"]
    assert "flux 150 sfu" in made["fetched"]
    origins = {row["key"]: row["origin"] for row in made["inputs"]}
    assert origins["solar activity"] == "fetched"
    assert origins["assumed"] == "fetched"


@pytest.mark.parametrize("option", ["--flux", "--r12", "--kp"])
def test_one_figure_is_given_one_way(service, option):
    result = run(*TONIGHT, "--fetch-indices", option, "7" if option == "--kp" else "90")
    assert result.exit_code == 2
    assert f"{option} both given" in result.stderr
    assert service.asked == []


@pytest.mark.parametrize("words", [["--date", "2050-01-01"], ["--date", "1995-01-01"]])
def test_another_time_is_refused(service, words):
    result = run(*TONIGHT, "--fetch-indices", *words)
    assert result.exit_code == 2
    assert "ask about the next 48 hours" in result.stderr
    assert service.asked == []


@pytest.mark.usefixtures("service")
def test_three_days_ahead_are_too_many():
    """72 hours from now reach beyond what today's figures say; 48 do not."""
    words = ["tonight", *WORDS, "--band", "20m", "--fetch-indices"]
    assert run(*words, "--hours", "72").exit_code == 2
    assert run(*words, "--hours", "48").exit_code == 0


# --- what goes wrong ------------------------------------------------------------------


def test_nobody_there(service):
    service.shutdown()
    service.server_close()
    line = fell_back(run(*TONIGHT, "--fetch-indices"))
    assert "neither flux nor Kp (cannot reach it" in line


@pytest.mark.parametrize("wait", ["before", "headers", "between"])
def test_time_out(service, wait):
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

    service.answers[indices.FLUX_PATH] = slow
    begun = time.monotonic()
    line = fell_back(run(*TONIGHT, "--fetch-indices"))
    assert "neither flux nor Kp (" in line
    assert "in 0.5 s" in line
    assert time.monotonic() - begun < 10.0
    assert len(service.asked) == 1


def test_codes_that_a_terminal_obeys_are_not_passed_on(service):
    def hostile(handler):
        handler.wfile.write(b"\x1b]0;owned\x07 403\r\n\r\n")

    service.answers[indices.FLUX_PATH] = hostile
    result = run(*TONIGHT, "--fetch-indices")
    assert "\x1b" not in result.output
    assert "\x1b" not in result.stderr
    assert "owned" in fell_back(result)


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"<html>sorry</html>", "not JSON"),
        (b"\xff\xfe\x00", "not JSON"),
        (b"", "not JSON"),
        (b"[" * 100_000, "not JSON"),
        ({"flux": 150}, "another form"),
        ([1, 2], "another form"),
        ([], "no flux"),
        ([{"time_tag": "yesterday", "flux": 150}], "a time that is none"),
        ([{"time_tag": 5, "flux": 150}], "a time that is none"),
        ([{"time_tag": "0001-01-01T00:00:00+23:00", "flux": 150}], "the newest is of"),
        ([{"flux": 150}], "a time that is none"),
        (fluxes(datetime.now(UTC), flux="many"), "no number"),
        (fluxes(datetime.now(UTC), flux=True), "no number"),
        (fluxes(datetime.now(UTC), flux=10**400), "no number"),
        (fluxes(datetime.now(UTC), flux=float("nan")), "no number"),
        (fluxes(datetime.now(UTC), flux=-1), "-1 sfu is outside 60 to 300"),
        (fluxes(datetime.now(UTC), flux=1500), "1500 sfu is outside"),
        (fluxes(datetime.now(UTC), mean=1), "1 sfu is outside"),
        (fluxes(datetime.now(UTC), days=30), "the newest is of"),
        (fluxes(datetime.now(UTC), days=-30), "no flux"),
    ],
)  # fmt: skip
def test_garbled_flux_is_left_out_and_kp_still_used(service, data, says):
    service.say(indices.FLUX_PATH, data)
    result = run(*TONIGHT, "--fetch-indices", "--json")
    line = fell_back(result)
    assert re.search(says, line)
    assert "no Kp" not in line
    solar = json.loads(result.stdout)["inputs"]["solar"]
    assert "forecast" in solar["basis"] or "observed" in solar["basis"]
    assert "Kp of 20" in solar["basis"]
    assert "flux" not in solar["basis"]


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"{}", "another form"),
        ([["time_tag", "Kp"], ["2026-12-05"]], "another form"),
        ([["time_tag", "Kp"]], "no Kp"),
        (kps(datetime.now(UTC), (2.0,) * 12), "has gaps"),
        (kps(datetime.now(UTC), (2.0,) * 12 + (9.5,)), "Kp 9.5 is outside 0 to 9"),
        (kps(datetime.now(UTC), (2.0,) * 12 + (-1.0,)), "Kp -1 is outside"),
        (kps(datetime.now(UTC) - timedelta(days=2)), "the newest is of"),
    ],
)
def test_garbled_kp_is_left_out_and_flux_still_used(service, data, says):
    service.say(indices.KP_PATH, data)
    result = run(*TONIGHT, "--fetch-indices", "--json")
    assert says in fell_back(result)
    inputs = json.loads(result.stdout)["inputs"]
    assert inputs["conditions"]["kp"] is None
    assert "flux 150 sfu" in inputs["solar"]["basis"]


@pytest.mark.parametrize("code", [404, 500, 503])
def test_refused(service, code):
    for path in (indices.FLUX_PATH, indices.KP_PATH):
        service.say(path, b"no", code)
    line = fell_back(run(*TONIGHT, "--fetch-indices"))
    assert line.count(f"it answered {code}") == 2


def test_sent_on_to_plain_http(service):
    """Even where HTTP itself is let through, a redirection to it is not followed."""
    elsewhere = f"{indices.SERVICE}/elsewhere"
    for path in (indices.FLUX_PATH, indices.KP_PATH):
        service.say(path, b"", 302, Location=elsewhere)
    service.say("/elsewhere", fluxes(datetime.now(UTC)))
    line = fell_back(run(*TONIGHT, "--fetch-indices"))
    assert "it sends on to http, not https" in line
    assert "/elsewhere" not in [path for path, _ in service.asked]


@pytest.mark.parametrize(
    "where",
    ["https://[", "//", "https://" + "a" * 70 + ".example", "ftp://127.0.0.1/x"],
)
def test_sent_on_to_nowhere(service, where):
    for path in (indices.FLUX_PATH, indices.KP_PATH):
        service.say(path, b"", 302, Location=where)
    fell_back(run(*TONIGHT, "--fetch-indices"))


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
    assert run(*words, "--fetch-indices").exit_code == 2
    assert service.asked == []


def test_the_real_opener_knows_https_only(service):
    """The stub's own address is refused without the handler that the tests add."""
    address = indices.SERVICE
    built = indices.opener.__closure__[0].cell_contents()
    for scheme in (address, "file:///etc/hostname", "ftp://127.0.0.1/x", "data:,x"):
        with pytest.raises(OSError, match="unknown url type"):
            built.open(scheme, timeout=0.5)
    assert service.asked == []


def test_huge_body(service):
    def pour(handler):
        handler.send_response(200)
        handler.end_headers()
        try:
            for _ in range(100):
                handler.wfile.write(b" " * 65536)
        except OSError:
            return

    service.answers[indices.FLUX_PATH] = pour
    line = fell_back(run(*TONIGHT, "--fetch-indices"))
    assert "it sent over 1000000 bytes" in line


# --- reading --------------------------------------------------------------------------


def test_the_mean_may_be_missing():
    rows = fluxes(NOW, mean=None)
    assert indices.read_flux(rows, NOW)[0] == 150.0
    assert indices.read_flux(fluxes(NOW), NOW)[0] == 140.0


def test_the_newest_counts_whatever_the_order():
    rows = fluxes(NOW)
    assert indices.read_flux(rows[::-1], NOW) == indices.read_flux(rows, NOW)


@pytest.mark.parametrize("kp", [0.0, 2.0, 5.33, 9.0])
def test_a_steady_kp_is_itself(kp):
    found, _ = indices.read_kp(kps(NOW, (kp,) * 14), NOW)
    assert found == pytest.approx(kp, abs=0.02)


def test_a_record_may_be_a_mapping():
    names, *rows = kps(NOW)
    as_mappings = [dict(zip(names, row, strict=True)) for row in rows]
    assert indices.read_kp(as_mappings, NOW) == indices.read_kp(kps(NOW), NOW)


def test_a_storm_counts_as_the_storm_model_weighs_it():
    """One stormy block counts by its age; the sum is that of the equal steady Kp."""
    from geo.ionosphere.storm import ap_from_kp, integral_of_ap

    values = [2.0] * 13
    values[8] = 8.0
    found, _ = indices.read_kp(kps(NOW, values), NOW)
    assert 2.0 < found < 8.0
    steady = integral_of_ap(np.full(13, ap_from_kp(found)))
    assert steady == pytest.approx(integral_of_ap(ap_from_kp(values)), rel=0.01)


def test_a_day_and_a_half_is_what_counts():
    """What was before does not matter."""
    assert indices.read_kp(kps(NOW, [9.0, 9.0, *[1.0] * 13]), NOW)[0] == 1.0
