"""
Write tables/demo_log.csv, the log of the demonstration: drawn, nobody's.

Usage: ``python docs/studies/build_demo_log.py``. The invented operator calls and
listens on eight evenings of October 2026. Whether a try succeeds is drawn from what the
program tells of it, and so is the level of what is heard, but all that is heard is
`WEAKER_DB` weaker, as by noise that the station file does not name: `skiplobe check`
should find it. The sky the file was drawn from is that of the day it was made.
"""

from pathlib import Path

import numpy as np

from advisor.answers.verification.told import (
    PER_HZ_DB,
    needs_db,
    powers_dbw,
    ratio_at,
    share_above,
    told_shares,
)
from advisor.answers.verification.trials import trials_of
from advisor.commands.check import setting_for
from advisor.logs.columns import rows_of
from advisor.logs.sightings import HEARD, NOT, WAYS, gather
from advisor.station.file import demo_station, resolve_station

FILE = Path(__file__).resolve().parents[2] / "tables" / "demo_log.csv"
FAR_ENDS = (
    "KI88",
    "KH67",
    "KG44",
    "JF96",
    "KM18",
    "JO62",
    "GG66",
    "OF88",
    "MK68",
    "PM95",
)
BANDS = ("40 m", "20 m", "15 m", "10 m")
TRIES, WEAKER_DB = 220, 6.0
TITLES = "time,band,where,way,who,from,snr_db"
RNG = np.random.default_rng(2026)


def tries():
    """Rows before it is known what came of them."""
    for _ in range(TRIES):
        day, hour, minute = (
            RNG.integers(11, 19),
            *RNG.integers((13, 0), (20, 60)),
        )
        who = int(RNG.integers(len(FAR_ENDS)))
        way = str(RNG.choice(["contact", "heard"]))
        yield (
            f"2026-10-{day:02d}T{hour:02d}:{minute:02d}Z",
            str(RNG.choice(BANDS)),
            FAR_ENDS[who],
            way,
            f"station {who + 1}",
            "KF07jo",
        )


def main():
    """Draw and write."""
    rows = sorted(tries())
    table = [f"{TITLES}\n", *(f"{','.join(row)},\n" for row in rows)]
    # One in vain makes every row a try, its ratio makes levels told.
    table.append("2026-10-19T00:00Z,20 m,KI88,not heard,x,KF07jo,0\n")
    seen = gather([("", rows_of("".join(table), ""))])
    station, origins = resolve_station(demo_station(), {})
    setting = setting_for(seen, station, origins, None)
    trials = trials_of(seen)
    shares = told_shares(seen, trials, setting)
    own, far = powers_dbw(seen, trials.row, setting)
    power = np.where(seen.way == WAYS.index(HEARD), far, own)
    weaker = WEAKER_DB * (seen.way == WAYS.index(HEARD))
    chance = share_above(shares, needs_db(seen, trials.row, setting) - power + weaker)
    drawn = RNG.uniform(size=chance.size)
    level = ratio_at(shares, drawn) + power - PER_HZ_DB - weaker
    lines = [TITLES]
    for row, told, rank, ratio in zip(rows, chance, drawn, level, strict=False):
        came = rank < told
        way = row[3] if came else NOT + row[3]
        report = f"{ratio:.0f}" if came and row[3] == HEARD else ""
        lines.append(",".join([*row[:3], way, *row[4:], report]))
    FILE.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
