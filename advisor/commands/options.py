"""Options that several commands share, in groups."""

from __future__ import annotations

import functools
from collections.abc import Callable
from importlib import import_module
from pathlib import Path
from typing import Any, TypeVar

import click

from advisor.commands.figures import FIGURE, KP
from geo.errors import near_matches

APP = "skiplobe"
"""Name of the program."""

F = TypeVar("F", bound=Callable[..., Any])


def option(
    usage: str, about: str, name: str | None = None, **kind: Any
) -> Callable[[F], F]:
    """
    Make an option from how it is typed and what it says.

    Parameters
    ----------
    usage : str
        Such as ``--band BAND``; without a value, such as ``--long-path``, it is a flag.
    about : str
        Its help.
    name : str, optional
        Of the parameter, if it is not that of the option.
    **kind
        Whatever else `click.option` takes.

    Returns
    -------
    decorate : callable
        Puts it on a command.
    """
    flag, _, metavar = usage.partition(" ")
    kind |= {"metavar": metavar} if metavar else {"is_flag": True}
    return click.option(*(each for each in (flag, name) if each), help=about, **kind)


class Choice(click.Choice[str]):
    """One of a few words; says which is near where one is mistyped."""

    def convert(self, value: Any, *where: Any) -> Any:
        """Read a word."""
        try:
            return super().convert(value, *where)
        except click.BadParameter as error:
            hint = near_matches(str(value), self.choices)
            said = error.message.rstrip(".")
            self.fail(f"{said} ({hint})" if hint else said, *where)


figure_option = functools.partial(option, type=FIGURE)
"""The same for one that takes a number in the unit that its name ends in."""


class _FileName(click.Path):
    """The name of a file; an empty one would be that of the directory."""

    def convert(self, value: Any, *where: Any) -> Any:
        if not str(value):
            self.fail("it names no file", *where)
        return super().convert(value, *where)


file_option = functools.partial(option, type=_FileName(path_type=Path, dir_okay=False))
"""The same for one that names a file."""


class PictureName(_FileName):
    """The name of a picture to be drawn."""


picture_option = functools.partial(
    option, type=PictureName(path_type=Path, dir_okay=False)
)
"""The same for a picture, which is checked before anything is worked out."""


_KNOWN = {
    "band": ("advisor.station.bands", "BAND_NAMES"),
    "emission": ("advisor.station.emissions", "EMISSION_NAMES"),
    "ground": ("advisor.antenna.ground", "ground_names"),
    "noise": ("advisor.propagation.noise", "environments"),
    "shape": ("advisor.antenna.shapes.registry", "SHAPES"),
}
"""Which module holds the names of what; read only when TAB is hit."""


def names_of(kind: str) -> Callable[..., list[str]]:
    """
    Complete a value by the names there are.

    Parameters
    ----------
    kind : str
        Of what, a key of `_KNOWN`.

    Returns
    -------
    complete : callable
        As `click` asks for it. A blank becomes a hyphen, which is read alike; in a
        band it goes.
    """

    def complete(_: click.Context, __: click.Parameter, begun: str) -> list[str]:
        module, name = _KNOWN[kind]
        held = getattr(import_module(module), name)
        blank = "" if kind == "band" else "-"
        names = held() if callable(held) else held
        names = [one.replace(" ", blank) for one in names]
        return [one for one in names if one.casefold().startswith(begun.casefold())]

    return complete


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


place_options = add_options(
    [
        option("--from PLACE", "Grid locator or LAT,LON.", "place"),
        file_option("--station FILE", "Station file, for its place.", "station_file"),
    ]
)
"""For what is asked of a place alone."""

_WHO: list[Callable[[Any], Any]] = [
    file_option(
        "--station FILE",
        "Station file (TOML); see 'skiplobe station starter'.",
        "station_file",
    ),
    option("--from PLACE", "Grid locator or LAT,LON in degrees.", "place"),
    figure_option("--power-w W", "Transmitter power."),
    option(
        "--emission NAME",
        "SSB, CW, FT8 and others, by name; 'tonight' and 'activation' take several.",
        "emissions",
        multiple=True,
        shell_complete=names_of("emission"),
    ),
    option(
        "--noise WHERE",
        "Noise here: city, residential, rural, quiet rural.",
        shell_complete=names_of("noise"),
    ),
    figure_option("--noise-trim-db DB", "Added to the man-made noise here."),
    option(
        "--ground KIND",
        "Ground under the wire, by name.",
        shell_complete=names_of("ground"),
    ),
    figure_option(
        "--horizon-deg DEG", "Elevation of your horizon; flatter rays weaken."
    ),
    option("--far-kind KIND", "Station at the far end: modest, usual, big."),
    option(
        "--far-antenna KIND",
        "Its antenna: dipole, isotropic, vertical, modest, usual, big.",
    ),
    option(
        "--far-set-up NAME", "Its antenna: this set-up of the station.", "far_setup"
    ),
    option(
        "--at-least-one-of N",
        "Any one of so many such stations there will do.",
        type=int,
    ),
    option(
        "--far-noise WHERE",
        "Noise at the far end.",
        shell_complete=names_of("noise"),
    ),
    figure_option("--far-power-w W", "Power of the far end."),
    option("--iaru-region 1|2|3", "Radio region, if not local.", type=int),
]

_WIRE: list[Callable[[Any], Any]] = [
    option(
        "--set-up NAME",
        "Only this set-up of the station; may be repeated.",
        "setup_names",
        multiple=True,
    ),
    option(
        "--shape SHAPE",
        "One wire by option, instead of the file's.",
        shell_complete=names_of("shape"),
    ),
    figure_option("--length-m M", "Its whole length, metres."),
    figure_option("--height-m M", "How high its top hangs above ground, metres."),
    option(
        "--dim KEY=VALUE",
        "Any other key of a set-up, as in a station file; may be repeated.",
        "dims",
        multiple=True,
    ),
    option(
        "--bearing-deg DEG|any",
        "Way the wire runs from true north; 'any' looks for the best.",
    ),
]

no_cache_option = option("--no-cache", "Neither read nor leave wires and rays on disk.")

station_options = add_options([*_WHO, *_WIRE, no_cache_option])

operator_options = add_options([*_WHO, no_cache_option])
"""Those of the station without its wires."""

zone_option = option("--local ZONE", "Local time of an IANA zone too.", "zone")

time_options = add_options(
    [
        option(
            "--date WHEN",
            "First hour: 2026-12-05T18:00Z, saturday, 18:00 ...; default now.",
            "start",
        ),
        option(
            "--hours INTEGER",
            "How many hours, 1 to 72.",
            type=int,
            default=24,
            show_default=True,
        ),
        zone_option,
    ]
)


def hour_option(what: str) -> Callable[[F], F]:
    """
    Make the option of a single hour.

    Parameters
    ----------
    what : str
        What it is the hour of.

    Returns
    -------
    decorate : callable
        Puts it on a command.
    """
    about = f"{what}: 2026-12-05T18:00Z; default now."
    return click.option("--at", "--date", "start", metavar="WHEN", help=about)


sky_options = add_options(
    [
        figure_option(
            "--r12 FLOAT",
            "12-month smoothed sunspot number, old scale, instead of the table.",
        ),
        figure_option("--flux SFU", "10.7 cm solar flux instead of it."),
        option(
            "--fof2-now MHZ[@PLACE[@WHEN]]",
            "foF2 as sounded here or at PLACE, now or WHEN; repeatable.",
            "soundings",
            multiple=True,
        ),
        file_option(
            "--ionosonde FILE",
            "Readings of an ionosonde, as you downloaded them; repeatable.",
            "ionosonde_files",
            multiple=True,
        ),
        option(
            "--kp 0-9",
            "Kp index of the past day and a half: what a storm does to foF2.",
            type=KP,
        ),
        option(
            "--flare CLASS", "What if a flare of this class (M5, X1) were at its peak."
        ),
        figure_option(
            "--proton-flux PFU",
            "What if so many protons above 10 MeV, per cm2 s sr, reached us.",
        ),
        click.option(
            "--fetch",
            is_flag=True,
            # Typed each time or not at all.
            allow_from_autoenv=False,
            help="Ask a public service for today's sky: flux, Kp and more.",
        ),
    ]
)

heard_options = add_options(
    [
        click.option(
            "--heard",
            "heard",
            multiple=True,
            metavar="'BAND TARGET [DB] [WHEN]'",
            help="Heard today: '15m KE', '20m AR +5dB 18:30Z'; repeatable.",
        ),
        click.option(
            "--silent",
            "silent",
            multiple=True,
            metavar="'BAND TARGET [WHEN]'",
            help="Listened for today in vain: '10m JA'; repeatable.",
        ),
    ]
)

weights_option = click.option(
    "--weights",
    type=Choice(["usual", "area", "operators"]),
    default="usual",
    show_default=True,
    help="What points weigh: land, or where operators are; usual: regions by land, "
    "wide countries by their large cities.",
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
    return option(
        "--to TARGET",
        f"Region, country, locator, LAT,LON or a ring; {takes}",
        "targets",
        multiple=True,
    )


bands_option = option(
    "--band BAND",
    "Only this band; repeatable.",
    "bands",
    multiple=True,
    shell_complete=names_of("band"),
)

long_path_option = option("--long-path", "Only the long way round.")

question_options = add_options(
    [
        targets_option(),
        weights_option,
        station_options,
        bands_option,
        time_options,
        sky_options,
        heard_options,
        long_path_option,
    ]
)
"""All of a question; a command with other words of its own picks from the above."""

brief_option = option(
    "--brief", "Text without reasons and keys, its cautions in one sentence."
)

more_option = option(
    "--more", "Text with every table, all reasons, keys and the cautions in full."
)

provenance_option = option(
    "--provenance", "Tell too what the answer was made from.", "with_provenance"
)
