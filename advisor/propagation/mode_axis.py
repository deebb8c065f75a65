"""
Modes of a path: their places on the mode axis, and their names.

The modes are three of the E layer (one to three hops), one off the F1 ledge,
five of F2 (from the fewest hops a path allows upwards, and the high ray of one hop),
three that E turns on some hops and F2 on others (the strongest), two of sporadic E and
what the ground beyond the skip zone scatters back.
F2 and mixed modes go by the F2 layer's rank of the day, E and F1 by that of E.
"""

from __future__ import annotations

import numpy as np

E_MODES, F1_MODES, F2_LOW_MODES, F2_HIGH_MODES, ES_MODES = 3, 1, 4, 1, 2
MIXED_MODES = 3
"""How many modes of each layer are carried; more hops of F2 add under a decibel."""

MIXED = E_MODES + F1_MODES + F2_LOW_MODES + F2_HIGH_MODES
SCATTER = MIXED + MIXED_MODES + ES_MODES
MODES = SCATTER + 1
E_RANKED = slice(0, E_MODES + F1_MODES)
F2_LOW = slice(E_RANKED.stop, E_RANKED.stop + F2_LOW_MODES)
F2_RANKED = slice(F2_LOW.start, MIXED + MIXED_MODES)
ES_RANKED = slice(F2_RANKED.stop, SCATTER)

WEAK = np.array([*range(F2_LOW.start, F2_LOW.stop), SCATTER])
"""Modes that are there on days on which F2 is too weak for the band."""

SLICES = 8
"""Equal slices of the F2 layer's rank over which the signal above the MUF changes."""

NO_MODE_DB = 400.0
"""Loss that stands for a mode that cannot be. [dB]"""

LAYER_NAMES = (
    ("E",) * E_MODES
    + ("F1",) * F1_MODES
    + ("F2",) * (F2_LOW_MODES + F2_HIGH_MODES)
    + ("E/F2",) * MIXED_MODES
    + ("Es",) * ES_MODES
    + ("F2",)
)


def mode_name(mode: int, hops: int) -> str:
    """
    Name a mode as the trade does: 1E, 2F2.

    Parameters
    ----------
    mode : int
        Place on the mode axis.
    hops : int
        Hops of the mode on its path.

    Returns
    -------
    name : str
        Hop count and layer.

    Examples
    --------
    >>> mode_name(0, 1), mode_name(5, 2), mode_name(8, 1), mode_name(9, 4)
    ('1E', '2F2', '1F2 high', '4E/F2')
    >>> mode_name(SCATTER, 2)
    'scatter'
    """
    if mode == SCATTER:
        return "scatter"
    high = " high" if F2_LOW.stop <= mode < MIXED else ""
    return f"{hops}{LAYER_NAMES[mode]}{high}"
