"""
Wires in space: what is hung, fed and loaded.

Frame: x east, y north, z up, in metres, for a set-up whose wire bearing is 0: it
runs towards +y. Over ground z is the height; in free space it may be anything.
`advisor.antenna.solver.mesh` cuts them into segments.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from geo.arrays import Floats
from geo.errors import InputError

Point = tuple[float, float, float]

# Annealed copper at 20 °C, IEC 60028. [S/m]
COPPER_S_M = 5.8e7

SAME_PLACE_M = 1e-3
"""Two points closer than this are one. [m]"""

GAP_M = 0.05
"""Length of an insulator, a coil, or the posts of a box: common practice, no source.
[m]"""


@dataclass(frozen=True)
class Wire:
    """
    One straight round wire.

    Attributes
    ----------
    start_m, end_m : tuple of float
        East, north and up of the two ends. [m]
    radius_m : float
        Radius of the conductor. [m]
    conductivity_s_m : float
        Conductivity; infinite for none of the loss. Default copper. [S/m]
    insulation_m : float
        Thickness of a coat, 0 for bare wire. [m]
    insulation_eps_r : float
        Relative permittivity of the coat. [1]
    name : str
        What to call it in messages.
    """

    start_m: Point
    end_m: Point
    radius_m: float
    conductivity_s_m: float = COPPER_S_M
    insulation_m: float = 0.0
    insulation_eps_r: float = 1.0
    name: str = ""

    def __post_init__(self) -> None:
        if not np.all(np.isfinite([*self.start_m, *self.end_m])):
            raise InputError(f"{self.label}: an end is not at finite coordinates")
        if not 0.0 < self.radius_m < np.inf:
            raise InputError(
                f"{self.label}: radius {self.radius_m} m is not positive; "
                "0.001 is usual"
            )
        if self.length_m < SAME_PLACE_M:
            raise InputError(
                f"{self.label}: its two ends are the same point; leave the wire out"
            )
        if not self.conductivity_s_m > 0.0:
            raise InputError(
                f"{self.label}: conductivity {self.conductivity_s_m} S/m is not "
                "positive; copper is 5.8e7"
            )
        if not (self.insulation_m >= 0.0 and self.insulation_eps_r >= 1.0):
            raise InputError(
                f"{self.label}: insulation of {self.insulation_m} m and permittivity "
                f"{self.insulation_eps_r} cannot be; use 0 or more and 1 or more"
            )

    @property
    def label(self) -> str:
        """The name in quotes, or where the wire starts."""
        if self.name:
            return f"wire '{self.name}'"
        return "wire from ({:.4g}, {:.4g}, {:.4g})".format(*self.start_m)

    @property
    def thickness_m(self) -> float:
        """Radius of the conductor with its coat, metres."""
        return self.radius_m + self.insulation_m

    @cached_property
    def length_m(self) -> float:
        """Distance between the ends, metres."""
        return float(np.linalg.norm(np.subtract(self.end_m, self.start_m)))

    @cached_property
    def direction(self) -> Floats:
        """Unit vector from start to end."""
        unit = np.asarray(np.subtract(self.end_m, self.start_m)) / self.length_m
        unit.flags.writeable = False
        return unit

    def point(self, at_m: float) -> Floats:
        """
        Find a point on the wire.

        Parameters
        ----------
        at_m : float
            Distance from the start. [m]

        Returns
        -------
        point : numpy.ndarray
            Shape (3,), east, north and up. [m]
        """
        return np.asarray(self.start_m) + at_m * self.direction


# A lossless circuit at its very resonance: as good as open. [S]
_OPEN_S = 1e-12


def _series(omega: float, r: float, ind: float, cap: float) -> complex:
    return r + 1j * omega * ind + (1.0 / (1j * omega * cap) if cap else 0.0)


def _parallel(omega: float, r: float, ind: float, cap: float) -> complex:
    admittance = 1j * omega * cap
    admittance += 1.0 / r if r else 0.0
    admittance += 1.0 / (1j * omega * ind) if ind else 0.0
    return 1.0 / (admittance or _OPEN_S)


def _trap(omega: float, r: float, ind: float, cap: float) -> complex:
    admittance = 1.0 / (r + 1j * omega * ind) + 1j * omega * cap
    return 1.0 / (admittance or _OPEN_S)


_LOAD_KINDS = {"series": _series, "parallel": _parallel, "trap": _trap}


@dataclass(frozen=True)
class Load:
    """
    A lumped part in series with a wire.

    Attributes
    ----------
    wire : int
        Index of the wire.
    at_m : float
        Distance from the wire's start. [m]
    resistance_ohm, inductance_h, capacitance_f : float
        The parts; 0 leaves one out. [ohm, H, F]
    kind : str
        ``"series"`` and ``"parallel"`` join the parts in those ways; ``"trap"`` is
        a lossy coil (resistance and inductance in series) across a capacitor.
    gap_m : float
        Length of wire that it takes up. [m]
    q : float
        Quality of the coil, its reactance over a resistance in series with it, the
        same on all frequencies; 0 for a coil without that loss. [1]
    """

    wire: int
    at_m: float
    resistance_ohm: float = 0.0
    inductance_h: float = 0.0
    capacitance_f: float = 0.0
    kind: str = "series"
    gap_m: float = GAP_M
    q: float = 0.0

    def __post_init__(self) -> None:
        if self.kind not in _LOAD_KINDS:
            raise InputError(
                f"load kind '{self.kind}' is unknown; use {', '.join(_LOAD_KINDS)}"
            )
        parts = (self.resistance_ohm, self.inductance_h, self.capacitance_f)
        if not all(0.0 <= part < np.inf for part in parts) or not any(parts):
            raise InputError(
                f"load of {parts[0]} ohm, {parts[1]} H, {parts[2]} F: "
                "use values of 0 or more, one of them above 0"
            )
        if not 0.0 <= self.q < np.inf or (self.q and self.kind == "parallel"):
            raise InputError(f"a coil of Q {self.q:g}: use 0 or more, not in parallel")
        if self.kind == "trap" and not self.inductance_h:
            raise InputError("a trap needs an inductance above 0 H")

    def impedance_ohm(self, frequency_mhz: float) -> complex:
        """
        Impedance at one frequency.

        Parameters
        ----------
        frequency_mhz : float
            Frequency. [MHz]

        Returns
        -------
        z : complex
            Resistance plus j times reactance. [ohm]

        Examples
        --------
        >>> Load(0, 1.0, inductance_h=1e-6).impedance_ohm(10.0).imag
        62.83
        """
        omega = 2e6 * np.pi * frequency_mhz
        coil_ohm = omega * self.inductance_h / self.q if self.q else 0.0
        return _LOAD_KINDS[self.kind](
            omega,
            self.resistance_ohm + coil_ohm,
            self.inductance_h,
            self.capacitance_f,
        )


@dataclass(frozen=True)
class Source:
    """
    A feed: a voltage across a small gap in a wire.

    Where several wires meet, the gap is in the wire named, at that end.

    Attributes
    ----------
    wire : int
        Index of the wire.
    at_m : float
        Distance from the wire's start. [m]
    voltage_v : complex
        Peak voltage that drives current along the wire. [V]
    gap_m : float
        Length of wire over which the voltage is spread, evenly. [m]
    """

    wire: int
    at_m: float
    voltage_v: complex = 1.0
    gap_m: float = GAP_M


@dataclass(frozen=True)
class WireModel:
    """
    Everything that is hung: wires, feeds, loads.

    Attributes
    ----------
    wires : tuple of Wire
        At least one.
    sources : tuple of Source
        At least one.
    loads : tuple of Load
        Any number.
    """

    wires: tuple[Wire, ...]
    sources: tuple[Source, ...]
    loads: tuple[Load, ...] = ()

    def __post_init__(self) -> None:
        if not self.wires:
            raise InputError("a set-up without a wire; give at least one")
        if not self.sources:
            raise InputError("a set-up without a feed; give at least one")
        for port, what in self.ports():
            if not 0 <= port.wire < len(self.wires):
                raise InputError(
                    f"{what} on wire {port.wire}, where there is no wire; "
                    f"there are 0 to {len(self.wires) - 1}"
                )
            wire = self.wires[port.wire]
            if not -SAME_PLACE_M <= port.at_m <= wire.length_m + SAME_PLACE_M:
                raise InputError(
                    f"{what} at {port.at_m:.4g} m, where there is no wire; "
                    f"{wire.label} is 0 to {wire.length_m:.4g} m long"
                )

    def ports(self) -> Iterator[tuple[Source | Load, str]]:
        """Go through sources, then loads, each with what to call it."""
        for source in self.sources:
            yield source, "feed"
        for load in self.loads:
            yield load, "load"
