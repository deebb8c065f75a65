"""
Make ``tables/absorption.ecsv`` from the integrals over measured electron densities.

Usage: ``python docs/studies/build_absorption.py absorption_firi2018.csv``. That file
holds latitude_deg, month, f107_sfu and, for the zenith angles named in its head, the
absorption of the ordinary wave straight up through 55 to 150 km and down again, times
(f + fL)^2 at high frequency. It was integrated from the electron densities of FIRI-2018
(PyPI package pyfiri 2.0.0b0) with the index of refraction of Sen and Wyller and a
collision frequency of 6.41e5 a second for each pascal of the standard atmosphere.
"""

import csv
import sys
from pathlib import Path

TABLE = Path(__file__).resolve().parents[2] / "tables" / "absorption.ecsv"
META = (
    'title: "Absorption of the ordinary wave straight up and down through 55 to 150 km,'
    ' times (f + fL)^2: by latitude, month of the north, solar flux and zenith angle"',
    'source: "integrated from the electron densities of FIRI-2018: Friedrich, Pock and'
    " Torkar, J. Geophys. Res. Space Phys. 123 (2018) 6737, doi 10.1029/2018JA025437,"
    " as carried by pyfiri 2.0.0b0: Zolotov, Romanovskaya and Knyazeva, SoftwareX 16"
    ' (2021) 100885"',
    'licence: "computed figures; pyfiri is under the Apache licence 2.0, see'
    ' NOTICE-firi.txt"',
    'note: "in the south the months are six on; no correction for the day is in it"',
    'spot: "45 degrees, January, 75 sfu, zenith angle 60 deg is 210.9"',
)


def table_text(path):
    """Return the ECSV text."""
    lines = Path(path).read_text(encoding="utf-8").splitlines()
    head, *rows = csv.reader(line for line in lines if not line.startswith("#"))
    names = head[:3] + [f"{name}_db_mhz2" for name in head[3:]]
    about = {
        "latitude_deg": ("deg", "latitude without its sign"),
        "month": ("", "1 to 12"),
        "f107_sfu": ("1e-22 W m-2 Hz-1", "solar flux at 10.7 cm"),
    }
    columns = []
    for name in names:
        chi = name.removeprefix("chi_").removesuffix("_db_mhz2")
        unit, words = about.get(name, ("dB MHz2", f"zenith angle {chi} deg"))
        kind = "int64" if name in about else "float64"
        said = f"unit: {unit}, " if unit else ""
        columns.append(
            f"# - {{name: {name}, {said}datatype: {kind}, description: {words}}}"
        )
    top = ["# %ECSV 1.0", "# ---", "# datatype:", *columns, "# meta: !!omap"]
    top += [f"# - {{{entry}}}" for entry in META]
    top += ["# delimiter: ','", "# schema: astropy-2.0", ",".join(names)]
    return "\n".join([*top, *(",".join(row) for row in rows)]) + "\n"


if __name__ == "__main__":
    TABLE.write_text(table_text(sys.argv[1]), encoding="utf-8")
