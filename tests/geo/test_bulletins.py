"""Files of space-weather offices: real forms where they are, made ones of the same."""

import json
from pathlib import Path

import numpy as np
import pytest

from geo import bulletins
from geo.errors import InputError

REAL = Path(__file__).resolve().parents[3] / "shared" / "data" / "spaceweather"


def real(name):
    """Text of a real file; skips where it is not."""
    path = REAL / name
    if not path.is_file():
        pytest.skip("real files are not here")
    return path.read_text(encoding="utf-8")


# --- real ones ------------------------------------------------------------------------


def test_a_real_flux_file_keeps_noon_alone():
    found = bulletins.noon_flux(real("f107_cm_flux.json"))
    assert found.flux_sfu.tolist() == [124.0, 126.0]
    assert np.isnan(found.mean_sfu[0])
    assert found.mean_sfu[1] == 132.0


@pytest.mark.parametrize(
    ("name", "flux_sfu"),
    [
        ("10cm-flux.summary.old.json", 130.0),
        ("10cm-flux.summary.new.json", 128.0),
        ("10cm-flux-30-day.new.json", 111.0),
    ],
)
def test_real_summaries_in_either_form(name, flux_sfu):
    assert bulletins.noon_flux(real(name)).flux_sfu.tolist() == [flux_sfu]


@pytest.mark.parametrize("age", ["old", "new"])
def test_real_kp_in_either_form(age):
    found = bulletins.kp_blocks(real(f"noaa-planetary-k-index.{age}.json"))
    assert {"old": 2.0, "new": 1.33}[age] in found.kp
    assert found.is_observed.all()


def test_a_real_forecast_of_kp():
    found = bulletins.kp_blocks(real("noaa-planetary-k-index-forecast.new.json"))
    assert found.kp.tolist() == [1.33, 4.67]
    assert found.is_observed.tolist() == [True, False]


def test_a_real_outlook():
    found = bulletins.outlook(real("27-day-outlook.excerpt.txt"))
    assert found.flux_sfu.tolist() == [130.0, 130.0, 130.0, 125.0, 110.0, 105.0]
    assert found.ap.tolist() == [15.0, 5.0, 5.0, 12.0, 5.0, 5.0]
    assert found.times[-1] == np.datetime64("2026-09-12")


@pytest.mark.parametrize(("name", "flare"), [("a", 6.55e-6), ("b", 3.01e-6)])
def test_real_x_rays_are_of_the_long_band(name, flare):
    """358 minutes of two bands; the short one is some thirty times weaker."""
    found = bulletins.xrays(real(f"xrays-6-hour.real-{name}.json"))
    assert found.times.size == 358
    assert (np.diff(found.times) >= np.timedelta64(1, "m")).all()
    assert np.nanmax(found.flux_w_m2) == pytest.approx(flare, rel=0.01)
    assert np.nanmin(found.flux_w_m2) > 5e-7


def test_a_real_index_of_maps():
    path, time = bulletins.newest_map(real("glotec_index.excerpt.json"))
    assert path.endswith("/glotec_icao_20260720T001500Z.geojson")
    assert time == np.datetime64("2026-07-20T00:15")


def test_the_real_scales_are_strings():
    scale, time = bulletins.radiation_scale(real("noaa-scales.json"))
    assert scale == 0.0
    assert time == np.datetime64("2026-09-06T17:24")


def test_a_real_table_of_an_ionosonde():
    """A score of 0 is junk, whatever it says."""
    found = bulletins.ionosonde(real("giro_fastchar.excerpt.txt"))
    assert (found.name, found.lat_deg, found.lon_deg) == ("AT138", 38.0, 23.5)
    assert np.isnan(found.fof2_mhz[0])
    assert found.fof2_mhz[1:].tolist() == [3.955, 3.85]
    assert found.hmf2_km[1:].tolist() == [276.4, 273.6]


# --- made ones ------------------------------------------------------------------------


def test_what_is_out_of_range_or_no_number_is_missing():
    rows = ", ".join(
        f'{{"time_tag": "2026-12-0{day}T03:00:00", "Kp": {kp}}}'
        for day, kp in enumerate(["9.5", "-1", "true", "null", '"x"', "NaN", "3"], 1)
    )
    kp = bulletins.kp_blocks(f"[{rows}]").kp
    assert np.isnan(kp[:-1]).all()
    assert kp[-1] == 3.0


def test_times_are_utc_whatever_they_say_and_each_counts_once():
    found = bulletins.kp_blocks(
        '[{"time_tag": "2026-12-05T03:00:00", "Kp": 1},'
        ' {"time_tag": "2026-12-05T02:00:00+02:00", "Kp": 2},'
        ' {"time_tag": "2026-12-05T03:00:00Z", "Kp": 3}, {"Kp": 4}]'
    )
    assert found.times.tolist() == [
        np.datetime64("2026-12-05T00:00:00").item(),
        np.datetime64("2026-12-05T03:00:00").item(),
    ]
    assert found.kp.tolist() == [2.0, 3.0]


@pytest.mark.parametrize("key", ["electron_contaminaton", "electron_contamination"])
def test_x_rays_spoilt_by_electrons_are_missing(key):
    row = '{"time_tag": "2026-12-05T03:0%d:00Z", "flux": 1e-6, "%s": %s, %s}'
    energy = '"energy": "0.1-0.8nm"'
    rows = [row % (0, key, "true", energy), row % (1, key, "false", energy)]
    found = bulletins.xrays(f"[{', '.join(rows)}]").flux_w_m2
    assert np.isnan(found[0])
    assert found[1] == 1e-6


@pytest.mark.parametrize(
    "read",
    [
        bulletins.noon_flux,
        bulletins.kp_blocks,
        bulletins.outlook,
        bulletins.xrays,
        bulletins.radiation_scale,
    ],
)
@pytest.mark.parametrize("text", ["", "<html>", "3", '{"a": [1', "[[1], 2]", "\x00"])
def test_another_file_is_an_error(read, text):
    with pytest.raises(InputError):
        read(text)


@pytest.mark.parametrize(
    "url",
    ["https://elsewhere/x.geojson", "/products/glotec/../../x.geojson", 7, "/x.json"],
)
def test_an_index_names_maps_of_the_service_only(url):
    with pytest.raises(InputError, match="names no map"):
        bulletins.newest_map(
            json.dumps([{"url": url, "time_tag": "2026-07-20T00:05:00Z"}])
        )


def features(**known):
    """Form of a map: a grid of 15 by 10 degrees, uniform."""
    known = {"tec": 20.0, "NmF2": 1e12, "hmF2": 300.0, "quality_flag": "1"} | known
    return [
        {
            "type": "Feature",
            "geometry": {"type": "Point", "coordinates": [lon, lat]},
            "properties": known,
        }
        for lat in range(-85, 90, 10)
        for lon in range(-180, 181, 15)
    ]


def scattered():
    """Points that lie anywhere."""
    points = features()
    for i, point in enumerate(points):
        point["geometry"]["coordinates"][1] += 0.001 * i
    return points


def of_region(lats, lons, finer):
    """A grid in a part of the world, of so many times finer steps."""
    (point,) = features()[:1]
    return [
        point | {"geometry": {"type": "Point", "coordinates": [lon / finer, lat]}}
        for lat in range(-85, 90, 10)
        for lon in range(-180 * finer, 180 * finer, 15)
        if lats[0] < lat < lats[1] and lons[0] <= lon / finer < lons[1]
    ]


def as_areas(points):
    """The same with an area about each point, as other maps have it."""
    for point in points:
        lon, lat = point["geometry"]["coordinates"]
        ring = [[lon, lat], [lon + 15, lat], [lon + 15, lat + 10], [lon, lat]]
        point["geometry"] = {"type": "Polygon", "coordinates": [ring]}
    return points


def as_map(points):
    """Text of a map of some points."""
    return json.dumps({"type": "FeatureCollection", "features": points})


def test_a_map_is_a_grid_of_plasma_frequencies():
    """1e12 electrons per m3 have a plasma frequency of 8.98 MHz; 180 E is 180 W."""
    found = bulletins.electron_map(as_map(features()))
    assert found.fof2_mhz.shape == found.hmf2_km.shape == (18, 24)
    assert found.fof2_mhz == pytest.approx(8.98)
    assert (found.hmf2_km == 300.0).all()
    assert found.lon_deg[[0, -1]].tolist() == [-180.0, 165.0]


def test_what_a_map_lacks_is_missing():
    points = features()
    points[30]["properties"] = {"NmF2": None, "hmF2": "x"}
    points[31]["properties"] = {"NmF2": -1e12, "hmF2": 3e5}
    found = bulletins.electron_map(as_map(points))
    assert np.isnan(found.fof2_mhz).sum() == 2
    assert np.isnan(found.hmf2_km).sum() == 2


def test_the_order_of_points_the_side_of_longitudes_and_heights_do_not_matter():
    """RFC 7946 allows a third coordinate, any order and other members."""
    points = features()
    for point in points:
        lon, lat = point["geometry"]["coordinates"]
        n = 400 * (lat + 90) + lon % 360
        point["properties"] = {"NmF2": 1e12 + 1e7 * n, "hmF2": 250.0 + 0.001 * n}
    plain = bulletins.electron_map(as_map(points))
    for point in points:
        lon, lat = point["geometry"]["coordinates"]
        point["geometry"]["coordinates"] = [lon % 360, lat, 350_000.0]
        point["properties"] |= {"tec": 20.1, "anomaly": -0.3, "quality_flag": "5"}
        point["bbox"] = [0, 0, 1, 1]
    turned = bulletins.electron_map(as_map(points[::-1]))
    for ours, theirs in zip(turned, plain, strict=True):
        assert np.array_equal(ours, theirs)


@pytest.mark.parametrize(
    ("points", "says"),
    [
        (features()[:50], "no map of the whole world"),
        (features(NmF2=None), "most of the map is missing"),
        (features(NmF2=1e20), "most of the map is missing"),
        ([{"geometry": None}] * 200, "another form"),
        ([7] * 200, "another form"),
        (None, "no map"),
        (scattered(), "no grid"),
        (of_region((20, 80), (-180, 180), 4), "no map of the whole world"),
        (of_region((-90, 50), (-180, 180), 1), "no map of the whole world"),
        (of_region((-90, 90), (-30, 60), 2), "no map of the whole world"),
        (of_region((-90, 90), (-180, 120), 1), "no map of the whole world"),
        (as_areas(features()), "another form"),
        (features(tec=20.0, NmF2="no"), "most of the map is missing"),
    ],
)
def test_what_is_no_map_is_refused(points, says):
    with pytest.raises(InputError, match=says):
        bulletins.electron_map(as_map(points))


TABLE = """# Location: GEO ( 33.3 S   333.5 E ), URSI-Code XX033, NOWHERE
#
# Time                    CS   foF2 QD   hmF2 QD
2026-12-05T11:00:00.000Z  39  6.000 //  300.0 //
2026-12-05T11:15:00.000Z  40  6.100 //    --- __
2026-12-05T11:30:00.000Z 999  6.200 /A  310.0 /A
2026-12-05T11:45:00.000Z  80 62.000 //  3.0 //
2026-12-05T11:50:00.000Z  80  6.
"""


def test_a_table_of_an_ionosonde():
    found = bulletins.ionosonde(TABLE)
    assert (found.lat_deg, found.lon_deg) == (-33.3, -26.5)
    assert found.fof2_mhz == pytest.approx([np.nan, 6.1, 6.2, np.nan], nan_ok=True)
    assert found.hmf2_km == pytest.approx([np.nan, np.nan, 310.0, np.nan], nan_ok=True)


def test_a_table_of_other_columns():
    """The characteristics are those that were asked for, in any order."""
    other = TABLE.replace("foF2 QD   hmF2 QD", "hmF2 QD   foF2 QD")
    found = bulletins.ionosonde(other).fof2_mhz
    assert found == pytest.approx([np.nan, np.nan, np.nan, 3.0], nan_ok=True)
    with pytest.raises(InputError, match="column foF2 lacks"):
        bulletins.ionosonde(TABLE.replace("foF2", "foE"))
    with pytest.raises(InputError, match="place"):
        bulletins.ionosonde(TABLE.replace("GEO", "CGM"))
