"""
Every chart of an answer by name: what it shows, how it is drawn, what it says.

Nothing heavy is imported at the top, so that the names are at hand for help and
completion.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from advisor.answers.pictures.scene import Scene

Drawn = tuple["Figure", str]
"""A figure and the sentence that states its finding."""


@dataclass(frozen=True)
class Chart:
    """
    One kind of chart.

    Attributes
    ----------
    about : str
        What it shows, in a few words.
    draw : callable
        Takes a scene, the place of a target and a time zone or None; gives figure
        and sentence.
    shows_all_targets : bool
        Whether all targets are on it, so that it does not matter which is named.
    """

    about: str
    draw: Callable[[Scene, int, str | None], Drawn]
    shows_all_targets: bool = False


def _bands(scene: Scene, target: int, zone: str | None) -> Drawn:
    from advisor.answers.pictures.daylight import daylight_at_both_ends
    from advisor.show.charts import bandhour

    advice = scene.advice
    ends = daylight_at_both_ends(advice, target)
    return (
        bandhour.figure(advice, ends, target, zone),
        bandhour.alt_text(advice, target),
    )


def _drawn(work: str, chart: str) -> Callable[[Scene, int, str | None], Drawn]:
    """Draw the record that a function of `advisor.answers.pictures` gives."""
    module, _, name = work.partition(".")

    def draw(scene: Scene, target: int, zone: str | None) -> Drawn:
        maker = import_module(f"advisor.answers.pictures.{module}")
        drawer = import_module(f"advisor.show.charts.{chart}")
        record = getattr(maker, name)(scene, target)
        return drawer.figure(record, zone), drawer.alt_text(record)

    return draw


def _setups(scene: Scene, target: int, _: str | None) -> Drawn:
    from advisor.answers.pictures.setups import setups_by_hour
    from advisor.show.charts import setups

    advice = scene.advice
    hours = setups_by_hour(advice, target)
    return (
        setups.by_hour(advice, hours, target),
        setups.hour_alt_text(advice, hours, target),
    )


def _setups_at(scene: Scene, target: int, zone: str | None) -> Drawn:
    from advisor.answers.pictures.scene import best_moment
    from advisor.show.charts import setups

    advice = scene.advice
    hour = best_moment(advice, target).hour
    return (
        setups.by_band(advice, hour, target, zone),
        setups.band_alt_text(advice, hour, target),
    )


def _swr(scene: Scene, _: int, __: str | None) -> Drawn:
    from advisor.answers.pictures.swr import swr_view
    from advisor.show.charts import swr

    view = swr_view(scene)
    return (
        swr.figure(view.setup, view.curves, view.feed),
        swr.alt_text(view.setup, view.curves),
    )


def _sketch(scene: Scene, target: int, _: str | None) -> Drawn:
    from advisor.answers.hanging.supports import poles_needed
    from advisor.answers.pictures.build import build
    from advisor.show.charts.wire import build_words, sketch_figure, sketch_words

    record = build(scene, target)
    return (
        sketch_figure(record.hung, build_words(record)),
        sketch_words(record.hung, poles_needed(record.hung)),
    )


CHARTS: dict[str, Chart] = {
    "bands": Chart("chance by band and hour, with the sun at both ends", _bands),
    "fan": Chart(
        "what the sky offers, the wire gives and gets through", _drawn("fan.fan", "fan")
    ),
    "angles": Chart(
        "angles offered hour by hour, and where the wire is",
        _drawn("angles.angles", "angles"),
    ),
    "compass": Chart(
        "gain round the compass, wire and targets",
        _drawn("compass.compass", "compass"),
        True,
    ),
    "map": Chart(
        "chance all over the world and nearby, with the grey line",
        _drawn("world.world_map", "worldmap"),
    ),
    "side": Chart(
        "the strongest hops from the side, to scale",
        _drawn("side.side_view", "sideview"),
    ),
    "set-ups": Chart("the set-ups hour by hour", _setups),
    "set-ups-by-band": Chart("the set-ups band by band at the best hour", _setups_at),
    "sketch": Chart("the wire from the side and from above, to scale", _sketch),
    "swr": Chart("SWR over each band, at the radio and at the wire", _swr, True),
}
"""Every chart by the name it is asked for."""
