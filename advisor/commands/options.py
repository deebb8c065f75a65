"""Options that several commands share, in groups."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from advisor.commands.figures import FIGURE, KP

APP = "skiplobe"
"""Name of the program."""

F = TypeVar("F", bound=Callable[..., Any])


def add_options(options: list[Callable[[Any], Any]]) -> Callable[[F], F]:
    """
    Put several options on a command, in reading order.

    Parameters
    ----------
    options : list of callable
        Decorators made by `click.option`.

    Returns
    -------
    decorate : callable
        Puts all of them on a command.
    """

    def decorate(command: F) -> F:
        for option in reversed(options):
            command = option(command)
        return command

    return decorate


_WHO: list[Callable[[Any], Any]] = [
    click.option(
        "--station",
        "station_file",
        type=click.Path(path_type=Path, dir_okay=False),
        help="Station file (TOML); see 'skiplobe station starter'.",
    ),
    click.option(
        "--from",
        "place",
        metavar="PLACE",
        help="Grid locator or LAT,LON in degrees.",
    ),
    click.option("--power-w", type=FIGURE, metavar="W", help="Transmitter power."),
    click.option(
        "--emission", metavar="NAME", help="SSB, CW, FT8 and others, by name."
    ),
    click.option(
        "--noise",
        metavar="WHERE",
        help="Noise here: city, residential, rural, quiet rural.",
    ),
    click.option(
        "--noise-trim-db",
        type=FIGURE,
        metavar="DB",
        help="Added to the man-made noise here.",
    ),
    click.option("--ground", metavar="KIND", help="Ground under the wire, by name."),
    click.option(
        "--horizon-deg",
        type=FIGURE,
        metavar="DEG",
        help="Nothing is counted below this elevation.",
    ),
    click.option(
        "--far-kind",
        metavar="KIND",
        help="Station at the far end: modest, usual, big.",
    ),
    click.option(
        "--far-antenna",
        metavar="KIND",
        help="Its antenna: dipole, isotropic, vertical, modest, usual, big.",
    ),
    click.option(
        "--far-set-up",
        "far_setup",
        metavar="NAME",
        help="Its antenna: this set-up of the station.",
    ),
    click.option(
        "--at-least-one-of",
        type=int,
        metavar="N",
        help="Any one of so many such stations there will do.",
    ),
    click.option("--far-noise", metavar="WHERE", help="Noise at the far end."),
    click.option(
        "--far-power-w", type=FIGURE, metavar="W", help="Power of the far end."
    ),
    click.option(
        "--iaru-region",
        type=int,
        metavar="1|2|3",
        help="Radio region, if not local.",
    ),
]

_WIRE: list[Callable[[Any], Any]] = [
    click.option(
        "--set-up",
        "setup_names",
        multiple=True,
        metavar="NAME",
        help="Only this set-up of the station; may be repeated.",
    ),
    click.option(
        "--shape",
        metavar="SHAPE",
        help="One wire by option, instead of the file's.",
    ),
    click.option(
        "--length-m", type=FIGURE, metavar="M", help="Its whole length, metres."
    ),
    click.option(
        "--height-m",
        type=FIGURE,
        metavar="M",
        help="How high its top hangs above ground, metres.",
    ),
    click.option(
        "--dim",
        "dims",
        multiple=True,
        metavar="KEY=VALUE",
        help="Any other key of a set-up, as in a station file; may be repeated.",
    ),
    click.option(
        "--bearing-deg",
        metavar="DEG|any",
        help="Way the wire runs from true north; 'any' looks for the best.",
    ),
]

no_cache_option = click.option(
    "--no-cache", is_flag=True, help="Neither read nor leave wires and rays on disk."
)

station_options = add_options([*_WHO, *_WIRE, no_cache_option])

operator_options = add_options([*_WHO, no_cache_option])
"""Those of the station without its wires."""

time_options = add_options(
    [
        click.option(
            "--date",
            "start",
            metavar="WHEN",
            help="First hour: 2026-12-05T18:00Z, saturday, 18:00 ...; default now.",
        ),
        click.option(
            "--hours",
            type=int,
            default=24,
            show_default=True,
            help="How many hours, 1 to 72.",
        ),
    ]
)

solar_options = add_options(
    [
        click.option(
            "--r12",
            type=FIGURE,
            help="12-month smoothed sunspot number, old scale, instead of the table.",
        ),
        click.option(
            "--flux",
            type=FIGURE,
            metavar="SFU",
            help="10.7 cm solar flux instead of it.",
        ),
    ]
)

conditions_options = add_options(
    [
        click.option(
            "--fof2-now",
            "soundings",
            multiple=True,
            metavar="MHZ[@PLACE[@WHEN]]",
            help="foF2 as sounded here or at PLACE, now or WHEN; repeatable.",
        ),
        click.option(
            "--kp",
            type=KP,
            metavar="0-9",
            help="Kp index of the past day and a half: what a storm does to foF2.",
        ),
        click.option(
            "--flare",
            metavar="CLASS",
            help="What if a flare of this class (M5, X1) were at its peak.",
        ),
        click.option(
            "--proton-flux",
            type=FIGURE,
            metavar="PFU",
            help="What if so many protons above 10 MeV, per cm2 s sr, reached us.",
        ),
        click.option(
            "--fetch-indices",
            is_flag=True,
            # Typed each time or not at all.
            allow_from_autoenv=False,
            help="Ask a public service for today's flux and Kp: next 48 hours only.",
        ),
    ]
)

weights_option = click.option(
    "--weights",
    type=click.Choice(["area", "operators"]),
    default="area",
    show_default=True,
    help="What the points of a region weigh: land, or where operators are.",
)


def targets_option(takes: str = "repeatable.") -> Callable[[F], F]:
    """
    Make the option that names targets.

    Parameters
    ----------
    takes : str, optional
        How many the command takes, in words that end its help.

    Returns
    -------
    decorate : callable
        Puts it on a command, as a tuple ``targets``.
    """
    return click.option(
        "--to",
        "targets",
        multiple=True,
        metavar="TARGET",
        help=f"Region, country, locator, LAT,LON or a ring; {takes}",
    )


bands_option = click.option(
    "--band",
    "bands",
    multiple=True,
    metavar="BAND",
    help="Only this band; repeatable.",
)

long_path_option = click.option(
    "--long-path", is_flag=True, help="Only the long way round."
)

zone_option = click.option(
    "--local", "zone", metavar="ZONE", help="Local time of an IANA zone too."
)

question_options = add_options(
    [
        targets_option(),
        weights_option,
        station_options,
        bands_option,
        time_options,
        solar_options,
        conditions_options,
        long_path_option,
    ]
)
"""All of a question; a command with other words of its own picks from the above."""

brief_option = click.option(
    "--brief",
    is_flag=True,
    help="Text without reasons and keys, its cautions in one sentence.",
)

more_option = click.option(
    "--more",
    is_flag=True,
    help="Text with every table, all reasons, keys and the cautions in full.",
)

provenance_option = click.option(
    "--provenance",
    "with_provenance",
    is_flag=True,
    help="Tell too what the answer was made from.",
)
