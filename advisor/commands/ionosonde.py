"""Soundings from files of ionosondes that the user downloaded."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from geo.errors import InputError

if TYPE_CHECKING:
    import numpy as np

    from geo.ionosphere.conditions import Sounding

MOST_BYTES = 50_000_000
"""Longest file that is read: some years of readings."""


def soundings_of(
    files: tuple[Path, ...], first: np.datetime64, hours: int
) -> Iterator[Sounding]:
    """
    Make soundings of the readings of some files, one an hour.

    Parameters
    ----------
    files : tuple of pathlib.Path
        Tables of ionospheric characteristics.
    first : numpy.datetime64
        First hour of the question, UTC.
    hours : int
        How many.

    Yields
    ------
    sounding : Sounding
        Median of an hour's readings, from six hours before the first hour on, without
        those that lie far off the month.

    Raises
    ------
    InputError
        If a file cannot be read, or has no reading of these hours.
    """
    from geo.ionosphere.readings import hourly_soundings

    for file in files:
        try:
            with file.open("rb") as opened:
                body = opened.read(MOST_BYTES + 1)
            if len(body) > MOST_BYTES:
                raise InputError(f"it has over {MOST_BYTES // 1_000_000} MB")
            yield from hourly_soundings(body.decode(), first, hours)
        except OSError as error:
            why = error.strerror or f"{error}"
            raise InputError(f"--ionosonde '{file}': {why}") from None
        except UnicodeDecodeError:
            raise InputError(f"--ionosonde '{file}': it is not text") from None
        except InputError as error:
            raise InputError(f"--ionosonde '{file}': {error}") from None
