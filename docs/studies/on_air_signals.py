"""
Time signals of two days on nine frequencies, hour by hour: the level and its scores.

An hour is the median of its minutes. It was heard if the median of the ratio in 1 Hz is
`HEARD_DB` or more, and else the level was below that of the noise plus `HEARD_DB`. The
receivers show relative levels, so each series has one free constant, which is chosen
for the best score, but no further than `CONSTANT_ROOM_DB` from the middle one of its
day: what one antenna may do on nine frequencies, and not the hundred decibels that
would make a band that is told shut look right. Told are levels at an isotropic antenna,
whose area falls with the square of the frequency; what one antenna for all of 2.5 to 25
MHz has the same of is its effective height, so that the middle rises with the frequency
by `CONSTANT_RISE_DB` a decade.
"""

import csv
import gzip
from dataclasses import dataclass

import numpy as np
import on_air_links as links

from advisor.antenna.closedform import isotropic_pattern, quarter_wave_vertical_pattern
from advisor.antenna.ground import ground_by_name
from geo.locator import locator_to_latlon

HEARD_DB = 5.0
FIRST = {"2.5": "WWV", "3.33": "CHU", "7.85": "CHU", "14.67": "CHU"}
SITES = {"WWV": (40.68, -105.04), "CHU": (45.29, -75.75)}
# Day, locator, hours left out by frequency and on all: an eclipse at the first; at the
# second a source next door, and another set-up: at 18:50Z all levels rise by 10 to 12
# dB within minutes, the local source's too, and the noise below 6 MHz falls by as much;
# back near 19:25Z, there again from 19:45Z on. The source is plain on 2.5 MHz by day.
# From 6 to 13Z the offsets of 20 and 25 MHz, medians of three minutes, move together in
# the ratio of their frequencies at levels steady within 1 dB, while 15 MHz, with four
# times the power by any layer that returns 20 MHz, is weaker and wanders by 1 to 2 Hz
# alone. From 14Z on both are 14 dB and more over the source: signals.
DAYS = {
    "rxA_2024-04-08": ("FN21ei", {}, range(17, 23)),
    "rxB_2024-07-26": (
        "EN80ee",
        {2.5: range(24), 20.0: range(14), 25.0: range(14)},
        range(18, 24),
    ),
}
LEVELS_DB = np.arange(-220.0, -39.0, 2.0)
READINGS_DB = np.arange(-20.0, 141.0, 1.0)
CONSTANTS_DB = np.arange(60.0, 300.0, 1.0)
CONSTANT_ROOM_DB = 20.0
CONSTANT_RISE_DB = 20.0
FARTHEST_TURN_H = 6.0
POWER_KW = {2.5: 2.5, 3.33: 3.0, 7.85: 10.0, 14.67: 3.0, 20.0: 2.5, 25.0: 2.5}
USUAL_POWER_KW = 10.0


@dataclass(frozen=True)
class Series:
    """One frequency of one day: T hours, and the share of days above each level."""

    name: str
    mhz: float
    hours: np.ndarray
    level_db: np.ndarray
    least_db: np.ndarray
    heard: np.ndarray
    shares: np.ndarray


def minutes(path):
    """Frequency, hour, level, noise and ratio of each minute."""
    with gzip.open(path, "rt") as file:
        rows = list(csv.DictReader(file))
    return np.array(
        [
            [float(row["freq_mhz"]), float(row["time_utc"][11:13])]
            + [
                float(row[name] or "nan")
                for name in ("carrier_db_rel", "noise_db_rel_per_hz", "snr_db_1hz")
            ]
            for row in rows
        ]
    )


def days(folder):
    """The series of each day."""
    for name, (locator, left_out, hours_out) in DAYS.items():
        seen = minutes(folder / f"{name}.csv.gz")
        lat, lon = locator_to_latlon(locator)
        receiver = links.Receiver(lat, lon, isotropic_pattern)
        every = np.unique(seen[:, 0])
        mhz = [each for each in every if len(left_out.get(each, ())) < 24]
        sites = np.array(list(SITES.values())).T
        times = links.hours_of(name[-10:]) + np.timedelta64(1800, "s")
        soil = ground_by_name(links.GROUND)
        link, gains = links.link_to(
            receiver,
            *sites,
            times,
            mhz,
            lambda each, soil=soil: quarter_wave_vertical_pattern(each, soil, 10.0),
        )
        power_db = [10.0 * np.log10(1e3 * POWER_KW.get(f, USUAL_POWER_KW)) for f in mhz]
        silent = links.without_noise(link)
        shares = links.share_above(silent, gains, LEVELS_DB, np.array(power_db))
        found = []
        for b, each in enumerate(mhz):
            site = list(SITES).index(FIRST.get(f"{each:g}", "WWV"))
            rows = [seen[(seen[:, 0] == each) & (seen[:, 1] == h)] for h in range(24)]
            hours = np.array(
                [
                    h
                    for h in range(24)
                    if h not in hours_out
                    and h not in left_out.get(each, ())
                    and np.isfinite(rows[h][:, 4]).sum() >= len(rows[h]) / 2 > 0
                ]
            )
            level, noise, ratio = np.array(
                [np.nanmedian(rows[h][:, 2:], axis=0) for h in hours]
            ).T
            found.append(
                Series(
                    f"{name[:3]} {each:g} MHz",
                    float(each),
                    hours,
                    level,
                    noise + HEARD_DB,
                    ratio >= HEARD_DB,
                    shares[:, site, hours, b],
                )
            )
        yield found


def ranked_score_db(series, constant_db):
    """
    Continuous ranked probability score of each hour, what is not heard as censored.

    The integral of (share below x - 1 if the level was below x)^2 over the levels that
    could be heard.
    """
    levels = READINGS_DB[:, None]
    was = np.where(series.heard, series.level_db, series.least_db)
    missed = np.empty((READINGS_DB.size, series.hours.size))
    for t, shares in enumerate(series.shares.T):
        above = np.interp(READINGS_DB - constant_db, LEVELS_DB, shares, 1.0, 0.0)
        missed[:, t] = 1.0 - above
    missed -= levels >= was
    audible = levels >= series.least_db
    return (missed**2 * audible).sum(axis=0) * (READINGS_DB[1] - READINGS_DB[0])


def constants_of(many):
    """The free constant of each series of a day: that of the best score in reach."""
    means = np.array(
        [[ranked_score_db(each, c).mean() for c in CONSTANTS_DB] for each in many]
    )
    mhz = np.array([each.mhz for each in many])
    flat = CONSTANTS_DB - CONSTANT_RISE_DB * np.log10(mhz)[:, None]
    best = np.take_along_axis(flat, means.argmin(axis=1)[:, None], axis=1)
    within = np.abs(flat - np.median(best)) <= CONSTANT_ROOM_DB
    return CONSTANTS_DB[np.where(within, means, np.inf).argmin(axis=1)]


def turns(hours, open_):
    """Hours at which a series opens and closes, a list of (hour, opens)."""
    return [
        (0.5 * (a + b), bool(after))
        for a, b, before, after in zip(
            hours[:-1], hours[1:], open_[:-1], open_[1:], strict=True
        )
        if before != after and b - a == 1
    ]


def turn_errors_h(series, said_open):
    """Hours from each opening or closing to the nearest one told, none as the most."""
    told = turns(series.hours, said_open)
    return [
        min([abs(hour - at) for at, opens in told if opens == way] + [FARTHEST_TURN_H])
        for hour, way in turns(series.hours, series.heard)
    ]


def depth_error_db(series, said_db, night):
    """Night-to-day difference told less that heard, levels no lower than audible."""
    if not 0 < night.sum() < night.size:
        return np.nan
    was = np.where(series.heard, series.level_db, series.least_db)
    told = np.maximum(said_db, series.least_db)
    return sum(
        sign * (np.median(told[part]) - np.median(was[part]))
        for sign, part in ((1, night), (-1, ~night))
    )


def is_night(hours):
    """Night over the paths, 02 to 09 h UTC: sun down all along in April and July."""
    return (hours >= 2) & (hours < 10)


def told(folder):
    """Every series with its constant and the median level told, lowest -inf."""
    for many in days(folder):
        for series, constant in zip(many, constants_of(many), strict=True):
            median = links.quantile_of(LEVELS_DB, series.shares, 0.5)
            yield series, constant, constant + median


def figures(folder):
    """The figures of all series, and the pairs (said, heard) of their hours."""
    score, error, depth, turn, right, said_heard = [], [], [], [], [], []
    for series, constant, said in told(folder):
        said_open = said >= series.least_db
        both = series.heard & said_open
        score += list(ranked_score_db(series, constant))
        error += list((said - series.level_db)[both])
        depth.append(depth_error_db(series, said, is_night(series.hours)))
        turn += turn_errors_h(series, said_open)
        right += list(said_open == series.heard)
        levels = LEVELS_DB + constant
        for least, heard, shares in zip(
            series.least_db, series.heard, series.shares.T, strict=True
        ):
            said_heard.append((np.interp(least, levels, shares), heard))
    return {
        "signals_crps_db": np.mean(score),
        "signals_rms_db": np.sqrt(np.mean(np.square(error))),
        "signals_depth_db": np.nanmean(np.abs(depth)),
        "signals_turn_h": np.mean(turn),
        "signals_turn_median_h": np.median(turn),
        "signals_right": np.mean(right),
    }, np.array(said_heard, dtype=float)


def report(folder):
    """Print each series: its scores, when it was heard and when told."""
    for series, constant, said in told(folder):
        said_open = said >= series.least_db
        print(
            f"{series.name}: constant {constant:.0f} dB, score "
            f"{ranked_score_db(series, constant).mean():.1f} dB, depth "
            f"{depth_error_db(series, said, is_night(series.hours)):+.1f} dB, turns "
            f"{[round(float(each), 1) for each in turn_errors_h(series, said_open)]} h"
        )
        for name, open_ in (("heard", series.heard), ("told ", said_open)):
            print(f"  {name} " + "".join(".#"[int(each)] for each in open_))
