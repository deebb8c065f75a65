"""
An answer as pandas frames for notebooks: what the commands tell, nothing else.

`ask` works a question out once; the frames are read from what it gives back. Columns
are named as in ``--json`` and ``--csv``, with units at their ends; hours are an index
in UTC. Frames of the sky and of wires, which need no question, are in
`advisor.notebook.physics`.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from advisor.answers.ask import answer
from advisor.answers.pictures.scene import narrowed
from advisor.engine.engine import wire_gains
from advisor.engine.question import Question
from advisor.engine.targets import target_slices
from advisor.notebook.coerce import utc_time
from advisor.notebook.framing import (
    Directory,
    by_hour,
    directory,
    flat_frame,
    frame_of,
    place_of,
)
from advisor.station.bands import band_by_name
from advisor.station.checks import shown
from geo.errors import InputError
from geo.fields import as_mapping
from geo.places import resolve_target

if TYPE_CHECKING:
    import pandas as pd

    from advisor.answers.advice import Answer
    from advisor.answers.aim import Aim
    from advisor.answers.compare import Comparison


def ask(question: Question, *, cache_dir: Directory = None) -> Advice:
    """
    Work out which band, bearing, hour and set-up, and how sure that is.

    Parameters
    ----------
    question : Question
        From `advisor.make_question`.
    cache_dir : str or pathlib.Path, optional
        Where solved wires and rays are kept between runs. Without one they are kept as
        long as the program runs.

    Returns
    -------
    advice : Advice
        The answer; every frame is read from it.

    Raises
    ------
    InputError
        If it is no question, or a wire cannot be hung.

    Examples
    --------
    >>> from advisor import example_station, make_question
    >>> question = make_question(
    ...     example_station(), "KE", "2026-12-05T18:00Z", 1, bands="20 m", r12=58
    ... )
    >>> ask(question)
    Advice(KF07jo to Kenya (ISO KE), 1 h from 2026-12-05T18Z: linked dipole, 20 m)
    """
    if not isinstance(question, Question):
        raise InputError(
            f"{shown(question)} is no question: make one with make_question"
        )
    kept = directory(cache_dir)
    return Advice(answer(question, kept), kept)


class Advice:
    """
    The answer to a question, read as frames.

    Made by `advisor.ask`. Two are equal if they are the same object. Wires and sky are
    worked out when it is made; what a frame needs besides is worked out once.

    Attributes
    ----------
    record : advisor.answers.advice.Answer
        The answer as arrays, with both halves of the link it was worked out from.

    Examples
    --------
    >>> from advisor import ask, example_station, make_question
    >>> question = make_question(
    ...     example_station(), "KE", "2026-12-05T18:00Z", 1, bands="20 m", r12=58
    ... )
    >>> advice = ask(question)
    >>> advice.setups()["wire_deg"].to_dict()
    {'linked dipole': 120.0, '20 m vertical': 30.0}
    >>> frame = advice.chances()
    >>> frame[["setup", "band", "mode"]].iloc[0].to_list()
    ['linked dipole', '20 m', '2F2']
    """

    def __init__(self, record: Answer, cache_dir: Path | None = None) -> None:
        self.record = record
        self._cache_dir = cache_dir

    def __repr__(self) -> str:
        question, best = self.record.question, self.record.setups[0]
        bands = [
            question.bands[b].name for b in np.unique(self.record.best_band) if b >= 0
        ]
        targets = ", ".join(each.name for each in self.record.targets)
        return (
            f"Advice({question.place.label} to {targets}, {question.times.size} h from "
            f"{question.times[0].astype('datetime64[h]')}Z: {best.name}, "
            f"{', '.join(bands) or 'all closed'})"
        )

    @property
    def question(self) -> Question:
        """What was asked."""
        return self.record.question

    def bands(
        self, *, target: str | None = None, setup: str | None = None
    ) -> pd.DataFrame:
        """
        Chance of a contact by hour and band: the table of ``skiplobe tonight``.

        Parameters
        ----------
        target : str, optional
            Which of several targets, by the name it has in the answer or as it was
            asked for; the first if left out.
        setup : str, optional
            Which set-up; the best of each hour and band if left out.

        Returns
        -------
        frame : pandas.DataFrame
            Index ``utc``, one column a band, chances 0 to 1; NaN on a band no set-up
            is cut for. ``attrs`` holds ``target`` and ``setup``.

        Raises
        ------
        InputError
            If the target or the set-up is not of the question.
        """
        k, s = self._target(target), self._setup(setup)
        told = self.record.best if setup is None else self.record.setups[s]
        names = [band.name for band in self.question.bands]
        chance = np.where(told.works, told.chance[k], np.nan)
        rows = [
            {"utc": f"{time}Z", **dict(zip(names, each, strict=True))}
            for time, each in zip(self.question.times, chance, strict=True)
        ]
        frame = by_hour(rows)
        frame.attrs |= {
            "target": self.record.targets[k].name,
            "setup": setup and self.record.setups[s].name,
        }
        return frame

    def chances(self) -> pd.DataFrame:
        """
        Everything about every chance: the rows of ``skiplobe tonight --json``.

        Returns
        -------
        frame : pandas.DataFrame
            Index ``utc``, one row a set-up, target, hour and band: chance and its
            range, margin, take-off angles, gain, mode, limit.
        """
        from advisor.answers.rows.tonight import advice_rows

        return by_hour(advice_rows(self.record))

    def setups(self) -> pd.DataFrame:
        """
        Set-ups ranked, one row each: ``ranking`` of ``skiplobe compare --json``.

        Returns
        -------
        frame : pandas.DataFrame
            Index ``setup``, best first: mean chance of the best band with its range,
            bearing, mean dB over the yardsticks. ``attrs["varied"]`` says what the
            ranges are over.
        """
        from advisor.answers.rows.compare import compare_details

        found = compare_details(self._comparison)
        frame = flat_frame(found.ranking).set_index("setup")
        frame.attrs["varied"] = found.varied
        return frame

    def yardsticks(self) -> pd.DataFrame:
        """
        Set-ups against two yardsticks: the rows of ``skiplobe compare --json``.

        Returns
        -------
        frame : pandas.DataFrame
            As `chances`, with the rank and with dB over the reference vertical and
            dipole at the angles that matter.
        """
        from advisor.answers.rows.compare import compare_rows

        return by_hour(compare_rows(self._comparison))

    def bearings(self) -> pd.DataFrame:
        """
        Best bearing of every wire: ``bearing`` of ``skiplobe aim --json``.

        Returns
        -------
        frame : pandas.DataFrame
            Index ``setup``, best first: best bearing and the range about it that costs
            under 1 dB, the chance with its range, the chance as it hangs, the magnetic
            declination. NaN where turning changes nothing. ``attrs["varied"]`` says
            what the ranges are over.
        """
        from advisor.answers.rows.aim import aim_details

        found = aim_details(self._aim)
        told = found.bearing.items()
        frame = flat_frame([{"setup": name, **as_mapping(each)} for name, each in told])
        frame.attrs["varied"] = found.varied
        return frame.set_index("setup")

    def turns(self) -> pd.DataFrame:
        """
        Every bearing of every wire: the rows of ``skiplobe aim --json``.

        Returns
        -------
        frame : pandas.DataFrame
            One row a set-up, bearing and target: mean chance of the best band, level
            against the best bearing, where the lobes then point.
        """
        from advisor.answers.rows.aim import aim_rows

        return frame_of(aim_rows(self._aim))

    def reach(self, towards: str | None = None) -> pd.DataFrame:
        """
        Where the power of each wire comes down: the rows of ``skiplobe reach --json``.

        Parameters
        ----------
        towards : str, optional
            Target to look towards alone, by its name; all round if left out.

        Returns
        -------
        frame : pandas.DataFrame
            Index ``utc``, one row a set-up, hour and band: shares of the radiated power
            within 800 km, up to 2500 km and beyond, and what is lost; the verdict.

        Raises
        ------
        InputError
            If the target is not of the question.
        """
        from advisor.answers.far_places.reach import reach
        from advisor.answers.rows.reach import reach_rows

        question = narrowed(self.question, self._target(towards))
        found = reach(question, towards=towards is not None, cache_dir=self._cache_dir)
        return by_hour(reach_rows(found))

    def path(self, target: str | None = None) -> pd.DataFrame:
        """
        MUF, FOT, LUF and the sun over a path: what ``skiplobe sky --to`` adds.

        Parameters
        ----------
        target : str, optional
            Which of several targets; the first if left out. One of several points is
            shown by its point of median distance.

        Returns
        -------
        frame : pandas.DataFrame
            Index ``utc``; NaN where there is no such frequency. ``attrs`` holds target,
            distance, bearing and the circuit that the LUF is for.

        Raises
        ------
        InputError
            If the target is not of the question.
        """
        from advisor.answers.skies.path_sky import sky_path

        question = narrowed(self.question, self._target(target))
        found = sky_path(question)
        frame = by_hour(
            [
                {"utc": f"{time}Z", **as_mapping(row)}
                for time, row in zip(question.times, found.rows, strict=True)
            ]
        )
        facts = as_mapping(found.facts)
        for name in ("target", "distance_km", "bearing_deg", "circuit", "sun"):
            frame.attrs[name] = facts[name]
        return frame

    def modes(
        self, *, target: str | None = None, setup: str | None = None
    ) -> pd.DataFrame:
        """
        Hop modes of a path by hour and band: ``modes`` of ``skiplobe why --json``.

        Parameters
        ----------
        target : str, optional
            Which of several targets; the first if left out. One of several points is
            shown by its point of median distance.
        setup : str, optional
            Which set-up; the best if left out.

        Returns
        -------
        frame : pandas.DataFrame
            Index ``utc``, one row an hour, band the set-up is cut for, and mode the
            geometry allows: angles, greatest height, MUF, share of days, margin,
            share of the signal.

        Raises
        ------
        InputError
            If the target or the set-up is not of the question.
        """
        from advisor.answers.why import mode_facts
        from advisor.engine.targets import median_point

        question, link = self.question, self.record.halves.link
        k, told = self._target(target), self.record.setups[self._setup(setup)]
        here, there = question.place, question.targets[k]
        point = target_slices(question)[k].start + median_point(
            there, here.lat_deg, here.lon_deg
        )
        patterns = self.record.halves.patterns[told.name]
        gains = wire_gains(question, link, patterns, told.bearing.wire_deg or 0.0)
        rows = [
            {"utc": f"{time}Z", "band": band.name, "setup": told.name, **vars(mode)}
            for t, time in enumerate(question.times)
            for b, band in enumerate(question.bands)
            if told.works[b]
            for _, mode in mode_facts(link, gains, point, t, b)
        ]
        return by_hour(rows)

    def why(
        self,
        band: str,
        utc: Any,
        *,
        target: str | None = None,
        setup: str | None = None,
    ) -> pd.DataFrame:
        """
        Every number on the way to one chance: the rows of ``skiplobe why --json``.

        Parameters
        ----------
        band : str
            The band.
        utc : object
            The hour, as `advisor.make_question` takes it.
        target : str, optional
            Which of several targets; the first if left out.
        setup : str, optional
            Which set-up; the best at that hour on that band if left out.

        Returns
        -------
        frame : pandas.DataFrame
            ``section``, ``item`` with its unit, ``value``, ``source``. Wires hang on
            the bearings of this answer.

        Raises
        ------
        InputError
            If band, hour, target or set-up is not of the question, or no set-up is cut
            for the band.
        """
        from advisor.answers.rows.why import why_rows
        from advisor.answers.why import explain_chance

        question = self.question
        b = place_of(
            band_by_name(band, question.station.iaru_region).name,
            [each.name for each in question.bands],
            "band",
        )
        cell = narrowed(question, self._target(target), self._hour(utc), b)
        # Turned as this answer turned them: the figure explained is the one given.
        turned = {each.name: each.bearing.wire_deg for each in self.record.setups}
        hung = tuple(
            replace(each, bearing_deg=turned[each.name])
            for each in question.station.setups
        )
        cell = replace(cell, station=replace(question.station, setups=hung))
        names = () if setup is None else (self.record.setups[self._setup(setup)].name,)
        return frame_of(why_rows(explain_chance(cell, names, self._cache_dir)))

    @cached_property
    def _aim(self) -> Aim:
        """Every wire turned."""
        from advisor.answers.aim import aim

        return aim(self.record, self._cache_dir)

    @cached_property
    def _comparison(self) -> Comparison:
        """Every wire beside the others."""
        from advisor.answers.compare import compare

        return compare(self.record, self._cache_dir)

    def _target(self, name: str | None) -> int:
        """Find a target by name or as it may be asked for; the first if none is."""
        names = [each.name for each in self.record.targets]
        if name is not None and name not in names:
            with suppress(InputError):
                meant = resolve_target(name, self.question.place).name
                name = meant if meant in names else name
        return 0 if name is None else place_of(name, names, "target")

    def _setup(self, name: str | None) -> int:
        """Find a set-up by name; the best if none is named."""
        names = [each.name for each in self.record.setups]
        return 0 if name is None else place_of(name, names, "set-up")

    def _hour(self, moment: Any) -> int:
        """Find the hour that a moment lies in."""
        hours = [str(each) for each in self.question.times.astype("datetime64[h]")]
        wanted = str(utc_time(moment, "utc").astype("datetime64[h]"))
        return place_of(f"{wanted}Z", [f"{each}Z" for each in hours], "hour")
