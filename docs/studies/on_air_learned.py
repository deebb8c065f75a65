"""
Does what a log teaches hold on later days? Decodes in Georgia, as in on_air_spots.

Usage, from the root of the checkout, with the folder of the public records:
``python docs/studies/on_air_learned.py FOLDER``. A station of usual wire and noise
learns from the first half of the days as ``check --learn`` does; the second half is
told by it as it was and as it is then. Some minutes. ``--write`` keeps the figures in
on_air_learned.json, with those of a part of each half, which a test works out anew; the
table of docs/validation.md is copied from there.
"""

import json
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

KEPT = Path(__file__).with_suffix(".json")
EARLY_M, LATE = 10, "2025-04-14"
"""What stands for the halves: the band of fewest decodes, and a day of few."""
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


def taught_by(by_day):
    """What some days teach, as a station file holds it."""
    station, found = told_of(by_day, None)
    return learned_table(station, found.inputs, found.details)


def first_half(by_day):
    """The days that teach."""
    days = sorted(by_day)
    return {day: by_day[day] for day in days[: len(days) // 2]}


def on_band(by_day):
    """The same days with the decodes of one band."""
    some = {day: [s for s in by_day[day] if s.channel == EARLY_M] for day in by_day}
    return {day: rows for day, rows in some.items() if rows}


def row_of(found):
    """Chance, share, Brier score and level off of what check tells of some days."""
    whole, (level,) = found.rows[0], found.details.levels
    return [whole.said, whole.came, found.details.score.brier, level.constant_db]


def figures(folder):
    """What is learned, and the later days told as the station was and as it learned."""
    by_day = spots.decodes(folder / spots.DECODES)
    first = first_half(by_day)
    second = {day: rows for day, rows in by_day.items() if day not in first}
    learned = taught_by(first)

    def later(days):
        return [row_of(told_of(days, what)[1]) for what in (None, learned)]

    return {
        "learned": learned,
        "rows": later(second),
        "early": row_of(told_of(on_band(first), None)[1]),
        "late": later({LATE: by_day[LATE]}),
    }


def main(folder, *words):
    """Print the figures, and keep them if asked to."""
    found = figures(folder)
    if "--write" in words:
        KEPT.write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")
    print(found["learned"])
    for row in found["rows"]:
        print("told {:.3f}, came {:.3f}, Brier {:.4f}, levels {:.1f} dB".format(*row))


if __name__ == "__main__":
    main(Path(sys.argv[1]), *sys.argv[2:])
