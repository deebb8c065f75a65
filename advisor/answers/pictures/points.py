"""Chances to each sample point of the targets, for maps."""

from __future__ import annotations

import numpy as np

from advisor.answers.best import best_bands
from advisor.answers.pictures.scene import Moment, Scene, best_moment
from advisor.engine.contact import contact_chance
from advisor.engine.engine import wire_gains
from advisor.engine.targets import over_targets
from geo.arrays import Floats, Times
from geo.records import ArrayRecord


class PointChances(ArrayRecord):
    """
    One target point by point, for one set-up.

    Attributes
    ----------
    target, setup : str
        Names.
    lat_deg, lon_deg, weight : numpy.ndarray
        Shape (P,), the points and what they weigh. [deg], [deg], [1]
    distance_km, bearing_deg : numpy.ndarray
        Shape (P,), length and bearing of the way taken. [km], [deg]
    utc : numpy.ndarray of datetime64[s]
        Shape (T,), the hours.
    band : tuple of str
        For each hour the band to be on; empty where the whole target is closed.
    chance : numpy.ndarray
        Shape (P, T), chance of a contact with the point on that band; NaN where the
        whole target is closed.
    best : int
        Place of the best hour of the whole target.
    """

    target: str
    setup: str
    lat_deg: Floats
    lon_deg: Floats
    weight: Floats
    distance_km: Floats
    bearing_deg: Floats
    utc: Times
    band: tuple[str, ...]
    chance: Floats
    best: int


def point_chances(
    scene: Scene, setup: int = 0, moment: Moment | None = None
) -> tuple[PointChances, ...]:
    """
    Work out the chance of a contact with every sample point of every target.

    Parameters
    ----------
    scene : Scene
        The answer with its patterns.
    setup : int, optional
        Which set-up in order of rank.
    moment : Moment, optional
        Only this hour, on this band; every hour on the band to be on if left out.

    Returns
    -------
    targets : tuple of PointChances
        In the order asked. The mean over the points by weight is the chance of the
        answer.
    """
    advice = scene.advice
    question = advice.question
    one = advice.setups[setup]
    gains = wire_gains(
        question, scene.link, scene.patterns[one.name], one.bearing.wire_deg or 0.0
    )
    both = contact_chance(scene.link, gains).both[0]
    hours = slice(None) if moment is None else slice(moment.hour, moment.hour + 1)
    if moment is None:
        chosen = best_bands(over_targets(question, both))
    else:
        chosen = np.full((len(question.targets), 1), moment.band)
    paths = scene.link.paths
    found, first = [], 0
    for k, target in enumerate(question.targets):
        part = slice(first, first + target.weight.size)
        first = part.stop
        bands = chosen[k]
        chance = np.take_along_axis(
            both[part, hours], np.maximum(bands, 0)[None, :, None], axis=-1
        )[..., 0]
        best = 0 if moment is not None else best_moment(advice, k, setup).hour
        found.append(
            PointChances(
                target=target.name,
                setup=one.name,
                lat_deg=target.lat_deg,
                lon_deg=target.lon_deg,
                weight=target.weight,
                distance_km=paths.distance_km[part],
                bearing_deg=paths.bearing_deg[part],
                utc=question.times[hours],
                band=tuple(question.bands[b].name if b >= 0 else "" for b in bands),
                chance=np.where(bands >= 0, chance, np.nan),
                best=best,
            )
        )
    return tuple(found)
