"""The service of space weather, made up and served from this machine."""

import json
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

from click.testing import CliRunner

from advisor.cli import main

NOW = datetime(2026, 12, 5, 14, 40, tzinfo=UTC)


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


def run(*words):
    """Run the command; whatever happens there is no trace of a crash."""
    result = CliRunner().invoke(main, list(words))
    assert "Traceback" not in result.output
    assert result.exception is None or isinstance(result.exception, SystemExit)
    return result
