"""
What the live page asks: values of a station and a question in, pictures' data out.

Everything that comes in is checked as a station file is. The sky is worked out anew
only if something other than the wire has changed.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from advisor.answers.advice import Answer, Halves, advise_setup
from advisor.answers.bearings import Bearing
from advisor.answers.pictures.compass import compass
from advisor.answers.pictures.page import sheet_data
from advisor.answers.pictures.ribbon import ribbon
from advisor.answers.pictures.scene import Scene, narrowed
from advisor.answers.pictures.world import FINE, turned_chances, world_links
from advisor.answers.pictures.world_turned import WorldTurned, turn_of, turns_of
from advisor.answers.shut import check_is_cut
from advisor.answers.words import headline
from advisor.antenna.shapes.registry import SHAPES
from advisor.engine.engine import link_for
from advisor.engine.link import Link
from advisor.engine.question import Question
from advisor.engine.targets import TargetAdvice, describe_targets
from advisor.engine.wires import far_end_patterns, hung_wire, patterns_of
from advisor.live.form import sketch_of, wire_form
from advisor.show.page.live import ribbon_html
from advisor.show.page.script_data import live_mapping, places_mapping, world_mapping
from advisor.station.bands import BAND_NAMES
from advisor.station.file import resolve_station
from advisor.station.setup import SetUp, lowest_mhz
from advisor.station.station import Station
from advisor.station.written import station_values
from geo.errors import InputError

ASKED = frozenset(
    [
        "place",
        "power_w",
        "emission",
        "noise",
        "noise_trim_db",
        "ground",
        "horizon_deg",
        "horizon",
        "far_end",
    ]
)
"""Keys of the station that the page may change besides the wire."""

MOST_TARGETS = 5
"""Targets of one page: more would not fit beside one another."""

_DATE = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d")


_Part = tuple[Question, Link]
_Parts = list[_Part]


class Overtaken(Exception):
    """Something else has been asked, and this is no longer wanted."""


@dataclass(frozen=True)
class Asked:
    """
    What the page asks, checked.

    Attributes
    ----------
    station : Station
        With all its wires.
    wire : int
        Which of them is looked at.
    question : Question
        About that wire alone.
    sky : tuple of object
        All of it that the sky's half depends on.
    """

    station: Station
    wire: int
    question: Question
    sky: tuple[object, ...]


class Workbench:
    """
    Answers what the page asks, one question after the other.

    Parameters
    ----------
    station : Station
        With all its wires, as it was at the start.
    question : Question
        What is asked at the start.
    ask : callable
        Puts a question together from a station, targets as typed and the first hour.
    targets : sequence of str
        Targets at the start, as typed.
    zone : str or None
        IANA zone whose local time stands beside UTC.
    cache_dir : pathlib.Path or None
        Where solved wires and rays are kept.
    bands : sequence of str
        Bands that a wire may be used on.
    """

    def __init__(
        self,
        station: Station,
        question: Question,
        ask: Callable[[Station, Sequence[str], np.datetime64], Question],
        targets: Sequence[str],
        zone: str | None = None,
        cache_dir: Path | None = None,
        bands: Sequence[str] = BAND_NAMES,
    ) -> None:
        self.station = station
        self.bands = tuple(bands)
        self._values = station_values(station)
        self._ask, self.zone, self.cache_dir = ask, zone, cache_dir
        self._targets = tuple(targets)
        self._start = question.times[0]
        self.is_overtaken: Callable[[], bool] = lambda: False
        self._world: tuple[object, _Parts, Iterator[_Part]] | None = None
        self._known: tuple[tuple[object, ...], Link, list[TargetAdvice]] | None = None

    def start(self) -> dict[str, Any]:
        """
        Say what the page sets its fields to.

        Returns
        -------
        start : dict
            Values as `asked` takes them.
        """
        names = [setup.name for setup in self.station.setups]
        emission = self.station.emission.name
        return {
            "station": {key: self._values.get(key) for key in sorted({*ASKED, "bands"})}
            | {"emission": emission},
            "setups": self._values["setups"],
            "names": names,
            "bands": list(self.bands),
            "to": list(self._targets),
            "date": str(self._start.astype("datetime64[m]")),
        }

    def asked(self, said: Mapping[str, Any]) -> Asked:
        """
        Check what the page sent.

        Parameters
        ----------
        said : mapping
            ``setups`` (all wires as in a station file), ``wire`` (which of them),
            ``station``, ``to`` and ``date``; each but ``wire`` may be left out.

        Returns
        -------
        asked : Asked
            The question.

        Raises
        ------
        InputError
            If anything is unknown, of another kind or not possible.
        """
        changes, wire, to = (
            said.get("station", {}),
            said.get("wire", 0),
            said.get("to", list(self._targets)),
        )
        date = said.get("date", str(self._start.astype("datetime64[m]")))
        if not isinstance(changes, Mapping) or not changes.keys() <= ASKED:
            raise InputError("only what the page shows can be changed")
        if not isinstance(to, list) or not all(isinstance(each, str) for each in to):
            raise InputError("targets are a list of texts")
        if not 1 <= len(to) <= MOST_TARGETS:
            raise InputError(f"name one to {MOST_TARGETS} targets")
        if not isinstance(date, str) or not _DATE.fullmatch(date):
            raise InputError("give the first hour as 2026-12-05T18:00")
        changes = dict(changes)
        if changes.get("emission") == self.station.emission.name:
            # An emission of one's own has no name to be found by.
            del changes["emission"]
        values = self._values | changes
        if values["place"] != self._values["place"]:
            values.pop("name", None)
            if self.station.hills is not None and "horizon" not in changes:
                values.pop("horizon", None)
            del values["iaru_region"]
        if not values.get("horizon"):
            values.pop("horizon", None)
        self._forget(values)
        values["setups"] = said.get("setups", values["setups"])
        station, _ = resolve_station(None, values)
        # A band that a wire is given here is one that may be used.
        used = {name for setup in station.setups for name in setup.bands}
        station = replace(
            station,
            bands=tuple(b for b in BAND_NAMES if b in {*station.bands, *used}),
        )
        if values["place"] == self._values["place"]:
            mine = self.station
            station = replace(
                station, hills=mine.hills, terrain=mine.terrain, slopes=mine.slopes
            )
        if isinstance(wire, bool) or not isinstance(wire, int):
            raise InputError("the wire is a number")
        if not 0 <= wire < len(station.setups):
            raise InputError("there is no such wire")
        try:
            first = np.datetime64(date, "s")
        except ValueError:
            raise InputError(f"'{date}' is no day of the calendar") from None
        one = replace(station, setups=(station.setups[wire],))
        question = self._ask(one, to, first)
        sky = (
            repr({k: v for k, v in values.items() if k != "setups"}),
            repr(station.far_end.wire),
            tuple(to),
            date,
            tuple(band.name for band in question.bands),
        )
        return Asked(station, wire, question, sky)

    def _forget(self, values: dict[str, Any]) -> None:
        """Take out what a log taught of something that is another now."""
        learned = dict(values.pop("learned", {}))
        for key, of in (
            ("noise_db", ("place", "noise", "noise_trim_db")),
            ("far_end_db", ("far_end",)),
        ):
            if any(values.get(each) != self._values.get(each) for each in of):
                learned.pop(key, None)
        if learned.keys() - {"source"}:
            values["learned"] = learned

    def sky(self, asked: Asked) -> tuple[Link, list[TargetAdvice]]:
        """
        Work out the sky's half, unless it is that of the last question.

        Parameters
        ----------
        asked : Asked
            The question.

        Returns
        -------
        link : Link
            The sky.
        targets : list of TargetAdvice
            What it offers to each target.
        """
        if self._known is None or self._known[0] != asked.sky:
            question = asked.question
            far = self._far(question)
            link = link_for(question, question.solar.r12, far, cache_dir=self.cache_dir)
            self._known = asked.sky, link, list(describe_targets(question, link))
        return self._known[1:]

    def world(self, said: Mapping[str, Any]) -> dict[str, Any]:
        """
        Work out the map at one hour on one band, for every bearing of the wire.

        Parameters
        ----------
        said : mapping
            As `asked` takes it, and ``hour`` and ``band``, places among those asked.

        Returns
        -------
        world : dict
            See `advisor.show.page.script_data.world_mapping`.

        Raises
        ------
        InputError
            As `asked` does, or if there is no such hour, or no wire for the band.
        Overtaken
            If something else is waiting; ``is_overtaken`` tells.
        """
        asked = self.asked(said)
        question = asked.question
        hour = _place(said.get("hour"), question.times.size)
        band = _place(said.get("band"), len(question.bands))
        one = narrowed(question, 0, hour, band)
        name = one.bands[0].name
        patterns = patterns_of(one.station.setups[0], one)
        if name not in patterns:
            raise InputError(f"the wire is not cut for {name}")
        key = (asked.sky, hour, name)
        if self._world is None or self._world[0] != key:
            links = world_links(one, self._far(one)[name], self.cache_dir)
            self._world = key, [], links
        _, known, links = self._world
        # What was left off is gone on with if it is asked for again.
        for part in links:
            known.append(part)
            if self.is_overtaken():
                raise Overtaken
        only = {name: patterns[name]}
        has_bearing = SHAPES[one.station.setups[0].shape].has_bearing
        turns = turns_of(only, 0.0 if has_bearing else None)
        chance = np.concatenate(
            [turned_chances(*part, patterns[name], turns) for part in known], axis=1
        )
        shape = (1, turns.size, FINE.ring_km.size, FINE.azimuth_deg.size)
        turned = WorldTurned(
            (hour,), (band,), FINE, turn_of(only), turns, chance.reshape(shape)
        )
        return world_mapping(turned)

    def _far(self, question: Question) -> Mapping[str, Any]:
        """Patterns of the far end."""
        return far_end_patterns(
            question.station.far_end, question.bands, self.cache_dir
        )

    def answer(self, said: Mapping[str, Any]) -> dict[str, Any]:
        """
        Answer what the page asks.

        Parameters
        ----------
        said : mapping
            As `asked` takes it, and ``coarse``: whether the first picture is wanted,
            for the bearing set alone, rather than the whole.

        Returns
        -------
        answer : dict
            Texts, lists and finite numbers: the ribbon as HTML, what the page turns
            and slides, the sketch and the fields of the wire.

        Raises
        ------
        InputError
            As `asked` does.
        """
        asked, coarse = self.asked(said), said.get("coarse") is True
        question = asked.question
        setup = question.station.setups[0]
        link, targets = self.sky(asked)
        # Wires that are tried by the dozen are not kept on disk.
        patterns = patterns_of(setup, question)
        hangs = None
        if coarse and setup.bearing_deg is not None:
            at = setup.bearing_deg
            hangs = Bearing(at, False, at, None, None, 0.0)
        one = advise_setup(
            question, link, (), setup, patterns, hangs, with_limits=not coarse
        )
        advice = Answer(
            question,
            tuple(targets),
            (one,),
            Halves(link, (), {setup.name: patterns}, self._far(question)),
        )
        check_is_cut(advice)
        scene = Scene(advice, self.cache_dir)
        turn = live_mapping(
            advice,
            sheet_data(scene, is_turned=not coarse or hangs is None),
            compass(scene),
            self.zone,
        )
        return {
            "coarse": coarse,
            "title": f"From {question.here}",
            "words": []
            if coarse
            else [
                f"To {seen.name}: {headline(advice, k)}"
                for k, seen in enumerate(targets)
            ]
            + [each.words for each in question.left_out],
            "ribbon": ribbon_html(ribbon(advice)),
            "turn": turn,
            "form": wire_form(setup),
            "sketch": _sketch(setup, question),
            **places_mapping(question),
        }


def _place(said: object, count: int) -> int:
    """Check a place on an axis."""
    if type(said) is not int or not 0 <= said < count:
        raise InputError("there is no such hour or band")
    return said


def _sketch(setup: SetUp, question: Question) -> dict[str, Any]:
    """Draw the wire as it hangs on its lowest band."""
    mhz = min(b.planning_mhz for b in question.bands if b.name in setup.bands)
    return sketch_of(hung_wire(setup, lowest_mhz(setup, mhz)))
