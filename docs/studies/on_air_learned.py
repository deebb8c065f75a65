"""
Does what a log teaches hold on later days? Decodes in Georgia, as in on_air_spots.

Usage, from the root of the checkout, with the folder of the public records:
``python docs/studies/on_air_learned.py FOLDER``. A station of usual wire and noise
learns from the first half of the days as ``check --learn`` does; the second half is
told by it as it was and as it is then. Some minutes.
"""

import sys
from dataclasses import replace
from pathlib import Path

import on_air_links as links
import on_air_spots as spots

from advisor.answers.verification.check import check
from advisor.answers.verification.learn import learned_table
from advisor.answers.verification.told import Setting, Wire
from advisor.logs.sightings import HEARD, Row, gather
from advisor.station.bands import band_by_name
from advisor.station.file import resolve_station
from geo.locator import locator_to_latlon

PLACE = "EM73vu"
FAR_END = {"antenna": "usual", "noise": "residential"}
GIVEN = {"place": PLACE, "noise": "residential", "far_end": FAR_END}
BANDS = tuple(
    replace(band_by_name(f"{band} m"), planning_mhz=mhz)
    for band, mhz in spots.PLANNING_MHZ.items()
)


def rows_of(by_day):
    """The decodes of some days as rows of a file."""
    for day, found in by_day.items():
        for spot in found:
            yield Row(
                *(1, f"{day}T{spot.hour:02d}:{spot.minute:02d}Z", f"{spot.channel} m"),
                *(PLACE, spot.who[1], spot.who[0], HEARD, "WSPR", str(spot.ratio_db)),
                far_power_w=str(10.0 ** (0.1 * spot.power_dbw)),
            )


def told_of(by_day, learned):
    """What check tells of some days, for a station that has learned so much."""
    station, _ = resolve_station(
        None, GIVEN | ({"learned": learned} if learned else {})
    )
    dipole = links.far_end("dipole")
    own = {band.name: dipole(band.planning_mhz) for band in BANDS}
    wire = (Wire("", own, None),)
    setting = Setting(station, *locator_to_latlon(PLACE), BANDS, wire)
    seen = gather([("", list(rows_of(by_day)))])
    return station, check(seen, setting, (), str, everything=True)


def figures(folder):
    """What is learned, and of the later days chance, share, Brier score, levels off."""
    by_day = spots.decodes(folder / spots.DECODES)
    days = sorted(by_day)
    first, second = (
        {day: by_day[day] for day in some}
        for some in (days[: len(days) // 2], days[len(days) // 2 :])
    )
    station, found = told_of(first, None)
    learned = learned_table(station, found.inputs, found.details)
    rows = []
    for what in (None, learned):
        _, then = told_of(second, what)
        whole, (level,) = then.rows[0], then.details.levels
        score = then.details.score.brier
        rows.append((whole.said, whole.came, score, level.constant_db))
    return learned.get("noise_db", {}), rows


def main(folder):
    """Print the figures."""
    learned, rows = figures(folder)
    print(learned)
    for row in rows:
        print("told {:.3f}, came {:.3f}, Brier {:.4f}, levels {:.1f} dB".format(*row))


if __name__ == "__main__":
    main(Path(sys.argv[1]))
