"""Standing-wave ratio over each band: what the radio sees, and what the wire shows."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.answers.one_wire.feed import FeedWork, feed_work
from advisor.answers.pictures.scene import Scene, setup_of
from advisor.antenna.ground import ground_by_name
from advisor.engine.wires import chain_for, feed_parts, solve_at
from advisor.station.setup import SetUp
from geo.arrays import Complexes, Floats
from geo.records import ArrayRecord


class SwrCurve(ArrayRecord):
    """
    Standing-wave ratio over one band.

    Attributes
    ----------
    band : str
        Band name.
    frequency_mhz, swr : numpy.ndarray
        Shape (N,), at the radio's end. [MHz], [1]
    wire_swr : numpy.ndarray or None
        Shape (N,), at the wire's end: of the wire behind its transformer, against the
        impedance of the line; None without a line, where both ends are one. [1]
    wire_ohm : numpy.ndarray or None
        Shape (N,), impedance of the wire itself, before any transformer. [ohm]
    """

    band: str
    frequency_mhz: Floats
    swr: Floats
    wire_swr: Floats | None = None
    wire_ohm: Complexes | None = None


@dataclass(frozen=True)
class SwrView:
    """
    Standing-wave ratio of one set-up over its bands.

    Attributes
    ----------
    setup : str
        The set-up.
    feed : str
        What is between wire and radio, in words.
    curves : tuple of SwrCurve
        One a band.
    """

    setup: str
    feed: str
    curves: tuple[SwrCurve, ...]


def feed_words(setup: SetUp) -> str:
    """
    Say what is between a set-up's wire and the radio.

    Parameters
    ----------
    setup : SetUp
        What it leaves open is the usual of its shape.

    Returns
    -------
    words : str
        Transformer, line and its length.
    """
    transformer, line = feed_parts(setup)
    parts = []
    if transformer is not None:
        parts.append(f"transformer {transformer.name}")
    if line is not None:
        parts.append(f"{setup.line_m:g} m of {line.name}")
    return ", ".join(parts) or "neither transformer nor line"


def swr_curve(setup: SetUp, band: str, feed: FeedWork) -> SwrCurve:
    """
    Follow one band's sweep from the wire to the radio.

    Parameters
    ----------
    setup : SetUp
        The set-up.
    band : str
        Band name.
    feed : FeedWork
        Its feed on that band.

    Returns
    -------
    curve : SwrCurve
        At the radio and on the line.
    """
    sweep = feed.sweep
    at_wire = None
    if feed_parts(setup)[1] is not None:
        at_wire = chain_for(setup, sweep.wire_ohm, sweep.frequency_mhz).line_swr
    return SwrCurve(band, sweep.frequency_mhz, sweep.radio_swr, at_wire, sweep.wire_ohm)


def swr_view(scene: Scene, setup: int = 0) -> SwrView:
    """
    Sweep a set-up over every band it is used on.

    Parameters
    ----------
    scene : Scene
        The answer with its patterns.
    setup : int, optional
        Which set-up in order of rank.

    Returns
    -------
    view : SwrView
        One curve a band.

    """
    question = scene.advice.question
    hung = setup_of(scene.advice, setup)
    station = question.station
    soil = ground_by_name(station.ground)
    curves = []
    for band in question.bands:
        if band.name not in hung.bands:
            continue
        found = solve_at(hung, band.planning_mhz, soil, scene.cache_dir)
        feed = feed_work(hung, band, found, soil, station.power_w, scene.cache_dir)
        curves.append(swr_curve(hung, band.name, feed))
    return SwrView(hung.name, feed_words(hung), tuple(curves))
