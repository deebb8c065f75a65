"""The question as it is put on the command line: its options, and what they ask."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar

import click

from advisor.commands.common import (
    checked_zone,
    conditions_for,
    start_time,
    station_for,
)
from advisor.commands.options import (
    conditions_options,
    solar_options,
    station_options,
    time_options,
    weights_option,
)
from geo.errors import InputError

if TYPE_CHECKING:
    from advisor.question import Question
    from advisor.station import Station

F = TypeVar("F", bound=Callable[..., Any])


@dataclass(frozen=True)
class Asked:
    """
    What was asked on the command line.

    Attributes
    ----------
    question : Question
        Ready for the engine.
    station : Station
        Who asks.
    is_demo : bool
        Whether it is the demonstration.
    zone : str or None
        Time zone that local times are wanted in.
    """

    question: Question
    station: Station
    is_demo: bool
    zone: str | None

    def introduced(self, text: str) -> str:
        """
        Put the line before an answer that says when it is the demonstration.

        Parameters
        ----------
        text : str
            The answer.

        Returns
        -------
        text : str
            The same, after that line.
        """
        if not self.is_demo:
            return text
        return (
            "Demonstration (no station, no place and no target given): an invented "
            f"operator on {self.station.name.removeprefix('demo: ')}.\n{text}"
        )


def question_options(command: F) -> F:
    """
    Put the options of a question on a command.

    Parameters
    ----------
    command : callable
        Takes them as keywords, best as ``**words`` for `asked`.

    Returns
    -------
    command : callable
        The same with options.
    """
    for option in reversed(
        (
            click.option(
                "--to",
                "targets",
                multiple=True,
                metavar="TARGET",
                help="Region, country, locator, LAT,LON or a ring; repeatable.",
            ),
            weights_option,
            station_options,
            click.option(
                "--band",
                "bands",
                multiple=True,
                metavar="BAND",
                help="Only this band; repeatable.",
            ),
            time_options,
            solar_options,
            conditions_options,
            click.option("--long-path", is_flag=True, help="Go the long way round."),
        )
    ):
        command = option(command)
    return command


def asked(words: Mapping[str, Any]) -> Asked:
    """
    Put the question together that the options ask.

    Parameters
    ----------
    words : mapping
        Values of `question_options`, and ``zone`` if the command has it.

    Returns
    -------
    asked : Asked
        Question, station and how to show times.

    Raises
    ------
    InputError
        If there is no target, or anything asked for is not possible.
    """
    station, _, is_demo = station_for(words, has_targets=bool(words["targets"]))
    wanted = words["targets"] or station.to
    if not wanted:
        raise InputError("no target: name one with --to, or 'to = [...]' in the file")
    zone = words.get("zone")
    zone = checked_zone(zone) if zone else station.time_zone
    from advisor.ask import question_for
    from advisor.bands import band_by_name

    first = start_time(words["start"])
    region = station.iaru_region
    question = question_for(
        station,
        wanted,
        first,
        words["hours"],
        band_names=[band_by_name(name, region).name for name in words["bands"]],
        r12=words["r12"],
        flux=words["flux"],
        long_path=words["long_path"],
        conditions=conditions_for(words, first),
        weights=words["weights"],
    )
    return Asked(question, station, is_demo, zone)
