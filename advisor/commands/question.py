"""What the options of a question ask, for every command that answers one."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import click

from advisor.commands.common import (
    cache_dir,
    conditions_for,
    start_time,
    station_for,
    warn_of_others_sent,
)
from advisor.commands.provenance import provenance_of
from advisor.commands.todays_sky import check_fetch, todays_solar, with_today
from geo.errors import InputError

if TYPE_CHECKING:
    from advisor.engine.question import Question
    from advisor.station.setup import SetUp
    from advisor.station.station import Station

STARTER_PLACE = "JJ00aa"
"""Where the station file to start from lies, until it is filled in."""


@dataclass(frozen=True)
class Query:
    """
    What was asked on the command line.

    Attributes
    ----------
    question : Question
        Ready for the engine.
    station : Station
        Who asks.
    filed : Station
        The same with the wires of its file and of the options.
    origins : mapping of str to str
        Where each value of that came from.
    is_demo : bool
        Whether it is the demonstration.
    zone : str or None
        Time zone that local times are wanted in.
    options : mapping
        Options of the command.
    """

    question: Question
    station: Station
    filed: Station
    origins: Mapping[str, str]
    is_demo: bool
    zone: str | None
    options: Mapping[str, Any]

    def note(self, lacks: str = "no station, no place and no target given") -> str:
        """
        Say when the answer is that of the demonstration.

        Parameters
        ----------
        lacks : str, optional
            What was not given, so that it is.

        Returns
        -------
        note : str
            For `advisor.commands.emit.Report`; empty if it is not.
        """
        return demo_line(self.station, lacks) if self.is_demo else ""

    def provenance(self) -> dict[str, Any]:
        """
        Tell what the answer is made from.

        Returns
        -------
        provenance : dict
            See `advisor.commands.provenance.provenance_of`.
        """
        return provenance_of(self.filed, self.origins, self.question)


def demo_line(station: Station, lacks: str) -> str:
    """
    Say that an answer is the demonstration.

    Parameters
    ----------
    station : Station
        That of the demonstration.
    lacks : str
        What was not given, so that it is.

    Returns
    -------
    text : str
        One sentence.
    """
    from advisor.show.text.layout import paragraph

    return paragraph(
        f"Demonstration ({lacks}): an invented operator on "
        f"{station.name.removeprefix('demo: ')}."
    )


def query_for(
    options: Mapping[str, Any],
    *,
    around: str | None = None,
    one_for: str | None = None,
    wires: Callable[[Station], tuple[SetUp, ...]] | None = None,
    several_sent: bool = False,
) -> Query:
    """
    Put the question together that the options ask.

    Parameters
    ----------
    options : mapping
        Values of `question_options` or of some of them, and ``zone`` if the command
        has it.
    around : str, optional
        Target if none is named, instead of those of the station file.
    one_for : str, optional
        What takes one target only, as an error calls it.
    wires : callable, optional
        From the station as it stands to the set-ups that are asked about.
    several_sent : bool, optional
        As in `advisor.commands.common.station_for`.

    Returns
    -------
    query : Query
        Question, station and how to show times.

    Raises
    ------
    InputError
        If there is no target, or anything asked for is not possible.
    """
    named = options["targets"]
    station, origins, is_demo = station_for(
        options, has_targets=bool(named), several_sent=several_sent
    )
    if station.place == STARTER_PLACE and origins["place"] != "option":
        raise InputError(
            f"{origins['place']}, place: '{STARTER_PLACE}' is the starter's, in the "
            "sea: put in where you are"
        )
    wanted = named or ((around,) if around else station.to)
    if not wanted:
        raise InputError("no target: name one with --to, or 'to = [...]' in the file")
    if one_for and len(wanted) > 1:
        raise InputError(
            f"{len(wanted)} targets ({', '.join(wanted)}): {one_for} takes one, "
            "name it with --to"
        )
    filed = station
    if wires is not None:
        station = replace(station, setups=wires(station))
    from advisor.answers.ask import question_for, sent_as
    from advisor.station.bands import band_by_name
    from advisor.station.station import time_zone

    zone = options.get("zone")
    zone = time_zone(zone) if zone else station.time_zone
    station = replace(station, time_zone=zone)

    # 'why' calls it --at.
    params = click.get_current_context().command.params
    named = next((each.opts[0] for each in params if each.name == "start"), "--date")
    first = start_time(options["start"], named, zone)
    check_fetch(options, first)
    region = station.iaru_region

    def put_together(options: Mapping[str, Any]) -> Question:
        return question_for(
            station,
            wanted,
            first,
            options["hours"],
            band_names=[band_by_name(name, region).name for name in options["bands"]],
            r12=options["r12"],
            flux=options["flux"],
            long_path=options.get("long_path", False),
            conditions=conditions_for(options, first, zone, station.place),
            weights=options.get("weights", "usual"),
        )

    question = put_together(options)
    if station.also_sent and not several_sent:
        warn_of_others_sent(station, "this is")
        question = sent_as(question, station.emission)
    # Nothing is fetched for a question that cannot be put.
    options, today = with_today(options, first, station.place)
    if today:
        question = replace(put_together(options), bands=question.bands)
        solar = todays_solar(question.solar, question.times, today)
        question = replace(question, solar=solar)
    if options.get("heard") or options.get("silent"):
        from advisor.commands.heard import receptions, warn_of_faded
        from advisor.engine.hearing import after_hearing

        told = receptions(options, question)
        warn_of_faded(told, question)
        question = after_hearing(question, told, cache_dir(options))
    return Query(question, station, filed, origins, is_demo, zone, options)
