"""
Make ``tables/igrf14.ecsv`` from the coefficient file of IGRF-14.

Needs the package ``ppigrf`` (which carries ``IGRF14.shc``); none of its code is
run. Usage: ``python docs/studies/build_igrf.py``
"""

from importlib.util import find_spec
from pathlib import Path

TABLE = Path(__file__).resolve().parents[2] / "tables" / "igrf14.ecsv"
FIRST_YEAR = 1950
META = (
    'title: "International Geomagnetic Reference Field, 14th generation:'
    ' Gauss coefficients, Schmidt semi-normalised, reference radius 6371.2 km"',
    'source: "IAGA Working Group V-MOD, IGRF-14 (2024), doi 10.5281/zenodo.14012302;'
    ' method: Alken et al., Earth Planets Space 73:49 (2021)"',
    'licence: "public data of IAGA, free use with citation"',
    'note: "degree n, order m; a negative order marks the sine coefficient h(n,|m|)."',
    'note_2030: "2030 is the 2025 model plus five years of its secular variation."',
    'spot: "g(1,0) in 2025 is -29350.0 nT"',
)


def shc_path():
    """Find the coefficient file inside the installed package."""
    return Path(find_spec("ppigrf").origin).parent / "IGRF14.shc"


def read_shc(path):
    """Return the epochs and, for each (n, m), the coefficients as text."""
    lines = [
        line.split()
        for line in path.read_text(encoding="ascii").splitlines()
        if line.strip() and not line.startswith("#")
    ]
    years = [int(float(cell)) for cell in lines[1]]
    return years, {(int(n), int(m)): cells for n, m, *cells in lines[2:]}


def table_text(years, coefficients):
    """Return the ECSV text, epochs before ``FIRST_YEAR`` left out."""
    kept = [i for i, year in enumerate(years) if year >= FIRST_YEAR]
    names = [f"nt_{years[i]}" for i in kept]
    header = [
        "# %ECSV 1.0",
        "# ---",
        "# datatype:",
        "# - {name: degree, datatype: int64, description: degree n}",
        "# - {name: order, datatype: int64, description: 'order m, negative for h'}",
        *(
            f"# - {{name: {name}, unit: nT, datatype: float64,"
            f" description: value at {name[3:]}.0}}"
            for name in names
        ),
        "# meta: !!omap",
        *(f"# - {{{entry}}}" for entry in META),
        "# delimiter: ','",
        "# schema: astropy-2.0",
        ",".join(["degree", "order", *names]),
    ]
    rows = [
        ",".join([str(n), str(m), *(cells[i] for i in kept)])
        for (n, m), cells in coefficients.items()
    ]
    return "\n".join([*header, *rows]) + "\n"


if __name__ == "__main__":
    TABLE.write_text(table_text(*read_shc(shc_path())), encoding="utf-8")
