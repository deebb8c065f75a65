"""What was heard today, as it is typed."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import UTC
from typing import TYPE_CHECKING, Any

import click

from advisor.commands.options import APP
from geo.errors import InputError

if TYPE_CHECKING:
    import numpy as np

    from advisor.engine.heard import Reception
    from advisor.engine.question import Question
    from geo.places import Place, Target

_BAND = re.compile(r"\s*(\d+(?:\.\d+)?\s*c?m)\s+(.*)", re.IGNORECASE)
_RATIO = re.compile(
    r"\s([+-]?\d+(?:\.\d+)?)\s*dB(?:\s+in\s+(\d+(?:\.\d+)?)\s*(k?)Hz)?", re.IGNORECASE
)
_WHEN = re.compile(r"\s(\S*\d:\d\d\S*(?:\s*(?:utc|z))?|\d\d?z)$", re.IGNORECASE)

_BEACON = re.compile(r"beacon\s*(\S*)", re.IGNORECASE)

_RATIOS_DB = (-40.0, 90.0)
"""What a receiver may show over its noise; more is a slip of the finger. [dB]"""

_EXAMPLES = "such as '15m KE' or '20m AR +5dB 18:30Z'"


def receptions(options: Mapping[str, Any], question: Question) -> tuple[Reception, ...]:
    """
    Read what was heard and what was listened for in vain.

    Parameters
    ----------
    options : mapping
        Values of ``heard`` and ``silent``.
    question : Question
        What is asked: its place, emission and first hour.

    Returns
    -------
    receptions : tuple of Reception
        Those heard first.

    Raises
    ------
    InputError
        If one is not understood.
    """
    return tuple(
        each
        for option in ("heard", "silent")
        for each in _read(option, options.get(option) or (), question)
    )


def warn_of_faded(told: tuple[Reception, ...], question: Question) -> None:
    """
    Warn of what was heard so long before or after that it tells nothing.

    Parameters
    ----------
    told : tuple of Reception
        What was heard and what was not.
    question : Question
        Says which hours are asked about.
    """
    from math import log

    import numpy as np

    from advisor.engine.heard import FADED
    from geo.ionosphere.sounding import CORRELATION_HOURS, hours_between

    limit_h = -CORRELATION_HOURS * log(FADED)
    for each in told:
        off_h = float(np.abs(hours_between(question.times, each.time)).min())
        if off_h > limit_h:
            click.echo(
                f"{APP}: what was heard of {each.target.name} on {each.band.name} lies "
                f"{off_h:.0f} h from the hours asked about: after {limit_h:.0f} h it "
                "tells nothing",
                err=True,
            )


def _read(
    option: str, texts: tuple[str, ...], question: Question
) -> Iterator[Reception]:
    """Read the values of one of the two options."""
    from math import log10

    from advisor.engine.heard import Reception
    from advisor.station.bands import band_by_name
    from geo.places import resolve_target

    for text in texts:
        match = _BAND.fullmatch(text)
        if match is None:
            raise InputError(
                f"--{option} '{text}' does not begin with a band and a place, "
                f"{_EXAMPLES}"
            )
        rest, snr_db_hz, time = match[2].strip(), None, question.times[0]
        # A ratio may stand before the time or after it.
        ratio = _RATIO.search(rest)
        if ratio is not None:
            width_hz = (
                float(ratio[2]) * (1000.0 if ratio[3] else 1.0)
                if ratio[2]
                else question.emission.bandwidth_hz
            )
            if option == "silent" or width_hz <= 0.0:
                raise InputError(
                    f"--{option} '{text}': a ratio belongs to what was heard, in a "
                    "bandwidth above 0"
                )
            if not _RATIOS_DB[0] <= float(ratio[1]) <= _RATIOS_DB[1]:
                raise InputError(
                    f"--{option} '{text}': {float(ratio[1]):g} dB over the noise is "
                    f"outside {_RATIOS_DB[0]:g} to {_RATIOS_DB[1]:g}; try +10dB"
                )
            snr_db_hz = float(ratio[1]) + 10.0 * log10(width_hz)
            rest = rest[: ratio.start()] + rest[ratio.end() :]
        when = _WHEN.search(rest)
        if when is not None:
            time = _hour(when[1], question, option)
            rest = rest[: when.start()].strip()
        if not rest.strip():
            raise InputError(f"--{option} '{text}' names no place, {_EXAMPLES}")
        called = _BEACON.fullmatch(rest.strip())
        try:
            band = band_by_name(match[1], question.station.iaru_region)
            if called:
                target = _beacon(called[1], band.name, question.place)
            else:
                target = resolve_target(rest.strip(), question.place)
        except InputError as error:
            raise InputError(f"--{option} '{text}': {error}") from None
        yield Reception(
            band,
            target,
            time,
            option == "heard",
            snr_db_hz,
            is_beacon=called is not None,
        )


def _beacon(name: str, band: str, here: Place) -> Target:
    """Find the place of a beacon that sends on a band."""
    from advisor.station.beacons import BEACON_MHZ, beacon_called
    from geo.places import resolve_target

    found = beacon_called(name)
    if band not in BEACON_MHZ:
        raise InputError(f"beacons send on {', '.join(BEACON_MHZ)}")
    whole = resolve_target(f"{found.lat_deg},{found.lon_deg}", here)
    return replace(whole, name=f"beacon {found.call_sign}")


def _hour(text: str, question: Question, option: str) -> np.datetime64:
    """Read a moment as its hour; a time of day is the one nearest the first hour."""
    import numpy as np

    from advisor.commands.moments import moment

    first = question.times[0]
    clock = first.astype(object).replace(tzinfo=UTC)
    found = moment(text, clock, question.station.time_zone, f"--{option}")
    if "-" not in text and found - first > np.timedelta64(12, "h"):
        found -= np.timedelta64(1, "D")
    hour: np.datetime64 = found.astype("datetime64[h]").astype("datetime64[s]")
    return hour
