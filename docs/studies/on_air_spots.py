"""
Decodes of one receiver in Georgia, USA: the level told, and the chance against silence.

The receiver changes bands every few minutes, so silence means something only in an
hour in which it heard anybody on that band. A sender counts in such an hour if the
receiver heard it on that band in another hour of the same day, so that it was on the
air. It still sends in some of the two-minute slots only, and the receiver listens in a
few of them (those with a decode of anybody on the band). So what is held against
"decoded in that hour" is the chance told times the share of such hours in which a way
that is open shows itself: 1 - (1 - d)^k for k slots. The share d of slots is found from
the decodes alone: how often a sender heard in one slot of an hour is heard in another
slot of it, sender by sender, with all senders' mean as a prior of `PRIOR_PAIRS`.

Senders have the antenna of a usual station of the far end. Antenna and noise of the
receiver are not known: one constant, the same for all
bands and hours, brings the mean level told to the mean level decoded. It is shown, and
the chance is told with it.
"""

import csv
import gzip
from collections import defaultdict
from itertools import pairwise

import numpy as np
import on_air_links as links

from advisor.answers.verification.scores import skill, usual_shares
from advisor.answers.verification.trials import Spot, day_cells, shown_shares
from geo.locator import locator_to_latlon

# What a decode needs in 2.5 kHz.
LEAST_DB = -29.0
CONSTANTS_DB = np.arange(0.0, 41.0)
RATIOS_DB = np.arange(LEAST_DB, 72.0, 5.0)
PLANNING_MHZ = {40: 7.04, 30: 10.14, 20: 14.1, 15: 21.1, 12: 24.92, 10: 28.13}
DECODES = "georgia_em73_wspr_2024_25.csv.gz"
# Edges of the classes of distance.
CLASSES_KM = (0, 1000, 2000, 4000, 20000)


def decodes(path):
    """Spots by day: the channel is the band, the far end (sender, locator)."""
    found = defaultdict(list)
    with gzip.open(path, "rt") as file:
        for row in csv.DictReader(file):
            if int(row["band_m"]) in PLANNING_MHZ:
                found[row["time_utc"][:10]].append(
                    Spot(
                        int(row["time_utc"][11:13]),
                        int(row["time_utc"][14:16]),
                        int(row["band_m"]),
                        (row["tx_id"], row["tx_grid"]),
                        float(row["tx_power_dbm"]) - 30.0,
                        float(row["snr_db_2500hz"]),
                    )
                )
    return found


def told(by_day):
    """Band, ratio, shown, counts, distance of all cells, shares above the ratios."""
    shows = shown_shares(by_day.values())
    receiver = links.Receiver(*locator_to_latlon("EM73vu"), links.far_end("dipole"))
    found, every = [], []
    for day, rows in by_day.items():
        every_cell = list(day_cells(rows, shows))
        for band in sorted({cell[1] for cell in every_cell}):
            cells = [cell for cell in every_cell if cell[1] == band]
            senders = sorted({cell[2] for cell in cells})
            hours = sorted({cell[0] for cell in cells})
            lat, lon = np.array([locator_to_latlon(where) for _, where in senders]).T
            times = links.hours_of(day)[hours] + np.timedelta64(1800, "s")
            mhz = [PLANNING_MHZ[band]]
            link, gains = links.link_to(
                receiver, lat, lon, times, mhz, links.far_end("usual")
            )
            where = [(senders.index(cell[2]), hours.index(cell[0])) for cell in cells]
            path, hour = np.array(where).T
            power = np.zeros(link.hear_db.shape)
            power[path, hour, 0] = [cell[3] for cell in cells]
            shares = links.share_above(link, gains, RATIOS_DB + links.PER_HZ_DB, power)
            every.append(shares[:, path, hour, 0])
            far = link.paths.distance_km[path]
            found += [
                (each.channel, each.ratio_db, each.shown, each.counts, km)
                for each, km in zip(cells, far, strict=True)
            ]
    return np.array(found, dtype=float).T, np.concatenate(every, axis=1)


def level_told_db(shares, constant_db):
    """Ratio on the middle one of the days that allow a decode, less a constant."""
    found = []
    for column in shares.T:
        chance = np.interp(LEAST_DB + constant_db, RATIOS_DB, column)
        found.append(np.interp(0.5 * chance, column[::-1], RATIOS_DB[::-1]))
    return np.array(found) - constant_db


def figures(folder):
    """The figures over all bands and by band, and the pairs (said, heard)."""
    return figures_of(decodes(folder / DECODES))


def figures_of(by_day):
    """The same of spots by day."""
    (band, ratio, shown, counts, far_km), shares = told(by_day)
    heard, counts = np.isfinite(ratio), counts > 0
    of_heard = shares[:, heard]
    offs = np.array([level_told_db(of_heard, c) - ratio[heard] for c in CONSTANTS_DB])
    best = int(np.argmin(np.abs(offs.mean(axis=1))))
    constant, off = CONSTANTS_DB[best], offs[best]
    chance = np.array(
        [np.interp(LEAST_DB + constant, RATIOS_DB, each) for each in shares.T]
    )
    said = chance * shown
    found = {
        "spots_constant_db": constant,
        "spots_rms_db": np.sqrt(np.mean(off**2)),
    }
    usually = usual_shares(heard[counts], shown[counts], band[counts])
    for each in PLANNING_MHZ:
        here = counts & (band == each)
        of_band = off[band[heard] == each]
        found |= {
            f"spots_rms_db_{each}": np.sqrt(np.mean(of_band**2)),
            f"spots_bias_db_{each}": np.mean(of_band),
            f"spots_said_{each}": said[here].mean(),
            f"spots_heard_{each}": heard[here].mean(),
            f"spots_brier_{each}": np.mean((said - heard)[here] ** 2),
            f"spots_skill_{each}": skill(
                said[here], usually[band[counts] == each], heard[here]
            ),
        }
    for low, high in pairwise(CLASSES_KM):
        inside = (far_km >= low) & (far_km < high)
        here, of_class = counts & inside, off[inside[heard]]
        if here.any():
            found |= {
                f"spots_bias_db_{high}_km": np.mean(of_class),
                f"spots_said_{high}_km": said[here].mean(),
                f"spots_heard_{high}_km": heard[here].mean(),
            }
    found["spots_brier"] = np.mean((said - heard)[counts] ** 2)
    found["spots_skill"] = skill(said[counts], usually, heard[counts])
    return found, np.stack([said, heard], axis=1)[counts]
