"""
Make ``tables/ionospheric_index.ecsv`` and print the relations fitted to it.

Usage: ``python docs/studies/build_ionospheric_index.py INDEX.csv [LAST_MONTH]``

INDEX.csv holds months, the index IG12 and a sunspot number (``month,ig12,rz12``), taken
from the index file that accompanies the International Reference Ionosphere. Only months
up to the last one whose twelve-month mean holds no prediction are kept (2024-09 in the
file of 26 April 2025): what the file says of later months is an old forecast, 30 to 60
too high by 2026. Without arguments the relations are printed for the table as it is.

The relations stand in geo/ionosphere/index.py: IG12 by smoothed flux and sunspot
number, by the sunspot number alone, and the flux by the sunspot number.
"""

import csv
import sys
from pathlib import Path

import numpy as np

from geo.tables import read_table

TABLE = Path(__file__).resolve().parents[2] / "tables" / "ionospheric_index.ecsv"
LAST_MONTH = "2024-09"
HEADER = """\
# %ECSV 1.0
# ---
# datatype:
# - {name: month, datatype: string, description: calendar month}
# - {name: ig12, unit: 1, datatype: float64, \
description: 12-month running mean of the global ionospheric index; may be negative}
# meta: !!omap
# - {title: "Ionospheric index by month"}
# - {source: "index file of the International Reference Ionosphere of 26 April 2025; \
the index is made by the UK Solar System Data Centre and partners from foF2 of a few \
ionosondes (R. Y. Liu, P. A. Smith and J. W. King, Telecommunication Journal 50, \
408, 1983, from memory)"}
# - {licence: "facts, published without conditions by the IRI working group; name it"}
# - {note: "months whose mean holds a prediction are left out"}
# - {spot: "2019-06: -11.8"}
# delimiter: ','
# schema: astropy-2.0
month,ig12
"""


def table_text(path, last=LAST_MONTH):
    """Return the ECSV text."""
    with Path(path).open(encoding="ascii") as file:
        rows = [(row["month"], float(row["ig12"])) for row in csv.DictReader(file)]
    return HEADER + "".join(f"{m},{value:.1f}\n" for m, value in rows if m <= last)


def months_of_both():
    """Index, smoothed flux and R12 of the months that are in both tables."""
    index, solar = read_table("ionospheric_index"), read_table("solar_monthly")
    at = dict(zip(index.columns["month"], index.numbers("ig12"), strict=True))
    row = [i for i, month in enumerate(solar.columns["month"]) if month in at]
    known = np.array([at[solar.columns["month"][i]] for i in row])
    return known, solar.numbers("f107_smoothed13")[row], solar.numbers("r12_ccir")[row]


def fits():
    """
    Return the fitted relations by name: coefficients and rms.

    By flux and sunspots (1, F, F^2, R), by sunspots alone (1, R, R^2), and the flux by
    sunspots (1, R, R^2).
    """
    index, flux, spots = months_of_both()
    one = np.ones_like(index)
    found = {}
    for name, wanted, columns in (
        ("both", index, (one, flux, flux**2, spots)),
        ("spots", index, (one, spots, spots**2)),
        ("flux", flux, (one, spots, spots**2)),
    ):
        matrix = np.column_stack(columns)
        fit = np.linalg.lstsq(matrix, wanted, rcond=None)[0]
        found[name] = fit, np.sqrt(np.mean((wanted - matrix @ fit) ** 2))
    return found


def left_over():
    """Index less that by flux and sunspots, month by month."""
    index, flux, spots = months_of_both()
    fit, _ = fits()["both"]
    return index - np.column_stack([np.ones_like(flux), flux, flux**2, spots]) @ fit


if __name__ == "__main__":
    if len(sys.argv) > 1:
        TABLE.write_text(table_text(*sys.argv[1:]), encoding="utf-8")
    for name, (fit, rms) in fits().items():
        print(name, " ".join(f"{value:.6g}" for value in fit), f"rms {rms:.2f}")
    rest = left_over()
    print("exceeded by one in five in size:", np.quantile(abs(rest), 0.8).round(1))
    print("last months:", rest[-6:].round(1))
