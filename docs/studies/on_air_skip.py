"""
20 m in Hungary, even months: where the skip ends and when each distance opens.

The counts are decodes by hour and class of 500 km. The hours are those that a clock in
Hungary shows at the file's seconds: taken as UTC these are 1 h behind in winter and 2 h
in summer, as where times in UTC were read by a clock on local time; what speaks for and
against it stands in docs/validation.md. The rule, the same for what was heard and what
is told:

* The share of a class in an hour is its mean count over the days of the month, divided
  by a population that is fixed for the class and hour of the week: that of the class
  (`POPULATION`, the count passed in one hour of ten over all months), times how busy
  that hour of the week is against the week's mean (all classes together, by day only).
  Told is the chance to hear a usual station of that class, held against its own
  population in the same way.
* An hour is open if any class of 500 to 3500 km has a share of `OPEN` or more. Its
  inner edge is where, from the best of those classes inwards, the share first falls to
  half of the best, in a straight line between the middles of the classes. It is 500 km
  if it never does: nearer than that the counts hold ground wave and the neighbours, so
  500 km stands for "500 or less".
* A class of 500 to 2000 km opens and closes where its share passes half of the most
  of its day, in a straight line between hours.
"""

import gzip
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np
import on_air_links as links

from advisor.antenna.closedform import dipole_pattern
from advisor.antenna.ground import ground_by_name
from advisor.station.emissions import emission_by_name
from geo.sphere import destination

PLACE = (47.0, 19.0)
# What shows UTC at the file's seconds.
CLOCK = ZoneInfo("Europe/Budapest")
MHZ = 14.08
POWER_W = 30.0
DIPOLE_M = 10.0
CLASS_KM = 500.0
CLASSES = range(1, 7)
NEAR_CLASSES = range(1, 4)
INSIDE_KM = (100.0, 250.0, 400.0)
# Where Europe lies as seen from there.
BEARINGS_DEG = np.arange(240.0, 451.0, 30.0)
OPEN = 0.1
POPULATION = 0.9
FARTHEST_TURN_H = 6.0


def counts(path):
    """Month, hour, hour of the week and counts of each hour that was kept."""
    with gzip.open(path, "rt") as file:
        rows = [line.rstrip("; \n").split(";") for line in file]
    when = [datetime.fromtimestamp(int(row[0]), CLOCK) for row in rows]
    months = np.array([f"{each:%Y-%m}" for each in when])
    hours = np.array([each.hour for each in when])
    week = np.array([each.weekday() * 24 + each.hour for each in when])
    return months, hours, week, np.array([row[1:] for row in rows], dtype=float)


def heard_shares(path):
    """Months, and the share heard of each class, (month, hour, class)."""
    months, hours, week, seen = counts(path)
    names, number = np.unique(months, return_counts=True)
    names = names[number > 200]
    middle = (hours >= 6) & (hours < 16)
    busy = np.ones(168)
    for w in np.unique(week[middle]):
        # The day's hours alone: at night the band says who is heard, not who is on.
        same = middle & (hours == w % 24)
        busy[w] = seen[same & (week == w)].sum(axis=1).mean()
        busy[w] /= seen[same].sum(axis=1).mean()
    level = seen / busy[week][:, None]
    people = np.quantile(level, POPULATION, axis=0)[: max(CLASSES) + 1]
    return names, np.array(
        [
            [
                level[(months == m) & (hours == h), : people.size].mean(axis=0) / people
                for h in range(24)
            ]
            for m in names
        ]
    )


def told_shares(names):
    """Chance to hear a station of each class, (month, hour, class), and its share."""
    pattern = lambda mhz: dipole_pattern(  # noqa: E731
        mhz, DIPOLE_M, ground_by_name(links.GROUND)
    )
    receiver = links.Receiver(*PLACE, pattern)
    usual = links.far_end("usual")
    near = np.arange(max(CLASSES) + 1) * CLASS_KM
    distance = (near[:, None] + np.array(INSIDE_KM)).ravel()
    lat, lon = destination(*PLACE, BEARINGS_DEG[:, None] % 360.0, distance)
    need = emission_by_name("FT8").snr_db_hz
    found = []
    for month in names:
        times = links.hours_of(f"{month}-15") + np.timedelta64(1800, "s")
        link, gains = links.link_to(
            receiver, lat.ravel(), lon.ravel(), times, [MHZ], usual, POWER_W
        )
        chance = links.share_above(link, gains, [need])[0, ..., 0]
        body = BEARINGS_DEG.size, near.size, len(INSIDE_KM), times.size
        found.append(chance.reshape(body).mean(axis=(0, 2)).T)
    chances = np.array(found)
    people = np.quantile(chances.reshape(-1, near.size), POPULATION, axis=0)
    return chances, chances / people


def inner_edge_km(share):
    """Inner edge of one hour from the shares of the classes; NaN if it is shut."""
    middle = (np.arange(share.size) + 0.5) * CLASS_KM
    best = max(CLASSES, key=lambda c: share[c])
    if share[best] < OPEN:
        return np.nan
    half = 0.5 * share[best]
    for c in range(best - 1, min(CLASSES) - 1, -1):
        if share[c] < half:
            pair = share[[c, c + 1]]
            return float(np.interp(half, pair, middle[[c, c + 1]]))
    return CLASS_KM


def turns_h(share):
    """Hours at which a class opens and closes, over the day's ring of hours."""
    half = 0.5 * share.max()
    found = []
    for h, (a, b) in enumerate(zip(share, np.roll(share, -1), strict=True)):
        if (a < half) != (b < half):
            found.append((h + 0.5 + (half - a) / (b - a), bool(b > a)))
    return found


def main_turns_h(share):
    """The opening before the best hour and the closing after it."""
    best = int(share.argmax()) + 0.5
    found = turns_h(share)
    opens = [(best - hour) % 24.0 for hour, way in found if way]
    closes = [(hour - best) % 24.0 for hour, way in found if not way]
    if not opens:
        return np.nan, np.nan
    return (best - min(opens)) % 24.0, (best + min(closes)) % 24.0


def figures(folder):
    """The figures, and the pairs (said, heard) of hours and classes."""
    names, heard = heard_shares(folder / "hungary_ft8_hourly_counts_even_months.csv.gz")
    chances, told = told_shares(names)
    edges = np.array(
        [
            [[inner_edge_km(hour) for hour in month] for month in each]
            for each in (heard, told)
        ]
    )
    both = np.isfinite(edges).all(axis=0)
    off = (edges[1] - edges[0])[both]
    beyond = both & (edges > CLASS_KM).any(axis=0)
    turn = np.array(
        [
            [[main_turns_h(month[:, c]) for c in NEAR_CLASSES] for month in each]
            for each in (heard, told)
        ]
    )
    apart = np.abs((turn[1] - turn[0] + 12.0) % 24.0 - 12.0)
    pairs = [
        np.stack([chances[..., c].ravel(), np.minimum(heard[..., c].ravel(), 1.0)])
        for c in CLASSES
    ]
    return {
        "skip_off_km": np.mean(np.abs(off)),
        "skip_rms_km": np.sqrt(np.mean(off**2)),
        "skip_bias_km": np.mean(off),
        "skip_relative": np.median(np.abs(edges[1] / edges[0] - 1.0)[beyond]),
        "skip_open_right": np.mean(np.isfinite(edges[0]) == np.isfinite(edges[1])),
        "skip_opening_h": np.nanmean(apart[..., 0]),
        "skip_closing_h": np.nanmean(apart[..., 1]),
        "skip_opening_median_h": np.nanmedian(apart[..., 0]),
        "skip_closing_median_h": np.nanmedian(apart[..., 1]),
    }, np.concatenate(pairs, axis=1).T


def report(folder):
    """Print the inner edges by month and hour, heard and told."""
    names, heard = heard_shares(folder / "hungary_ft8_hourly_counts_even_months.csv.gz")
    _, told = told_shares(names)
    for m, month in enumerate(names):
        for name, each in (("heard", heard), ("told ", told)):
            edges = (inner_edge_km(hour) for hour in each[m])
            cells = "".join(
                "    ." if np.isnan(edge) else f"{edge:5.0f}" for edge in edges
            )
            print(month, name, cells)
        for c in NEAR_CLASSES:
            print(
                "   class", c, main_turns_h(heard[m, :, c]), main_turns_h(told[m, :, c])
            )
