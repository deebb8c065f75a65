"""What stands in the way: each factor is lifted by itself and the chance redone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from advisor.answers.bearings import is_by_ground_wave
from advisor.answers.perturb import Case, more_signal
from advisor.engine.targets import least_absorption_db, over_targets
from advisor.propagation.losses import HORIZON
from geo.paths import at_stations

OPEN_CHANCE = 0.05
"""Below one day in twenty a band counts as closed."""

LIMITS = (
    "none",
    "layer too weak",
    "stopped by the E layer",
    "absorbed",
    "no radiation at that angle",
    "close to the noise",
    "below the horizon",
    "band not on this set-up",
    "ground wave too weak",
    "only by scatter",
)
"""Names of the limiting factors."""

_NO_LIMIT_CHANCE = 0.9

_STRONGER_LAYER = 1.3
"""How far a layer may be lifted to see whether it is the limit: with more, modes
would join that no day of any month has."""

_LINGERS_DB = 30.0
"""More than a ray spreads out below a layer that all but turns it (5 to 20 dB); beyond
it lands short and what is left is its shadow. [dB]"""

_GRAZING_E, _EASY_F2 = 5.0, 2.0
"""Frequencies over foE that a layer at 110 km turns at the horizon (the secant there is
5.4), and over foF2 that the F2 layer returns over 1500 km on most days."""

_ABSORBED_DB = 10.0
"""What is lost to absorption where that comes first on the way. [dB]"""

_HELPS = 0.02
"""Least gain in chance that counts as help."""


def limiting_factors(
    case: Case, now: NDArray[np.float64]
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """
    Name what stands in the way: that whose removal helps the chance most.

    Parameters
    ----------
    case : Case
        The wire on its bearing under the sky asked about.
    now : numpy.ndarray
        Shape (K, T, B): its chance.

    Returns
    -------
    limit : numpy.ndarray of int
        Shape (K, T, B), places in `LIMITS`.
    cost : numpy.ndarray
        Shape (K, T, B): chance that lifting it would bring; 0 where lifting any one
        thing alone brings nothing.

    Notes
    -----
    What is lifted is not of one size: a layer a third stronger, nothing lost to rays
    that linger below a layer, no absorption at all, the wire's best gain everywhere,
    10 dB more signal, no hills. The name says what to look at first, not what is
    easiest to mend.
    """
    question, modes = case.question, case.link.modes
    gained = np.full((len(LIMITS), *now.shape), -1.0)
    for name, lift in _LIFTS.items():
        gained[LIMITS.index(name)] = lift(case).chance() - now
    limit = gained.argmax(axis=0)
    # Where lifting one thing alone is no use, what comes first on the way counts.
    returned = over_targets(question, modes.returned.max(axis=-1))
    support = over_targets(question, modes.support.max(axis=-1))
    lost_db = np.nan_to_num(least_absorption_db(case.link))
    absorbed = over_targets(question, lost_db)
    hidden = over_targets(question, _under_e(case).astype(float)) > 0.5
    first = np.select(
        [hidden & (returned < OPEN_CHANCE), returned < OPEN_CHANCE,
         support < OPEN_CHANCE, absorbed >= _ABSORBED_DB],
        [LIMITS.index("stopped by the E layer"), LIMITS.index("layer too weak"),
         LIMITS.index("below the horizon"), LIMITS.index("absorbed")],
        LIMITS.index("close to the noise"),
    )  # fmt: skip
    cost = gained.max(axis=0)
    limit = np.where(cost < _HELPS, first, limit)
    # A contact along the ground is not held up by what layers do.
    along = is_by_ground_wave(question, case.link, case.gains) & (now >= OPEN_CHANCE)
    limit = np.where(along, LIMITS.index("ground wave too weak"), limit)
    cost = np.where(along, gained[LIMITS.index("close to the noise")], cost)
    scattered = is_by_scatter(case, now)
    limit = np.where(scattered, LIMITS.index("only by scatter"), limit)
    cost = np.where(scattered, gained[LIMITS.index("layer too weak")], cost)
    cost = np.where(cost < _HELPS, 0.0, cost)
    limit = np.where(now >= _NO_LIMIT_CHANCE, LIMITS.index("none"), limit)
    idle = np.array([band.name not in case.patterns for band in question.bands])
    return np.where(idle, LIMITS.index("band not on this set-up"), limit), cost


def is_by_scatter(case: Case, now: NDArray[np.float64]) -> NDArray[np.bool_]:
    """
    Say where a band is open by little more than a weak signal that is scattered.

    Parameters
    ----------
    case : Case
        The wire on its bearing.
    now : numpy.ndarray
        Shape (K, T, B): its chance.

    Returns
    -------
    by_scatter : numpy.ndarray of bool
        Shape (K, T, B): open, and less than half of the chance is left without what
        patches of the layer and the ground beyond the skip zone scatter.
    """
    link = case.link
    steady = replace(link, modes=link.modes.unscattered())
    left = replace(case, link=steady).chance()
    return np.asarray((now >= OPEN_CHANCE) & (left < 0.5 * now))


def _under_e(case: Case) -> NDArray[np.bool_]:
    """Where F2 would bear the band but E turns what is flat on the way, (P, T, B)."""
    layers, frequency = case.link.layers, case.link.modes.frequency_mhz
    foe, fof2 = (at_stations(values) for values in (layers.foe_mhz, layers.fof2_mhz))
    by_e = frequency < _GRAZING_E * foe.max(axis=-1)[..., None]
    by_f2 = frequency < _EASY_F2 * fof2.min(axis=-1)[..., None]
    return np.asarray(by_e & by_f2)


def _stronger_layer(case: Case) -> Case:
    """Lift every layer."""
    link, modes = case.link, case.link.modes
    in_reach = _STRONGER_LAYER * modes.muf_mhz >= modes.frequency_mhz[:, None]
    stronger = replace(modes, returned=np.where(in_reach, 1.0, modes.returned))
    return replace(case, link=replace(link, modes=stronger))


def _unscreened(case: Case) -> Case:
    """Gather the rays that linger under a layer which all but turns them."""
    modes = case.link.modes
    focusing = modes.losses_db["focusing"]
    lingers = focusing < _LINGERS_DB
    gathered = np.where(lingers, np.minimum(focusing, 0.0), focusing)
    open_modes = replace(modes, losses_db={**modes.losses_db, "focusing": gathered})
    return replace(case, link=replace(case.link, modes=open_modes))


def _unabsorbed(case: Case) -> Case:
    """Absorb nothing."""
    link, modes = case.link, case.link.modes
    lossless = modes.without("absorption")
    return replace(case, link=replace(link, modes=lossless))


def _at_peak(case: Case) -> Case:
    """Let the wire send its best everywhere in the sky."""
    question, gains, patterns = case.question, case.gains, case.patterns
    peak = np.array(
        [
            patterns[band.name].peak().gain_dbi if band.name in patterns else -300.0
            for band in question.bands
        ]
    )
    best = replace(gains, hop_db=np.broadcast_to(peak[:, None], gains.hop_db.shape))
    return replace(case, gains=best)


def _flat_horizon(case: Case) -> Case:
    """Take my hills away."""
    modes = case.link.modes.without(HORIZON)
    clear = replace(modes, clear=modes.takeoff_deg >= 0.0)
    return replace(case, link=replace(case.link, modes=clear))


_LIFTS: dict[str, Callable[[Case], Case]] = {
    "layer too weak": _stronger_layer,
    "stopped by the E layer": _unscreened,
    "absorbed": _unabsorbed,
    "no radiation at that angle": _at_peak,
    "close to the noise": more_signal,
    "below the horizon": _flat_horizon,
}
