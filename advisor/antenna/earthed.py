"""The ground-mounted vertical with its default sizes, which others are measured by."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from advisor.antenna.ground import Ground
from advisor.antenna.pattern import Pattern
from advisor.antenna.shapes.registry import hang
from advisor.antenna.solver.cache import solve_wire


@lru_cache(maxsize=48)
def earthed_pattern(
    frequency_mhz: float, ground: Ground, cache_dir: Path | None = None
) -> Pattern:
    """
    Solve the shape of that name as it is cut for a frequency.

    Parameters
    ----------
    frequency_mhz : float
        Frequency. [MHz]
    ground : Ground
        Ground below and around.
    cache_dir : pathlib.Path, optional
        Where the solver keeps what it found between runs.

    Returns
    -------
    pattern : Pattern
        Sky pattern for power at the foot.

    Raises
    ------
    geo.errors.InputError
        If the frequency is no positive number.

    Examples
    --------
    >>> from advisor.antenna.ground import ground_by_name
    >>> float(earthed_pattern(14.1, ground_by_name("average")).gain_dbi(5.0, 0.0))
    -6.7
    """
    model = hang("ground-mounted vertical", frequency_mhz).model()
    return solve_wire(model, frequency_mhz, ground, cache_dir).pattern
