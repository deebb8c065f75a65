"""
Contacts of three stations: does the chance rank their hour and their band high?

A log holds no failures, so only ranks can be asked: the share of the other hours of the
day, on the same path and band, that are told a lower chance than the hour of the
contact, equal ones by half, and the same among the station's bands in that hour. One
half is what no knowledge gives. When people are at home is in it too: a station that is
never on the air at night says nothing about nights.
"""

import csv
import gzip
from collections import defaultdict

import numpy as np
import on_air_links as links

from advisor.answers.verification.scores import rank
from advisor.antenna.ground import ground_by_name
from advisor.engine.wires import FAR_END_PATTERNS
from advisor.station.emissions import emission_by_name
from geo.errors import InputError
from geo.locator import locator_to_latlon
from geo.places import parse_place, resolve_target
from geo.sphere import distance_km

POWER_W = 40.0
PLANNING_MHZ = {
    80: 3.57, 60: 5.36, 40: 7.07, 30: 10.14, 20: 14.08, 17: 18.1, 15: 21.08,
    12: 24.92, 10: 28.08,
}  # fmt: skip
STATIONS = {
    "oregon_cn85_ft8_qso_2023": "CN85oq",
    "ireland_io63b_ft8_qso_2017_18": "IO63on",
    "adelaide_ft8_qso_2023_24": "PF95",
}
NAMES = {
    "Fed. Republic of Germany": "Germany",
    "European Russia": "Russian Federation",
    "Asiatic Russia": "Russian Federation",
    "Republic of South Africa": "South Africa",
    "Republic of Korea (S. Korea)": "KR",
    "England": "GB",
    "Scotland": "GB",
    "Hawaii": "US",
}


def usual(mhz):
    """The usual far end's antenna, at either end."""
    return FAR_END_PATTERNS["dipole"](mhz, ground_by_name(links.GROUND))


def far_end_of(row, here):
    """Place of the other end; of a country, its point at about the distance told."""
    if "dx_country" not in row:
        return locator_to_latlon(row["rx_grid" if row["tx_id"] == "own" else "tx_grid"])
    name = NAMES.get(row["dx_country"], row["dx_country"])
    target = resolve_target(name, here)
    far = distance_km(here.lat_deg, here.lon_deg, target.lat_deg, target.lon_deg)
    nearest = int(np.argmin(np.abs(far - float(row["distance_km"]))))
    return float(target.lat_deg[nearest]), float(target.lon_deg[nearest])


def contacts(path, here):
    """Contacts as (month, hour, band, place), each once; unknown countries left out."""
    found = set()
    with gzip.open(path, "rt") as file:
        for row in csv.DictReader(file):
            band = int((row.get("band_m") or row["band"]).removesuffix("m"))
            if band not in PLANNING_MHZ:
                continue
            try:
                place = far_end_of(row, here)
            except InputError:
                continue
            when = row["time_utc"]
            found.add((when[:7], when[:13], int(when[11:13]), band, place))
    return sorted(found)


def figures(folder):
    """Mean ranks of hours and bands by station, and the count of contacts."""
    found = {}
    need = emission_by_name("FT8").snr_db_hz
    for name, locator in STATIONS.items():
        here = parse_place(locator)
        made = contacts(folder / f"{name}.csv.gz", here)
        bands = sorted({each[3] for each in made})
        mhz = [PLANNING_MHZ[band] for band in bands]
        by_month = defaultdict(list)
        for month, _, hour, band, place in made:
            by_month[month].append((hour, bands.index(band), place))
        receiver = links.Receiver(here.lat_deg, here.lon_deg, usual)
        ranks = []
        for month, those in by_month.items():
            places = sorted({place for *_, place in those})
            times = links.hours_of(f"{month}-15") + np.timedelta64(1800, "s")
            link, gains = links.link_to(
                receiver, *np.array(places).T, times, mhz, usual, POWER_W
            )
            chance = links.share_both(link, gains, need)
            for hour, b, place in those:
                told = chance[places.index(place)]
                ranks.append(
                    (
                        rank(told[hour, b], np.delete(told[:, b], hour)),
                        rank(told[hour, b], np.delete(told[hour], b)),
                        told[hour, b],
                    )
                )
        hours, other_bands, chances = np.array(ranks).mean(axis=0)
        key = name.partition("_")[0]
        found |= {
            f"contacts_count_{key}": len(ranks),
            f"contacts_hour_{key}": hours,
            f"contacts_band_{key}": other_bands,
            f"contacts_chance_{key}": chances,
        }
    return found
