"""What to hang: the wires of a set-up on the band that counts most."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.answers.pictures.scene import Moment, Scene, best_moment, setup_of
from advisor.antenna.shapes.parts import HungWire
from advisor.engine.wires import hung_wire
from advisor.station.setup import EACH_BAND


@dataclass(frozen=True)
class Build:
    """
    A set-up as it is to be hung.

    Attributes
    ----------
    setup : str
        Its name.
    band : str
        Band it is cut for; empty if one length serves all.
    wire_deg : float or None
        Way the wire runs; None where turning changes nothing. [deg]
    first_end : str
        Name of the end that this bearing starts from; empty where the wire may run
        either way.
    hung : HungWire
        Wires, feedpoint and supports.
    """

    setup: str
    band: str
    wire_deg: float | None
    first_end: str
    hung: HungWire


def build(
    scene: Scene, target: int = 0, setup: int = 0, moment: Moment | None = None
) -> Build:
    """
    Hang a set-up on the band looked at.

    Parameters
    ----------
    scene : Scene
        The answer with its patterns.
    target, setup : int, optional
        Which target sets the band, which set-up in order of rank.
    moment : Moment, optional
        Hour and band looked at; that of the greatest chance if not given.

    Returns
    -------
    build : Build
        Wires, feedpoint and supports.
    """
    advice = scene.advice
    one = setup_of(advice, setup)
    at = moment or best_moment(advice, target, setup)
    band = advice.question.bands[at.band]
    return Build(
        setup=one.name,
        band=band.name if one.cut == EACH_BAND else "",
        wire_deg=advice.setups[setup].bearing.wire_deg,
        first_end=advice.setups[setup].first_end,
        hung=hung_wire(one, band.planning_mhz),
    )
