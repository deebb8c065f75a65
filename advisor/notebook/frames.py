"""
Answers as pandas frames for notebooks: what the commands tell, nothing else.

Each function calls what a command calls and puts its rows into a frame. Columns are
named as in ``--json`` and ``--csv``, with units at their ends; hours are an index in
UTC. Frames of the sky are in `advisor.notebook.sky_frames`, of wires in
`advisor.notebook.wire_frames`. Import them from the package: ``from advisor import
chances, bearings``.

Every function that solves wires takes ``cache_dir``, a directory in which solved wires
are kept between runs. Without one they are kept as long as the program runs.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from advisor.answers.ask import answer
from advisor.engine.question import Question, SolarIndex
from advisor.notebook.framing import (
    Directory,
    by_hour,
    directory,
    flat_frame,
    frame_of,
    listed,
    place_of,
)
from geo.fields import as_mapping

if TYPE_CHECKING:
    import pandas as pd

    from advisor.answers.why_facts import Why


def band_hours(
    question: Question,
    *,
    target: str | None = None,
    setup: str | None = None,
    cache_dir: Directory = None,
) -> pd.DataFrame:
    """
    Chance of a contact by hour and band: the table of ``skiplobe tonight``.

    Parameters
    ----------
    question : Question
        From `advisor.make_question`.
    target : str, optional
        Which of several targets, by the name it has in the answer; the first if left
        out.
    setup : str, optional
        Which set-up; the best if left out.
    cache_dir : str or pathlib.Path, optional
        Where solved wires are kept between runs.

    Returns
    -------
    frame : pandas.DataFrame
        Index ``utc``, one column a band, chances 0 to 1; NaN on a band the set-up is
        not cut for. ``attrs`` holds ``target`` and ``setup``.

    Raises
    ------
    InputError
        If the target or the set-up is not of the question.

    Examples
    --------
    >>> from advisor import example_station, make_question
    >>> question = make_question(
    ...     example_station(), "KE", "2026-12-05T17:00Z", 2, bands="20 m", r12=58
    ... )
    >>> frame = band_hours(question, setup="20 m vertical")
    >>> frame.shape, frame.columns.to_list(), frame.attrs["target"]
    ((2, 1), ['20 m'], 'Kenya (ISO KE)')
    """
    advice = answer(question, directory(cache_dir))
    targets = [each.name for each in advice.targets]
    setups = [each.name for each in advice.setups]
    k = 0 if target is None else place_of(target, targets, "target")
    told = advice.setups[0 if setup is None else place_of(setup, setups, "set-up")]
    bands = [band.name for band in question.bands]
    rows = [
        {"utc": f"{time}Z", **dict(zip(bands, chance, strict=True))}
        for time, chance in zip(
            question.times, np.where(told.works, told.chance[k], np.nan), strict=True
        )
    ]
    frame = by_hour(rows)
    frame.attrs |= {"target": targets[k], "setup": told.name}
    return frame


def chances(question: Question, *, cache_dir: Directory = None) -> pd.DataFrame:
    """
    Everything about every chance: the rows of ``skiplobe tonight --json``.

    Parameters
    ----------
    question : Question
        From `advisor.make_question`.
    cache_dir : str or pathlib.Path, optional
        Where solved wires are kept between runs.

    Returns
    -------
    frame : pandas.DataFrame
        Index ``utc``, one row a set-up, target, hour and band: chance and its range,
        margin, take-off angles, gain, mode, limit.

    Examples
    --------
    >>> from advisor import example_station, make_question
    >>> question = make_question(
    ...     example_station(), "KE", "2026-12-05T18:00Z", 1, bands="20 m", r12=58
    ... )
    >>> frame = chances(question)
    >>> frame[["setup", "band", "mode"]].iloc[0].to_list()
    ['linked dipole', '20 m', '2F2']
    """
    from advisor.answers.rows.tonight import advice_rows

    return by_hour(advice_rows(answer(question, directory(cache_dir))))


def compare_setups(question: Question, *, cache_dir: Directory = None) -> pd.DataFrame:
    """
    Set-ups side by side: the rows of ``skiplobe compare --json``.

    Parameters
    ----------
    question : Question
        From `advisor.make_question`.
    cache_dir : str or pathlib.Path, optional
        Where solved wires are kept between runs.

    Returns
    -------
    frame : pandas.DataFrame
        As `chances`, with the rank and with dB over the reference vertical and dipole
        at the angles that matter.

    Examples
    --------
    >>> from advisor import example_station, make_question
    >>> question = make_question(
    ...     example_station(), "KE", "2026-12-05T18:00Z", 1, bands="20 m", r12=58
    ... )
    >>> compare_setups(question)["setup"].to_list()
    ['linked dipole', '20 m vertical']
    """
    from advisor.answers.compare import compare
    from advisor.answers.rows.compare import compare_rows

    return by_hour(compare_rows(compare(question, directory(cache_dir))))


def rank_setups(question: Question, *, cache_dir: Directory = None) -> pd.DataFrame:
    """
    Set-ups ranked, one row each: ``ranking`` of ``skiplobe compare --json``.

    Parameters
    ----------
    question : Question
        From `advisor.make_question`.
    cache_dir : str or pathlib.Path, optional
        Where solved wires are kept between runs.

    Returns
    -------
    frame : pandas.DataFrame
        Index ``setup``, best first: mean chance of the best band with its range,
        bearing, mean dB over the yardsticks. ``attrs["varied"]`` says what the ranges
        are over.

    Examples
    --------
    >>> from advisor import example_station, make_question
    >>> question = make_question(
    ...     example_station(), "KE", "2026-12-05T18:00Z", 1, bands="20 m", r12=58
    ... )
    >>> rank_setups(question)["wire_deg"].to_dict()
    {'linked dipole': 120.0, '20 m vertical': nan}
    """
    from advisor.answers.compare import compare
    from advisor.answers.rows.compare import compare_details

    found = compare_details(compare(question, directory(cache_dir)))
    frame = flat_frame(found.ranking).set_index("setup")
    frame.attrs["varied"] = found.varied
    return frame


def bearings(question: Question, *, cache_dir: Directory = None) -> pd.DataFrame:
    """
    Every bearing of every wire: the rows of ``skiplobe aim --json``.

    Parameters
    ----------
    question : Question
        From `advisor.make_question`.
    cache_dir : str or pathlib.Path, optional
        Where solved wires are kept between runs.

    Returns
    -------
    frame : pandas.DataFrame
        One row a set-up, bearing and target: mean chance of the best band, level
        against the best bearing, where the lobes then point.

    Examples
    --------
    >>> from advisor import example_station, make_question
    >>> question = make_question(
    ...     example_station(), "KE", "2026-12-05T18:00Z", 1, bands="20 m", r12=58
    ... )
    >>> frame = bearings(question)
    >>> frame[frame.is_best]["wire_deg"].to_list()
    [120.0]
    """
    from advisor.answers.aim import aim
    from advisor.answers.rows.aim import aim_rows

    return frame_of(aim_rows(aim(question, directory(cache_dir))))


def best_bearings(question: Question, *, cache_dir: Directory = None) -> pd.DataFrame:
    """
    Best bearing of every wire: ``bearing`` of ``skiplobe aim --json``.

    Parameters
    ----------
    question : Question
        From `advisor.make_question`.
    cache_dir : str or pathlib.Path, optional
        Where solved wires are kept between runs.

    Returns
    -------
    frame : pandas.DataFrame
        Index ``setup``, best first: best bearing and the range about it that costs
        under 1 dB, the chance with its range, the chance as it hangs, the magnetic
        declination. NaN where turning changes nothing.

    Examples
    --------
    >>> from advisor import example_station, make_question
    >>> question = make_question(
    ...     example_station(), "KE", "2026-12-05T18:00Z", 1, bands="20 m", r12=58
    ... )
    >>> best_bearings(question)["best_deg"].to_dict()
    {'linked dipole': 120.0, '20 m vertical': nan}
    """
    from advisor.answers.aim import aim
    from advisor.answers.rows.aim import aim_details

    found = aim_details(aim(question, directory(cache_dir)))
    told = found.bearing.items()
    frame = flat_frame([{"setup": name, **as_mapping(each)} for name, each in told])
    frame.attrs["varied"] = found.varied
    return frame.set_index("setup")


def where_power_lands(
    question: Question, *, towards: bool = False, cache_dir: Directory = None
) -> pd.DataFrame:
    """
    Where the power of a wire comes down: the rows of ``skiplobe reach --json``.

    Parameters
    ----------
    question : Question
        From `advisor.make_question`; its first target gives the direction.
    towards : bool, optional
        Look towards that target alone rather than all round.
    cache_dir : str or pathlib.Path, optional
        Where solved wires are kept between runs.

    Returns
    -------
    frame : pandas.DataFrame
        Index ``utc``, one row a set-up, hour and band: shares of the radiated power
        within 800 km, up to 2500 km and beyond, and what is lost; the verdict.

    Examples
    --------
    >>> from advisor import example_station, make_question
    >>> question = make_question(
    ...     example_station(), "KE", "2026-12-05T10:00Z", 1, bands="40 m", r12=58
    ... )
    >>> where_power_lands(question)["verdict"].to_list()
    ['short skip']
    """
    from advisor.answers.reach import reach
    from advisor.answers.rows.reach import reach_rows

    found = reach(question, towards=towards, cache_dir=directory(cache_dir))
    return by_hour(reach_rows(found))


def hop_modes(
    question: Question,
    *,
    setups: str | Iterable[str] = (),
    cache_dir: Directory = None,
) -> pd.DataFrame:
    """
    Hop modes of a path by hour and band: ``modes`` of ``skiplobe why --json``.

    Parameters
    ----------
    question : Question
        One target, from `advisor.make_question`; one of several points is shown by its
        point of median distance.
    setups : str or iterable of str, optional
        Set-ups to choose the best from; all if left out.
    cache_dir : str or pathlib.Path, optional
        Where solved wires are kept between runs.

    Returns
    -------
    frame : pandas.DataFrame
        Index ``utc``, one row an hour, band and mode the geometry allows: take-off
        angle, mirror height, MUF, share of days, margin, share of the signal.

    Raises
    ------
    InputError
        If there is more than one target, or no set-up is cut for a band.

    Examples
    --------
    >>> from advisor import example_station, make_question
    >>> question = make_question(
    ...     example_station(), "KE", "2026-12-05T18:00Z", 1, bands="20 m", r12=58
    ... )
    >>> frame = hop_modes(question, setups="20 m vertical")
    >>> frame.set_index("name").loc["2F2", ["takeoff_deg", "muf_mhz"]].round().to_list()
    [10.0, 20.0]
    """
    rows = [
        {"utc": why.utc, "band": why.band, "setup": why.setup, **asdict(mode)}
        for why in _each_figure(question, setups, directory(cache_dir))
        for mode in why.modes
    ]
    return by_hour(rows)


def explain_figure(
    question: Question,
    *,
    setups: str | Iterable[str] = (),
    cache_dir: Directory = None,
) -> pd.DataFrame:
    """
    Every number on the way to one chance: the rows of ``skiplobe why --json``.

    Parameters
    ----------
    question : Question
        One target, one hour, one band, from `advisor.make_question`.
    setups : str or iterable of str, optional
        Set-ups to choose the best from; all if left out.
    cache_dir : str or pathlib.Path, optional
        Where solved wires are kept between runs.

    Returns
    -------
    frame : pandas.DataFrame
        ``section``, ``item`` with its unit, ``value``, ``source``.

    Raises
    ------
    InputError
        If there is more than one target, hour or band, or no set-up is cut for it.

    Examples
    --------
    >>> from advisor import example_station, make_question
    >>> question = make_question(
    ...     example_station(), "KE", "2026-12-05T18:00Z", 1, bands="20 m", r12=58
    ... )
    >>> frame = explain_figure(question, setups="20 m vertical")
    >>> frame.set_index(["section", "item"]).loc[("mode: 2F2", "hops"), "value"]
    2
    """
    import pandas as pd

    from advisor.answers.why import explain_chance
    from advisor.show.text.why import why_rows

    told = explain_chance(question, listed(setups, "set-ups"), directory(cache_dir))
    return pd.DataFrame(why_rows(told))


def _each_figure(
    question: Question, setups: str | Iterable[str], cache_dir: Path | None
) -> Iterable[Why]:
    """Lay every hour and band of a question open, one after the other."""
    from advisor.answers.why import explain_chance

    for t in range(question.times.size):
        hour = slice(t, t + 1)
        solar = question.solar
        there = SolarIndex(
            solar.r12[hour], solar.low[hour], solar.high[hour], solar.basis
        )
        for band in question.bands:
            cell = replace(
                question, times=question.times[hour], bands=(band,), solar=there
            )
            yield explain_chance(cell, listed(setups, "set-ups"), cache_dir)
