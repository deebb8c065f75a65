"""
From the wire's impedance to the radio: transformer, line, tuner, and the losses.

Impedances are complex, time runs as exp(+jωt), voltages and currents are rms.
Everything broadcasts, so that a whole band or all bands go through at once.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from advisor.antenna.line import (
    Line,
    input_impedance,
    line_loss_db,
    line_names,
    matched_loss_db,
    reflection,
)
from geo.arrays import Complexes, Floats
from geo.errors import InputError
from geo.tables import read_table

RADIO_OHM = 50.0
"""What radios are made for. [ohm]"""


@dataclass(frozen=True)
class Transformer:
    """
    A transformer between wire and line: an ideal ratio and a stated loss.

    Attributes
    ----------
    name : str
        Ratio as people write it, wire side first: ``"49:1"``.
    ratio : float
        Wire impedance over line impedance, positive. [1]
    loss_db : float
        Insertion loss, 0 or more. [dB]
    reference : str, optional
        Where the loss is from.

    Raises
    ------
    geo.errors.InputError
        If a number is outside its range.
    """

    name: str
    ratio: float
    loss_db: float
    reference: str = ""

    def __post_init__(self) -> None:
        if not 0.0 < self.ratio < np.inf:
            raise InputError(
                f"transformer '{self.name}': ratio {self.ratio} is not positive; "
                "common ones are 1, 4, 9, 49 and 64"
            )
        if not 0.0 <= self.loss_db < np.inf:
            raise InputError(
                f"transformer '{self.name}': loss {self.loss_db} dB is not 0 or more"
            )


def transformer_names() -> tuple[str, ...]:
    """
    Return the ratios that `transformer_by_name` accepts.

    Returns
    -------
    names : tuple of str
        Rising ratio.
    """
    return tuple(_transformers())


def transformer_by_name(name: str) -> Transformer:
    """
    Look up a transformer by its ratio.

    Parameters
    ----------
    name : str
        One of `transformer_names`, wire side first; ``"49"`` is ``"49:1"``.

    Returns
    -------
    transformer : Transformer
        Ratio and the loss assumed for it.

    Raises
    ------
    geo.errors.InputError
        If the ratio is not in the table.

    Examples
    --------
    >>> transformer_by_name("49:1").ratio
    49.0
    """
    key = "".join(name.split())
    key = key if ":" in key else f"{key}:1"
    if key not in _transformers():
        raise InputError(
            f"no transformer '{name}'; use one of {', '.join(transformer_names())}, "
            "wire side first"
        )
    return _transformers()[key]


def swr(impedance_ohm: ArrayLike, reference_ohm: ArrayLike = RADIO_OHM) -> Floats:
    """
    Standing-wave ratio at an impedance.

    Parameters
    ----------
    impedance_ohm : array_like
        Impedance, finite. Broadcasts with ``reference_ohm``. [ohm]
    reference_ohm : array_like, optional
        Real impedance that has SWR 1. [ohm]

    Returns
    -------
    swr : numpy.ndarray
        1 or more; infinite where the impedance takes no power, NaN where its
        resistance is negative. [1]

    Examples
    --------
    >>> swr([50.0, 100.0, 25.0, 50j])
    array([ 1.,  2.,  2., inf])
    """
    load = np.asarray(impedance_ohm, dtype=np.complex128)
    rho = np.abs(reflection(load, reference_ohm))
    full = (load.real == 0.0) | (rho >= 1.0)
    ratio = (1.0 + rho) / np.where(full, 1.0, 1.0 - rho)
    ratio = np.where(full, np.inf, ratio)
    return np.asarray(np.where(load.real >= 0.0, ratio, np.nan), dtype=np.float64)


def mismatch_loss_db(
    impedance_ohm: ArrayLike, reference_ohm: ArrayLike = RADIO_OHM
) -> Floats:
    """
    Power a matched source cannot get into an impedance.

    Parameters
    ----------
    impedance_ohm : array_like
        Impedance, finite. Broadcasts with ``reference_ohm``. [ohm]
    reference_ohm : array_like, optional
        Real impedance the source is made for. [ohm]

    Returns
    -------
    loss_db : numpy.ndarray
        ``-10 log10(1 - |rho|^2)``; infinite where no power is taken, NaN where
        the resistance is negative. [dB]

    Notes
    -----
    What a radio without a tuner loses at most; radios that reduce power at high
    SWR may lose more.

    Examples
    --------
    >>> mismatch_loss_db([50.0, 150.0]).round(2)
    array([0.  , 1.25])
    """
    ratio = swr(impedance_ohm, reference_ohm)
    some = np.where(np.isinf(ratio), 1.0, ratio)
    loss_db = 10.0 * np.log10((1.0 + some) ** 2 / (4.0 * some))
    return np.asarray(np.where(np.isinf(ratio), np.inf, loss_db), dtype=np.float64)


def voltage_v(power_w: ArrayLike, impedance_ohm: ArrayLike) -> Floats:
    """
    Find the voltage across an impedance that takes a power.

    Parameters
    ----------
    power_w : array_like
        Power, 0 or more. Broadcasts with ``impedance_ohm``. [W]
    impedance_ohm : array_like
        Impedance with positive resistance. [ohm]

    Returns
    -------
    voltage_v : numpy.ndarray
        Rms; the peak is 1.41 times that. NaN where an input is out of range. [V]

    Examples
    --------
    >>> voltage_v(100.0, 5000.0).round()
    np.float64(707.0)
    """
    load = np.asarray(impedance_ohm, dtype=np.complex128)
    return np.asarray(np.abs(load) * current_a(power_w, load), dtype=np.float64)


def current_a(power_w: ArrayLike, impedance_ohm: ArrayLike) -> Floats:
    """
    Find the current into an impedance that takes a power.

    Parameters
    ----------
    power_w : array_like
        Power, 0 or more. Broadcasts with ``impedance_ohm``. [W]
    impedance_ohm : array_like
        Impedance with positive resistance. [ohm]

    Returns
    -------
    current_a : numpy.ndarray
        Rms. NaN where an input is out of range. [A]

    Examples
    --------
    >>> current_a(100.0, 50.0 - 20.0j).round(2)
    np.float64(1.41)
    """
    power = np.asarray(power_w, dtype=np.float64)
    resistance = np.asarray(impedance_ohm, dtype=np.complex128).real
    fits = (resistance > 0.0) & (power >= 0.0)
    square = np.where(fits, power, np.nan) / np.where(fits, resistance, 1.0)
    return np.asarray(np.sqrt(square), dtype=np.float64)


@dataclass(frozen=True, eq=False)
class FeedChain:
    """
    The way from the wire to the radio, step by step.

    Arrays have the common shape of wire impedance and frequency.

    Attributes
    ----------
    frequency_mhz : numpy.ndarray
        Frequency. [MHz]
    wire_ohm : numpy.ndarray
        Impedance at the wire. [ohm]
    line_load_ohm : numpy.ndarray
        Impedance behind the transformer, where the line ends. [ohm]
    radio_ohm : numpy.ndarray
        Impedance at the radio. [ohm]
    line_swr : numpy.ndarray
        SWR at the line's far end, against the line's own impedance, or against
        50 ohm without a line. [1]
    radio_swr : numpy.ndarray
        SWR against 50 ohm at the radio. [1]
    transformer_loss_db, matched_line_loss_db, added_line_loss_db : numpy.ndarray
        Transformer; line if matched; what the standing wave adds, which may be
        slightly negative on a short line. [dB]
    mismatch_loss_db : numpy.ndarray
        Power the radio cannot deliver; 0 with a tuner. [dB]
    """

    frequency_mhz: Floats
    wire_ohm: Complexes
    line_load_ohm: Complexes
    radio_ohm: Complexes
    line_swr: Floats
    radio_swr: Floats
    transformer_loss_db: Floats
    matched_line_loss_db: Floats
    added_line_loss_db: Floats
    mismatch_loss_db: Floats

    @property
    def loss_db(self) -> Floats:
        """All losses between radio and wire, in dB."""
        return np.asarray(
            self.transformer_loss_db
            + self.matched_line_loss_db
            + self.added_line_loss_db
            + self.mismatch_loss_db,
            dtype=np.float64,
        )

    def wire_power_w(self, power_w: float) -> Floats:
        """
        Power that reaches the wire.

        Parameters
        ----------
        power_w : float
            What the radio is set to. [W]

        Returns
        -------
        power_w : numpy.ndarray
            The rest after all losses. [W]
        """
        return np.asarray(power_w * 10.0 ** (-self.loss_db / 10.0), dtype=np.float64)


def feed_chain(
    wire_ohm: ArrayLike,
    frequency_mhz: ArrayLike,
    transformer: Transformer | None = None,
    line: Line | None = None,
    line_length_m: float = 0.0,
    tuner: bool = False,
) -> FeedChain:
    """
    Follow the power from radio to wire.

    Parameters
    ----------
    wire_ohm : array_like
        Impedance at the wire's feedpoint. Broadcasts with ``frequency_mhz``.
        [ohm]
    frequency_mhz : array_like
        Frequency, positive. [MHz]
    transformer : Transformer, optional
        Between wire and line.
    line : Line, optional
        From there to the radio.
    line_length_m : float, optional
        Its length, 0 or more. [m]
    tuner : bool, optional
        Whether a tuner at the radio takes the mismatch away. It is counted as
        lossless and as able to match anything.

    Returns
    -------
    chain : FeedChain
        Impedance, SWR and loss at each step; NaN where an input is out of range.

    Raises
    ------
    geo.errors.InputError
        If the length is negative, or given without a line.

    Examples
    --------
    >>> from advisor.antenna.line import line_by_name
    >>> chain = feed_chain(
    ...     2450.0, 7.1, transformer_by_name("49:1"), line_by_name("RG-58"), 10.0
    ... )
    >>> chain.radio_swr.round(2), chain.loss_db.round(2)
    (array([1.]), array([1.18]))
    """
    if not 0.0 <= line_length_m < np.inf:
        raise InputError(f"line length {line_length_m} m is not 0 or more")
    if line is None and line_length_m > 0.0:
        raise InputError(
            f"a line of {line_length_m} m of no kind; name one of "
            f"{', '.join(line_names())}"
        )
    wire, frequency = np.broadcast_arrays(
        np.atleast_1d(np.asarray(wire_ohm, dtype=np.complex128)),
        np.asarray(frequency_mhz, dtype=np.float64),
    )
    load = np.asarray(
        wire / (transformer.ratio if transformer else 1.0), dtype=np.complex128
    )
    nothing = np.zeros(frequency.shape)
    at_radio, line_ohm = load, RADIO_OHM
    matched, added = nothing, nothing
    if line is not None:
        at_radio = input_impedance(load, line, frequency, line_length_m)
        matched = matched_loss_db(line, frequency, line_length_m)
        added = line_loss_db(load, line, frequency, line_length_m) - matched
        line_ohm = line.impedance_ohm
    return FeedChain(
        frequency_mhz=frequency,
        wire_ohm=wire,
        line_load_ohm=load,
        radio_ohm=at_radio,
        line_swr=swr(load, line_ohm),
        radio_swr=swr(at_radio),
        transformer_loss_db=nothing + (transformer.loss_db if transformer else 0.0),
        matched_line_loss_db=matched,
        added_line_loss_db=added,
        mismatch_loss_db=nothing if tuner else mismatch_loss_db(at_radio),
    )


def best_transformer(
    wire_ohm: ArrayLike,
    line_ohm: float = RADIO_OHM,
    among: Iterable[Transformer] | None = None,
) -> Transformer:
    """
    Choose the transformer that brings most power to the wire over a band or more.

    Parameters
    ----------
    wire_ohm : array_like
        Impedance at the wire over the frequencies that count alike; NaN is left
        out. [ohm]
    line_ohm : float, optional
        Impedance of the line, or of the radio. [ohm]
    among : iterable of Transformer, optional
        Those at hand; all of the table by default.

    Returns
    -------
    transformer : Transformer
        The one with the greatest mean of the power passed, its loss counted; of
        equals the first.

    Raises
    ------
    geo.errors.InputError
        If there is no transformer or no impedance to choose by.

    Examples
    --------
    >>> best_transformer([2000.0 + 500.0j, 3100.0 - 400.0j]).name
    '49:1'
    """
    choices = list(_transformers().values() if among is None else among)
    wire = np.asarray(wire_ohm, dtype=np.complex128)
    wire = wire[np.isfinite(wire) & (wire.real > 0.0)]
    if not choices or not wire.size:
        raise InputError(
            f"cannot choose among {len(choices)} transformers by {wire.size} "
            "impedances; one of each at least is needed"
        )

    def passed(choice: Transformer) -> float:
        lost_db = choice.loss_db + mismatch_loss_db(wire / choice.ratio, line_ohm)
        return float(np.mean(10.0 ** (-lost_db / 10.0)))

    return max(choices, key=passed)


def resonances_mhz(frequency_mhz: ArrayLike, impedance_ohm: ArrayLike) -> Floats:
    """
    Frequencies at which the reactance passes through zero.

    Parameters
    ----------
    frequency_mhz : array_like
        Shape (N,), rising. [MHz]
    impedance_ohm : array_like
        Shape (N,): impedance at each; steps fine enough to catch every crossing.
        [ohm]

    Returns
    -------
    resonance_mhz : numpy.ndarray
        Shape (M,), rising, by straight lines between the points. Series
        resonances (low resistance) and parallel ones (high) alike; may be empty.
        [MHz]

    Examples
    --------
    >>> resonances_mhz([7.0, 7.2], [60.0 - 10.0j, 64.0 + 10.0j])
    array([7.1])
    """
    frequency = np.asarray(frequency_mhz, dtype=np.float64)
    reactance = np.asarray(impedance_ohm, dtype=np.complex128).imag
    negative = reactance < 0.0
    i = np.flatnonzero(negative[:-1] != negative[1:])
    share = reactance[i] / (reactance[i] - reactance[i + 1])
    return np.asarray(frequency[i] + share * np.diff(frequency)[i], dtype=np.float64)


def trim_m(
    length_m: ArrayLike, resonance_mhz: ArrayLike, wanted_mhz: ArrayLike
) -> Floats:
    """
    Say how much wire to add to move its resonance.

    Parameters
    ----------
    length_m : array_like
        Whole length of the resonant wire as it hangs. [m]
    resonance_mhz : array_like
        Where it resonates now, positive. [MHz]
    wanted_mhz : array_like
        Where it should, positive. [MHz]

    Returns
    -------
    trim_m : numpy.ndarray
        To be added over the whole wire, half at each end of a dipole; negative
        is to be cut off. NaN where a frequency is not positive. [m]

    Notes
    -----
    Resonant length goes as one over frequency: near 7.1 MHz a 20 m wire changes
    by 2.8 mm per kHz. Ground, bends and insulation shift that a little (common
    practice, no source): cut half of what it says, then measure again.

    Examples
    --------
    >>> trim_m(20.0, 7.0, 7.1).round(3)
    np.float64(-0.282)
    """
    now = np.asarray(resonance_mhz, dtype=np.float64)
    wanted = np.asarray(wanted_mhz, dtype=np.float64)
    fits = (now > 0.0) & (wanted > 0.0)
    scale = np.where(fits, now, np.nan) / np.where(fits, wanted, 1.0)
    return np.asarray(np.asarray(length_m) * (scale - 1.0), dtype=np.float64)


@cache
def _transformers() -> dict[str, Transformer]:
    """Every transformer by its ratio, in file order."""
    found = read_table("transformers").records(Transformer)
    return {each.name: each for each in found}
