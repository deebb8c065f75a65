"""The service of space weather, served from this machine."""

import importlib
import re
import threading
from datetime import UTC, datetime, timedelta

import pytest

from advisor.commands import service as office
from advisor.commands import todays_sky
from tests.advisor.commands.service_made import (
    MAP_PATH,
    Stub,
    absorbed,
    electrons,
    fluxes,
    forecasts,
    kps,
    maps,
    outlooks,
    scales,
    xrays,
)


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
