"""
Textbook antennas over real ground, without solving for the current.

The current is assumed: a sinusoid that vanishes at the free ends, on a wire of no
thickness and no resistance. Everything else is exact for a flat, uniform ground.
The power taken in is a sum over plane waves, those that travel and those that die
away upwards; the second kind heats the ground under a low wire and no reflected ray
shows it. The far field uses the Fresnel coefficients of the same waves.

These are the yardsticks that a hung wire is compared with. A true current is not
quite a sinusoid: resistances are 2 to 4 % short, and below about 0.02 wavelength,
where the ground slows the wave on the wire, the assumption fails. Conductor loss is
left out; a half-wave of 1 mm copper wire has 1 to 5 ohm of it, 0.1 to 0.3 dB.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from advisor.antenna.ground import (
    Ground,
    complex_permittivity,
    reflection_te,
    reflection_tm,
)
from advisor.antenna.pattern import Pattern, standard_grid
from advisor.antenna.solver.planewaves import (
    evanescent_waves,
    half_wave,
    travelling_waves,
    wire_spectrum,
)
from geo.arrays import Complexes, Floats
from geo.errors import InputError

SPEED_OF_LIGHT_M_S = 299_792_458.0

# Wave impedance of free space (CODATA 2018). [ohm]
WAVE_IMPEDANCE_OHM = 376.730313668

# Lowest dipole accepted. Well below where the sinusoid fails, and the plane-wave
# sum grows without bound as the height goes to nothing. [wavelengths]
_LOWEST_DIPOLE = 1e-3


# Waves weaker than exp(-28), 7e-13, are left out of the sum.
_NEGLIGIBLE_NEPER = 28.0


@dataclass(frozen=True)
class PowerBalance:
    """
    Where the power of an antenna goes, as resistances at its current maximum.

    Attributes
    ----------
    input_ohm : float
        Twice the power taken in over the square of the peak current. [ohm]
    sky_ohm : float
        The part of it that reaches the sky. [ohm]
    """

    input_ohm: float
    sky_ohm: float

    @property
    def efficiency(self) -> float:
        """Power that reaches the sky over power taken in, 0 to 1."""
        return self.sky_ohm / self.input_ohm


def wavelength_m(frequency_mhz: float) -> float:
    """
    Free-space wavelength.

    Parameters
    ----------
    frequency_mhz : float
        Frequency, positive. [MHz]

    Returns
    -------
    wavelength_m : float
        Length of one wave. [m]

    Raises
    ------
    geo.errors.InputError
        If the frequency is not a positive number.

    Examples
    --------
    >>> wavelength_m(14.1)
    21.26
    """
    if not 0.0 < frequency_mhz < np.inf:
        raise InputError(
            f"frequency {frequency_mhz} MHz is not a positive number; try 14.1"
        )
    return SPEED_OF_LIGHT_M_S / (frequency_mhz * 1e6)


def isotropic_pattern(frequency_mhz: float) -> Pattern:
    """
    Return the pattern of a radiator with 0 dBi in every direction, ground ignored.

    Half its power goes below the horizon, so its efficiency is one half. The
    polarisations share the power equally.

    Parameters
    ----------
    frequency_mhz : float
        Frequency noted in the pattern. [MHz]

    Returns
    -------
    pattern : Pattern
        On the standard grid.

    Raises
    ------
    geo.errors.InputError
        If the frequency is not a positive number.
    """
    wavelength_m(frequency_mhz)  # refuses an impossible frequency
    elevation_deg, azimuth_deg = standard_grid()
    half = np.full((elevation_deg.size, azimuth_deg.size), 0.5)
    return Pattern(elevation_deg, azimuth_deg, half, half, 0.5, frequency_mhz)


def dipole_power(frequency_mhz: float, height_m: float, ground: Ground) -> PowerBalance:
    r"""
    Input and sky power of a horizontal half-wave dipole over ground.

    Parameters
    ----------
    frequency_mhz : float
        Frequency at which the dipole is a half-wave long. [MHz]
    height_m : float
        Height of the wire, at least a thousandth of a wavelength. [m]
    ground : Ground
        Ground below.

    Returns
    -------
    power : PowerBalance
        Resistances at the centre. Over a perfect ground the input is the classic
        self less mutual resistance of dipole and image.

    Raises
    ------
    geo.errors.InputError
        If the frequency or the height is out of range.

    Notes
    -----
    With the horizontal wavenumber :math:`\kappa` and the vertical
    :math:`c = \sqrt{1-\kappa^2}` in units of :math:`k`, the azimuth :math:`\psi`
    from the wire, the transform of the current :math:`2g/k`,
    :math:`g = \cos(\tfrac{\pi}{2}\kappa\cos\psi)/(1-\kappa^2\cos^2\psi)`, and the
    delay down and up again :math:`d = e^{-2jkhc}`,

    .. math:: R = \frac{\eta}{2\pi^2}\,\mathrm{Re}\int_0^\infty\!\int_0^{2\pi}
       g^2\left[\frac{\sin^2\psi}{c}\,(1+R_{TE}\,d)
       + c\,\cos^2\psi\,(1-R_{TM}\,d)\right]\kappa\,d\psi\,d\kappa

    from the power of the current sheet :math:`z=h` in its own field, one plane
    wave at a time. Waves with :math:`\kappa>1` have imaginary :math:`c` and take
    power only where the ground is lossy or denser than air. The sky's share has
    half the squared sum of direct and reflected wave, :math:`\kappa<1`, instead of
    the real part. Derived here; tests hold it against the induced-EMF method over
    a perfect ground and against the Sommerfeld integrals of the mixed potentials.

    Examples
    --------
    >>> from advisor.antenna.ground import PERFECT
    >>> dipole_power(14.0, 21.41 / 2, PERFECT).input_ohm
    69.1
    """
    depth = _dipole_phase(frequency_mhz, height_m)
    eps = complex_permittivity(ground, frequency_mhz)

    sine, weight = travelling_waves(eps, 2.0 * depth)
    te, tm = wire_spectrum(np.sqrt(1.0 - sine**2))
    delay = np.exp(-2j * depth * sine)
    echo_te = reflection_te(sine, eps) * delay
    echo_tm = reflection_tm(sine, eps) * delay
    # κ dκ / c = κ d(elevation), and c² of it for the other polarisation.
    te, tm = te * weight, tm * sine**2 * weight
    travelling = np.sum(te * (1.0 + echo_te.real) + tm * (1.0 - echo_tm.real))
    sky = 0.5 * np.sum(te * abs(1.0 + echo_te) ** 2 + tm * abs(1.0 - echo_tm) ** 2)

    decay, weight = evanescent_waves(eps, _NEGLIGIBLE_NEPER / (2.0 * depth))
    te, tm = wire_spectrum(np.sqrt(1.0 + decay**2))
    # c = -j decay turns the real part into the reflection's imaginary part.
    near = te * reflection_te(-1j * decay, eps).imag
    near += tm * decay**2 * reflection_tm(-1j * decay, eps).imag
    evanescent = -np.sum(near * np.exp(-2.0 * depth * decay) * weight)

    scale = WAVE_IMPEDANCE_OHM / (2.0 * np.pi**2)
    return PowerBalance(float(scale * (travelling + evanescent)), float(scale * sky))


def dipole_pattern(frequency_mhz: float, height_m: float, ground: Ground) -> Pattern:
    r"""
    Pattern of a horizontal half-wave dipole over ground.

    Parameters
    ----------
    frequency_mhz : float
        Frequency at which the dipole is a half-wave long. [MHz]
    height_m : float
        Height of the wire, at least a thousandth of a wavelength. [m]
    ground : Ground
        Ground below.

    Returns
    -------
    pattern : Pattern
        On the standard grid, wire at bearing zero. The gain counts all power taken
        in, that which heats the ground too.

    Raises
    ------
    geo.errors.InputError
        If the frequency or the height is out of range.

    Notes
    -----
    At elevation :math:`\alpha` and azimuth :math:`\varphi` from the wire

    .. math:: G = \frac{\eta}{\pi R}\,g^2\left[
       \sin^2\varphi\,|1+R_h e^{-2jkh\sin\alpha}|^2
       + \cos^2\varphi\sin^2\alpha\,|1-R_v e^{-2jkh\sin\alpha}|^2\right]

    with :math:`R` from `dipole_power`; the first term is the horizontal
    polarisation. The structure is that of ITU-R BS.705 and of Balanis, "Antenna
    Theory", chapter 4.

    Examples
    --------
    >>> from advisor.antenna.ground import ground_by_name
    >>> dipole_pattern(14.0, 21.41 / 2, ground_by_name("average")).peak()
    Peak(gain_dbi=7.4, takeoff_deg=28.0, azimuth_deg=90.0)
    """
    depth = _dipole_phase(frequency_mhz, height_m)
    eps = complex_permittivity(ground, frequency_mhz)
    power = dipole_power(frequency_mhz, height_m, ground)
    elevation_deg, azimuth_deg = standard_grid()
    sine = np.sin(np.radians(elevation_deg))[:, None]
    cos_azimuth = np.cos(np.radians(azimuth_deg))
    delay = np.exp(-2j * depth * sine)
    along = np.sqrt(1.0 - sine**2) * cos_azimuth
    strength = WAVE_IMPEDANCE_OHM / (np.pi * power.input_ohm) * half_wave(along) ** 2
    broadside = abs(1.0 + reflection_te(sine, eps) * delay) ** 2
    endwise = abs(1.0 - reflection_tm(sine, eps) * delay) ** 2 * sine**2
    return Pattern(
        elevation_deg,
        azimuth_deg,
        vertical=strength * cos_azimuth**2 * endwise,
        horizontal=strength * (1.0 - cos_azimuth**2) * broadside,
        efficiency=power.efficiency,
        frequency_mhz=frequency_mhz,
    )


def half_wave_vertical_power(
    frequency_mhz: float, base_height_m: float, ground: Ground
) -> PowerBalance:
    r"""
    Input and sky power of a vertical half-wave wire above ground.

    Parameters
    ----------
    frequency_mhz : float
        Frequency at which the wire is a half-wave long. [MHz]
    base_height_m : float
        Height of its lower end, 0 or more; at 0 it stops just short of the
        ground. [m]
    ground : Ground
        Ground below.

    Returns
    -------
    power : PowerBalance
        Resistances at the middle, where the current is largest; fed at its end the
        same wire takes the same power at a far higher voltage.

    Raises
    ------
    geo.errors.InputError
        If the frequency or the height is out of range.

    Notes
    -----
    As `dipole_power`, for a current that runs up and only excites waves with the
    magnetic field along the ground:

    .. math:: R = \frac{\eta}{\pi}\,\mathrm{Re}\int_0^\infty
       \frac{\kappa^3}{c}\,g^2\,(1+R_{TM}\,e^{-2jkz_0c})\,d\kappa,
       \quad g = \frac{\cos(\tfrac{\pi}{2}c)}{1-c^2}

    with the middle at height :math:`z_0`. The loss to the ground from currents in a
    feed line or a counterpoise is not part of it.
    """
    base = _phase(frequency_mhz, base_height_m)
    eps = complex_permittivity(ground, frequency_mhz)

    sine, weight = travelling_waves(eps, 2.0 * base + np.pi)
    echo = reflection_tm(sine, eps) * np.exp(-1j * (2.0 * base + np.pi) * sine)
    # κ³ dκ / c = κ³ d(elevation)
    direct = half_wave(sine) ** 2 * (1.0 - sine**2) ** 1.5 * weight
    travelling = np.sum(direct * (1.0 + echo.real))
    sky = 0.5 * np.sum(direct * abs(1.0 + echo) ** 2)

    # A wire that comes down to the ground has no exponential cut-off; its waves
    # then fade as 1/κ² dκ.
    reach = _NEGLIGIBLE_NEPER / (2.0 * base) if base > 0.0 else np.inf
    decay, weight = evanescent_waves(eps, min(reach, np.exp(_NEGLIGIBLE_NEPER)))
    size = np.exp(-decay * base) + np.exp(-decay * (base + np.pi))
    # κ³ dκ / c = jκ³ dv, and g² has κ⁴ below the line.
    near = (0.5 * size) ** 2 / np.sqrt(1.0 + decay**2) * weight
    evanescent = -np.sum(near * reflection_tm(-1j * decay, eps).imag)

    scale = WAVE_IMPEDANCE_OHM / np.pi
    return PowerBalance(float(scale * (travelling + evanescent)), float(scale * sky))


def half_wave_vertical_pattern(
    frequency_mhz: float, base_height_m: float, ground: Ground
) -> Pattern:
    """
    Pattern of a vertical half-wave wire above ground.

    Parameters
    ----------
    frequency_mhz : float
        Frequency at which the wire is a half-wave long. [MHz]
    base_height_m : float
        Height of its lower end, 0 or more. [m]
    ground : Ground
        Ground below.

    Returns
    -------
    pattern : Pattern
        On the standard grid, the same all round. The gain counts all power taken
        in, as found by `half_wave_vertical_power`.

    Raises
    ------
    geo.errors.InputError
        If the frequency or the height is out of range.
    """
    base = _phase(frequency_mhz, base_height_m)
    eps = complex_permittivity(ground, frequency_mhz)
    power = half_wave_vertical_power(frequency_mhz, base_height_m, ground)
    elevation_deg, _ = standard_grid()
    sine = np.sin(np.radians(elevation_deg))
    echo = reflection_tm(sine, eps) * np.exp(-1j * (2.0 * base + np.pi) * sine)
    element = half_wave(sine) ** 2 * (1.0 - sine**2)
    gain = WAVE_IMPEDANCE_OHM / (np.pi * power.input_ohm) * element
    return _all_round(gain * abs(1.0 + echo) ** 2, power, frequency_mhz)


def quarter_wave_vertical_power(
    frequency_mhz: float, ground: Ground, loss_ohm: float = 0.0
) -> PowerBalance:
    r"""
    Input and sky power of a ground-mounted quarter-wave vertical.

    A limit to hold solved ones against (`advisor.antenna.earthed`): the power lost in
    the soil near the foot is stated and not modelled. The input resistance is that
    over a perfect ground, 36.5 ohm, and ``loss_ohm``. What the ground further out
    takes shows in the sky's share, by the Fresnel coefficients.

    Parameters
    ----------
    frequency_mhz : float
        Frequency at which the wire is a quarter-wave long. [MHz]
    ground : Ground
        Ground below and around.
    loss_ohm : float, optional
        Loss resistance of the ground system at the foot, 0 or more. [ohm]

    Returns
    -------
    power : PowerBalance
        Resistances at the foot.

    Raises
    ------
    geo.errors.InputError
        If the frequency or the loss is out of range.
    """
    if not 0.0 <= loss_ohm < np.inf:
        raise InputError(
            f"ground-system loss {loss_ohm} ohm is not 0 or more; leave it out for none"
        )
    wavelength_m(frequency_mhz)  # refuses an impossible frequency
    eps = complex_permittivity(ground, frequency_mhz)
    sine, weight = travelling_waves(eps, np.pi)
    shape = np.sqrt(1.0 - sine**2) ** 3 * weight
    scale = WAVE_IMPEDANCE_OHM / (8.0 * np.pi)
    sky = scale * np.sum(shape * abs(_monopole_field(sine, eps)) ** 2)
    # Over a perfect ground twice the real part of the direct field stays.
    ideal = scale * np.sum(shape * (2.0 * half_wave(sine)) ** 2)
    return PowerBalance(float(ideal) + loss_ohm, float(sky))


def quarter_wave_vertical_pattern(
    frequency_mhz: float, ground: Ground, loss_ohm: float = 0.0
) -> Pattern:
    r"""
    Pattern of a ground-mounted quarter-wave vertical.

    Parameters
    ----------
    frequency_mhz : float
        Frequency at which the wire is a quarter-wave long. [MHz]
    ground : Ground
        Ground below and around.
    loss_ohm : float, optional
        Loss resistance of the ground system at the foot, 0 or more. [ohm]

    Returns
    -------
    pattern : Pattern
        On the standard grid, the same all round. What the gain counts as input is
        told under `quarter_wave_vertical_power`.

    Raises
    ------
    geo.errors.InputError
        If the frequency or the loss is out of range.

    Notes
    -----
    .. math:: G = \frac{\eta}{4\pi R}\cos^2\alpha\,|D + R_v D^*|^2,\quad
       D = \int_0^{\pi/2}\cos x\,e^{jx\sin\alpha}\,dx

    Examples
    --------
    >>> from advisor.antenna.ground import PERFECT
    >>> quarter_wave_vertical_pattern(7.1, PERFECT, loss_ohm=0.0).peak()
    Peak(gain_dbi=5.2, takeoff_deg=0.0, azimuth_deg=0.0)
    """
    power = quarter_wave_vertical_power(frequency_mhz, ground, loss_ohm)
    eps = complex_permittivity(ground, frequency_mhz)
    elevation_deg, _ = standard_grid()
    sine = np.sin(np.radians(elevation_deg))
    field = _monopole_field(sine, eps)
    gain = WAVE_IMPEDANCE_OHM / (4.0 * np.pi * power.input_ohm) * abs(field) ** 2
    return _all_round(gain * (1.0 - sine**2), power, frequency_mhz)


def _phase(frequency_mhz: float, height_m: float) -> float:
    """Height in radians of free-space phase, checked."""
    wavelength = wavelength_m(frequency_mhz)
    if not 0.0 <= height_m < np.inf:
        raise InputError(
            f"height {height_m} m is not 0 or more; heights count from the ground"
        )
    return 2.0 * np.pi * height_m / wavelength


def _dipole_phase(frequency_mhz: float, height_m: float) -> float:
    """Height of a dipole in radians of free-space phase, checked."""
    phase = _phase(frequency_mhz, height_m)
    if phase < 2.0 * np.pi * _LOWEST_DIPOLE:
        least = _LOWEST_DIPOLE * wavelength_m(frequency_mhz)
        raise InputError(
            f"a dipole {height_m} m high on {frequency_mhz} MHz is lower than "
            f"{least:.3g} m, where this method ends; raise it"
        )
    return phase


def _monopole_field(sine: Floats, eps: Complexes) -> Complexes:
    """Direct and reflected field of cos(kz), 0 to a quarter-wave, less cos(el)."""
    gap = 1.0 - sine
    # (sin(πs/2) - s) / (1 - s²), whole at s = 1
    imaginary = (1.0 - np.pi**2 * gap / 8.0 * np.sinc(gap / 4.0) ** 2) / (1.0 + sine)
    direct = half_wave(sine) + 1j * imaginary
    return np.asarray(direct + reflection_tm(sine, eps) * direct.conj())


def _all_round(gain: Floats, power: PowerBalance, frequency_mhz: float) -> Pattern:
    """Vertically polarised pattern of one elevation cut, the same all round."""
    elevation_deg, azimuth_deg = standard_grid()
    shape = (elevation_deg.size, azimuth_deg.size)
    return Pattern(
        elevation_deg,
        azimuth_deg,
        vertical=np.broadcast_to(gain[:, None], shape),
        horizontal=np.zeros(shape),
        efficiency=power.efficiency,
        frequency_mhz=frequency_mhz,
    )
