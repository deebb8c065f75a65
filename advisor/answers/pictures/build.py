"""What to hang: the wires of a set-up on the band that counts most."""

from __future__ import annotations

from dataclasses import dataclass

from advisor.answers.one_wire.wire import hanging_of
from advisor.answers.pictures.scene import Moment, Scene, best_moment, setup_of
from advisor.antenna.shapes.parts import Conductor, HungWire
from advisor.antenna.wires import Source
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
        Wires, feedpoint and supports; of a ground-mounted vertical its upright.
    """
    advice = scene.advice
    one = setup_of(advice, setup)
    at = moment or best_moment(advice, target, setup)
    band = advice.question.bands[at.band]
    if one.stands_on_ground:
        hangs = hanging_of(one, None, band.planning_mhz)
        upright = Conductor(0.5e-3 * one.wire_mm).wire(
            (0.0, 0.0, 0.0), (0.0, 0.0, hangs.top_m)
        )
        hung = HungWire(
            (upright,), Source(0, 0.0), hangs.supports, hangs.wire_m, one.shape
        )
    else:
        hung = hung_wire(one, band.planning_mhz)
    return Build(
        setup=one.name,
        band=band.name if one.cut == EACH_BAND or one.stands_on_ground else "",
        wire_deg=advice.setups[setup].bearing.wire_deg,
        first_end=advice.setups[setup].first_end,
        hung=hung,
    )
