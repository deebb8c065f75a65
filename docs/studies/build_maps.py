"""
Make ``tables/ccir_maps.npz`` and ``tables/foes_maps.npz``.

The numbers come from the coefficient files inside the package PyIRI 0.1.7 (MIT
licence; its notice is in ``tables/NOTICE-ccir-coefficients.txt``); none of its
code is run. Usage: ``python docs/studies/build_maps.py``

Layout of the source files (one pair per month, NN = month + 10):

* ``CCIR/ccirNN.asc``: 15-column numbers after one blank; foF2 for R12 = 0 and
  100 (76 geographic functions x 13 diurnal terms each), then M(3000)F2 for the
  same levels (49 x 9). The diurnal index runs fastest.
* ``Es/EsNN.asc``: 60 counters, then six blocks of 76 x 17 numbers padded with
  zeros: upper decile, median and lower decile, each for R12 = 10 and 180.
"""

from importlib.util import find_spec
from pathlib import Path

import numpy as np

TABLES = Path(__file__).resolve().parents[2] / "tables"
MONTHS = range(1, 13)
CCIR_SOURCE = (
    "CCIR numerical maps (Report 340; ITU-R P.1239) after Jones and Gallet, ITU"
    " Telecommunication Journal 32 (1965) 18; numbers from the package PyIRI 0.1.7"
    " (MIT, Copyright (c) 2023 victoriyaforsythe)"
)
FOES_SOURCE = (
    "Numerical maps of foEs after Leftin, Ostrow and Preston, ESSA Technical Report"
    " ERL 73-ITS 63 (1968); numbers from the package PyIRI 0.1.7 (MIT, Copyright (c)"
    " 2023 victoriyaforsythe)"
)


def coefficient_dir():
    """Find the coefficient files inside the installed package."""
    return Path(find_spec("PyIRI").origin).parent / "coefficients"


def read_ccir(month):
    """Return foF2 (level, 13, 76) and M(3000)F2 (level, 9, 49) of one month."""
    path = coefficient_dir() / "CCIR" / f"ccir{month + 10}.asc"
    numbers = np.array(
        [
            float(line[start : start + 15])
            for line in path.read_text(encoding="ascii").splitlines()
            for start in range(1, len(line.rstrip()), 15)
        ]
    )
    split = 2 * 76 * 13
    fof2 = numbers[:split].reshape(2, 76, 13)
    m3000 = numbers[split:].reshape(2, 49, 9)
    return fof2.transpose(0, 2, 1), m3000.transpose(0, 2, 1)


def read_foes(month):
    """Return lower decile, median, upper decile of one month, (level, j, k)."""
    path = coefficient_dir() / "Es" / f"Es{month + 10}.asc"
    numbers = np.array(path.read_text(encoding="ascii").split(), dtype=float)
    blocks = numbers[60 : 60 + 6 * 76 * 17].reshape(3, 2, 76, 17).transpose(0, 1, 3, 2)
    return blocks[2, :, :5, :55], blocks[1, :, :7, :61], blocks[0, :, :5, :55]


def ccir_arrays():
    """Return every array of ``ccir_maps.npz``; maps are (month, level, j, k)."""
    fof2, m3000 = (
        np.stack(m) for m in zip(*(read_ccir(month) for month in MONTHS), strict=True)
    )
    return {
        "fof2": fof2,
        "m3000f2": m3000,
        "r12_levels": np.array([0.0, 100.0]),
        "source": np.array(CCIR_SOURCE),
    }


def foes_arrays():
    """Return every array of ``foes_maps.npz``; maps are (month, level, j, k)."""
    lower, median, upper = (
        np.stack(m) for m in zip(*(read_foes(month) for month in MONTHS), strict=True)
    )
    return {
        "lower": lower,
        "median": median,
        "upper": upper,
        "r12_levels": np.array([10.0, 180.0]),
        "source": np.array(FOES_SOURCE),
    }


if __name__ == "__main__":
    np.savez_compressed(TABLES / "ccir_maps.npz", **ccir_arrays())
    np.savez_compressed(TABLES / "foes_maps.npz", **foes_arrays())
