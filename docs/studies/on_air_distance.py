"""
How much stronger is heard than told, by distance, with what is not heard in the count?

Usage, from the root of the checkout, with the folder of the public records:
``python docs/studies/on_air_distance.py FOLDER``. Some minutes.

Only what is decoded is seen, so that the mean of faint signals is too high. Sought is
the shift b of all levels told with which what was seen is the likeliest:

* **Georgia** (powers known): told is the share of days above each ratio, widened by
  `WITHIN_DB`. Each sender is better or worse than told by a normal error of
  `SENDER_DB`, the same all day. The likelihood of a sender's day on a band is that of
  its decodes and silences, given that it was heard at least once, for nobody else is
  in the file.
* **Reports in contacts** (the far end taken to send 100 W): the median of what was
  reported here less what is told on the middle one of the days that allow a decode.
  Nothing is known of who was not worked, so that stations better than usual are in it.

The error of the first is that of the likelihood's curvature, of the second that of the
median with stations drawn anew.
"""

import csv
import gzip
import sys
from collections import defaultdict
from itertools import pairwise
from pathlib import Path

import numpy as np
import on_air_contacts as contacts
import on_air_links as links
import on_air_spots as spots

from advisor.answers.verification.trials import day_cells, shown_shares
from geo.errors import InputError
from geo.places import parse_place

WITHIN_DB, SENDER_DB = 4.0, 5.0
LEAST_FT8_DB = -24.0
FAR_POWER_DBW = 20.0
SHIFTS_DB = np.arange(-24.0, 25.0)
FINE_DB = np.arange(-44.0, 69.0)
GEORGIA_KM = (0, 500, 1000, 2000, 4000, 20000)
CONTACTS_KM = (0, 1500, 2500, 4000, 9000, 18000)


def widened(ratios_db, shares, sigma_db):
    """Shares (N, K) on `FINE_DB`, of levels with a normal error more."""
    fine = np.array([np.interp(FINE_DB, ratios_db, each) for each in shares.T])
    step = np.arange(-30.0, 31.0)
    weight = np.exp(-0.5 * (step / sigma_db) ** 2)
    padded = np.pad(fine, ((0, 0), (30, 30)), mode="edge")
    return np.array([np.convolve(p, weight / weight.sum(), "valid") for p in padded])


def passed_and_density(shares, level_db):
    """Share of days above a level and its density there, one level a row."""
    at = np.clip(level_db - FINE_DB[0], 1.0, FINE_DB.size - 3.0)
    low, row = at.astype(int), np.arange(len(shares))
    part = at - low
    near = [shares[row, low + k] for k in (-1, 0, 1, 2)]
    share = near[1] + part * (near[2] - near[1])
    density = 0.5 * ((1.0 - part) * (near[0] - near[2]) + part * (near[1] - near[3]))
    return np.clip(share, 1e-6, 0.999), np.maximum(density, 1e-7)


def georgia(folder):
    """Print the shift of each class of distance."""
    by_day = spots.decodes(folder / spots.DECODES)
    shows = shown_shares(by_day.values())
    who = [
        (day, band, cell.who)
        for day, rows in by_day.items()
        for cells in [list(day_cells(rows, shows))]
        for band in sorted({cell.channel for cell in cells})
        for cell in cells
        if cell.channel == band
    ]
    names = {each: n for n, each in enumerate(dict.fromkeys(who))}
    group = np.array([names[each] for each in who])
    (band, ratio, shown, _, km), shares = spots.told(by_day)
    told = widened(spots.RATIOS_DB, shares, WITHIN_DB)
    heard = np.isfinite(ratio)
    least = np.full(len(told), spots.LEAST_DB - 0.5)
    level = np.where(heard, ratio, least)
    nodes, weights = np.polynomial.hermite_e.hermegauss(9)
    weights = weights[:, None] / weights.sum()

    def surprise(some, shift_db):
        """-log likelihood of the senders' days among the rows."""
        seen, silent = [], []
        for off in shift_db + SENDER_DB * nodes:
            share, _ = passed_and_density(told[some], least[some] - off)
            _, density = passed_and_density(told[some], level[some] - off)
            none = np.log(1.0 - shown[some] * share)
            each = np.where(heard[some], np.log(shown[some] * density), none)
            seen.append(np.bincount(group[some], each, len(names)))
            silent.append(np.bincount(group[some], none, len(names)))
        there = np.bincount(group[some], minlength=len(names)) > 0
        most = np.max(seen, axis=0)
        came = np.log((weights * np.exp(seen - most)).sum(axis=0)) + most
        never = (weights * np.exp(silent)).sum(axis=0)
        return -(came - np.log(np.maximum(1.0 - never, 1e-6)))[there].sum()

    def show(some, name):
        if (some & heard).sum() < 15:
            return
        found = np.array([surprise(some, shift) for shift in SHIFTS_DB])
        k = int(np.clip(found.argmin(), 1, len(found) - 2))
        before, least_is, after = found[k - 1 : k + 2]
        bend = before - 2.0 * least_is + after
        best = SHIFTS_DB[k] + 0.5 * (before - after) / bend
        count = (some & heard).sum()
        print(f"{name}: {best:.1f} +- {bend**-0.5:.1f} dB, {count} heard")

    for low, high in pairwise(GEORGIA_KM):
        show((km >= low) & (km < high), f"Georgia, {low} to {high} km")
    for each in spots.PLANNING_MHZ:
        for low, high in ((0, 2000), (2000, 4000), (4000, 20000)):
            inside = (band == each) & (km >= low) & (km < high)
            show(inside, f"Georgia, {each} m, {low} to {high} km")


def reports(path, here):
    """Reports of what was heard here: month, hour, band, place, ratio, station."""
    found = set()
    with gzip.open(path, "rt") as file:
        for row in csv.DictReader(file):
            band = int((row.get("band_m") or row["band"]).removesuffix("m"))
            own = row.get("tx_id") == "own"
            text = row.get("snr_own_hears_dx_db") or row.get("snr_db_2500hz")
            if band not in contacts.PLANNING_MHZ or own or not text:
                continue
            try:
                place = contacts.far_end_of(row, here)
            except InputError:
                continue
            when, station = row["time_utc"], row.get("tx_id") or row["dx_country"]
            at = (when[:7], int(when[11:13]), band)
            found.add((*at, place, min(float(text), 20.0), station + when[:10]))
    return sorted(found)


def in_contacts(folder, name, locator):
    """Print the shift of each class of distance of one station's contacts."""
    here = parse_place(locator)
    receiver = links.Receiver(here.lat_deg, here.lon_deg, contacts.usual)
    by_band = defaultdict(list)
    for month, hour, band, *rest in reports(folder / f"{name}.csv.gz", here):
        by_band[month, band].append((hour, *rest))
    ratios = np.arange(-44.0, 69.0, 4.0)
    shares, level, km, station = [], [], [], []
    for (month, band), rows in by_band.items():
        places = sorted({row[1] for row in rows})
        hours = sorted({row[0] for row in rows})
        times = links.hours_of(f"{month}-15")[hours] + np.timedelta64(1800, "s")
        mhz = [contacts.PLANNING_MHZ[band]]
        lat_lon = np.array(places).T
        link, gains = links.link_to(receiver, *lat_lon, times, mhz, contacts.usual)
        need = ratios + links.PER_HZ_DB - FAR_POWER_DBW
        told = links.share_above(link, gains, need)
        for hour, place, ratio, who in rows:
            path = places.index(place)
            shares.append(told[:, path, hours.index(hour), 0])
            level.append(ratio)
            km.append(link.paths.distance_km[path])
            station.append(who)
    off = np.array(level) - middles(ratios, shares)
    km, station = np.array(km), np.array(station)
    draw = np.random.default_rng(1)
    for low, high in pairwise(CONTACTS_KM):
        inside = (km >= low) & (km < high)
        if inside.sum() < 12:
            continue
        each = [off[inside & (station == who)] for who in np.unique(station[inside])]
        again = [
            np.median(
                np.concatenate(
                    [each[k] for k in draw.integers(len(each), size=len(each))]
                )
            )
            for _ in range(100)
        ]
        key, middle = name.partition("_")[0], np.median(off[inside])
        print(
            f"{key}, {low} to {high} km: {middle:.1f} +- {np.std(again):.1f} dB, "
            f"{inside.sum()} reports"
        )


def middles(ratios_db, shares):
    """Ratio on the middle one of the days that allow a decode, of each row."""
    half = [0.5 * np.interp(LEAST_FT8_DB, ratios_db, row) for row in shares]
    return np.array(
        [
            np.interp(h, row[::-1], ratios_db[::-1])
            for h, row in zip(half, shares, strict=True)
        ]
    )


if __name__ == "__main__":
    folder = Path(sys.argv[1])
    if "--contacts" not in sys.argv:
        georgia(folder)
    for name, locator in contacts.STATIONS.items():
        in_contacts(folder, name, locator)
