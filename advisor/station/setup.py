"""
Set-ups: one wire as hung, the keys a station file may give it, and their checks.

A set-up holds only what was given; what is left out takes the default of its shape,
which may go with the band. The shapes are those of `advisor.antenna.shapes.registry`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from advisor.station.bands import band_by_name
from advisor.station.checks import (
    Key,
    Where,
    bearing,
    checked,
    flag,
    number,
    one_of,
    several,
    text,
)
from advisor.station.list_checks import parts, points
from geo.errors import InputError

if TYPE_CHECKING:
    from advisor.antenna.shapes.spec import ShapeSpec

EACH_BAND, ONE_LENGTH = "each band", "one length"
"""Whether a wire is cut (linked) for each of its bands or has one length for all."""

_NOTHING = "none"


def _shapes() -> Mapping[str, ShapeSpec]:
    """Every shape by name; they load numpy, which a station file does without."""
    from advisor.antenna.shapes.registry import SHAPES

    return SHAPES


def _shape(value: Any) -> str:
    """Accept a shape by its name, or by what people call only that one."""
    from advisor.antenna.shapes.registry import shapes_called

    found = shapes_called(value) if isinstance(value, str) else ()
    return found[0] if len(found) == 1 else one_of(lambda: tuple(_shapes()))(value)


@dataclass(frozen=True)
class SetUp:
    """
    One wire as hung.

    Attributes
    ----------
    name : str
        What the operator calls it.
    shape : str
        A name in the registry.
    bands : tuple of str
        Bands it is used on; empty for those of the station it is given to.
    bearing_deg : float or None
        Way the wire runs, clockwise from true north; None if it is free to turn
        or has no bearing. [deg]
    dimensions : tuple of (str, float)
        The dimensions that were given, each in the unit its name ends in.
    points_m : tuple of tuple of float
        East, north and up of the points of a free wire. [m]
    cut : str
        `EACH_BAND` or `ONE_LENGTH`.
    transformer : str or None
        At the feedpoint; None for the one usual with the shape, ``none`` for none.
    line : str or None
        From there to the radio; None for the one usual, ``none`` for none.
    line_m : float
        Its length. [m]
    tuner : bool
        Whether a tuner at the radio takes the mismatch away.
    wire_mm : float
        Diameter of the metal. [mm]
    insulation_mm : float
        Thickness of a coat of plastic, 0 for bare wire. [mm]
    metal, plastic : str
        What wire and coat are made of.
    coils : tuple of (float, float, float)
        Distance from where the wire starts, inductance and Q of each coil in it.
        [m, µH, 1]
    traps : tuple of (float, float, float, float)
        Distance, inductance, capacitance across it, Q of the coil. [m, µH, pF, 1]
    resistors : tuple of (float, float)
        Distance and resistance. [m, ohm]
    radials_at_m : float or None
        Height that radials or counterpoise are led to, negative in the ground; None if
        they hang at the feedpoint. [m]
    stake_m : float
        Depth of a stake under the feedpoint, 0 for none. [m]
    choke_ohm : float or None
        What a choke puts into the outside of a coaxial line, 0 for no choke; None if
        nothing flows there, as with a perfect one. [ohm]
    choke_at_m : float
        How far from the feedpoint it is. [m]
    line_away_deg : float
        Which way the line lies, clockwise from the wire. [deg]
    level_db : tuple of (str, float)
        Band, and what its signal is stronger there than it works out to be, as learned.
        [dB]
    """

    name: str
    shape: str
    bands: tuple[str, ...]
    bearing_deg: float | None = None
    dimensions: tuple[tuple[str, float], ...] = ()
    points_m: tuple[tuple[float, float, float], ...] = ()
    cut: str = ONE_LENGTH
    transformer: str | None = None
    line: str | None = None
    line_m: float = 10.0
    tuner: bool = True
    wire_mm: float = 2.0
    insulation_mm: float = 0.0
    metal: str = "copper"
    plastic: str = "polyethylene"
    coils: tuple[tuple[float, float, float], ...] = ()
    traps: tuple[tuple[float, float, float, float], ...] = ()
    resistors: tuple[tuple[float, float], ...] = ()
    radials_at_m: float | None = None
    stake_m: float = 0.0
    choke_ohm: float | None = None
    choke_at_m: float = 0.0
    line_away_deg: float = 90.0
    level_db: tuple[tuple[str, float], ...] = ()
    _given: frozenset[str] = field(default=frozenset(), repr=False, compare=False)

    def __repr__(self) -> str:
        sizes = "".join(f", {key} {value:g}" for key, value in self.dimensions)
        named = self.name if self.name == self.shape else f"{self.name}: {self.shape}"
        on = f" on {', '.join(self.bands)}" if self.bands else ""
        runs = "" if self.bearing_deg is None else f", runs {self.bearing_deg:03.0f}"
        free = ", free to turn" if self.is_free_to_turn else ""
        return f"SetUp({named}{on}{sizes}{runs}{free})"

    @property
    def is_free_to_turn(self) -> bool:
        """Whether the best bearing is to be looked for."""
        return self.bearing_deg is None and _shapes()[self.shape].has_bearing

    def changed(self, **values: Any) -> SetUp:
        """
        Make the same set-up with some values changed, checked as in a file.

        Parameters
        ----------
        **values : object
            Keys of the set-up; a bearing of "any" frees it to turn.

        Returns
        -------
        set_up : SetUp
            The changed copy.

        Raises
        ------
        InputError
            If a key is unknown or a value is not allowed.
        """
        made = build_set_up({**self.as_mapping(), **values}, self.bands)
        return replace(made, level_db=self.level_db)

    def as_mapping(self) -> dict[str, Any]:
        """
        Return the keys and values a station file would hold.

        Returns
        -------
        values : dict
            Accepted by `build_set_up`; keys left to their defaults are left out,
            but for those every set-up has.
        """
        values: dict[str, Any] = {
            "name": self.name,
            "shape": self.shape,
            **({"bands": list(self.bands)} if self.bands else {}),
            **dict(self.dimensions),
        }
        if _shapes()[self.shape].has_bearing:
            values["bearing_deg"] = (
                "any" if self.bearing_deg is None else self.bearing_deg
            )
        if self.points_m:
            values["points_m"] = [list(point) for point in self.points_m]
        for key in _COMMON_KEYS:
            if key in self._given:
                value = getattr(self, key)
                many = isinstance(value, tuple)
                values[key] = [list(each) for each in value] if many else value
        return values


def shape_keys(shape: str) -> dict[str, Key]:
    """
    List the keys one shape has besides those of every set-up.

    Parameters
    ----------
    shape : str
        A name in the registry.

    Returns
    -------
    keys : dict of str to Key
        Dimensions with their limits, the bearing, the points.
    """
    spec = _shapes()[shape]
    keys = {
        name: Key(
            number(size.low, size.high, "" if size.unit == "1" else size.unit),
            f"{size.help} [{size.unit}]",
        )
        for name, size in spec.dimensions.items()
    }
    if spec.has_bearing:
        keys["bearing_deg"] = Key(bearing, "way the wire runs from true north [deg]")
    if spec.takes_points:
        keys["points_m"] = Key(
            points, "east, north and up of each point [m]", required=True
        )
    return keys


def lowest_mhz(setup: SetUp, frequency_mhz: float) -> float:
    """
    Frequency that the lengths of a set-up go by when it is used on another.

    Parameters
    ----------
    setup : SetUp
        The set-up.
    frequency_mhz : float
        Where it is used. [MHz]

    Returns
    -------
    lowest_mhz : float
        The same if it is cut for each band or no band is named, else that of its
        lowest band. [MHz]
    """
    if setup.cut == EACH_BAND:
        return frequency_mhz
    cut_for = (band_by_name(name).planning_mhz for name in setup.bands)
    return min(cut_for, default=frequency_mhz)


def sizes_on(setup: SetUp, frequency_mhz: float) -> tuple[dict[str, float], bool]:
    """
    Work out the dimensions that are given for a frequency.

    Parameters
    ----------
    setup : SetUp
        The set-up.
    frequency_mhz : float
        Where it is used. [MHz]

    Returns
    -------
    sizes : dict of str to float
        Those of the set-up. A sloping wire that is linked for its bands stays on the
        line of its longest, which its given lower end is that of. [m]
    is_on_rest : bool
        Whether the rest of that longest wire goes on from its lower end.
    """
    from advisor.antenna.shapes.registry import settle

    sizes, slope = dict(setup.dimensions), _shapes()[setup.shape].slope
    bands = [band_by_name(name) for name in setup.bands]
    longest = min(bands, key=lambda band: band.low_mhz, default=None)
    if setup.cut != EACH_BAND or not slope or longest is None:
        return sizes, False
    if frequency_mhz <= longest.high_mhz:
        return sizes, False
    top, low = slope
    whole = settle(setup.shape, longest.planning_mhz, sizes)
    here = settle(setup.shape, frequency_mhz, sizes)
    share = here["length_m"] / whole["length_m"]
    return {
        **sizes,
        top: whole[top],
        low: whole[top] - share * (whole[top] - whole[low]),
    }, share < 1.0


def default_sizes(setup: SetUp) -> dict[str, tuple[float, float]]:
    """
    Work out the dimensions of a set-up that were left to their defaults.

    Parameters
    ----------
    setup : SetUp
        The set-up.

    Returns
    -------
    sizes : dict of str to (float, float)
        Least and greatest value over its bands; empty for a shape without any. [m]
    """
    from advisor.antenna.shapes.registry import settle

    given = dict(setup.dimensions)
    on = [band_by_name(name).planning_mhz for name in setup.bands]
    settled = [
        settle(setup.shape, lowest_mhz(setup, mhz), sizes_on(setup, mhz)[0])
        for mhz in on
    ]
    return {
        key: (min(each[key] for each in settled), max(each[key] for each in settled))
        for key in settled[0]
        if key not in given
    }


def height_key(shape: str) -> str:
    """
    Name the key that says how high a shape's top hangs.

    Parameters
    ----------
    shape : str
        A name as typed.

    Returns
    -------
    key : str
        Such as ``apex_m``; empty if there is none, ``height_m`` if the shape is
        unknown, which is told elsewhere.

    Examples
    --------
    >>> height_key("inverted V"), height_key("dipole")
    ('apex_m', 'height_m')
    """
    from advisor.antenna.shapes.registry import shapes_called

    found = shapes_called(shape)
    return _shapes()[found[0]].top if len(found) == 1 else "height_m"


def _line_choices() -> tuple[str, ...]:
    """Names of the feed lines, and none."""
    from advisor.antenna.line import line_names

    return (*line_names(), _NOTHING)


def _transformer_choices() -> tuple[str, ...]:
    """Names of the transformers, and none."""
    from advisor.antenna.feed import transformer_names

    return (*transformer_names(), _NOTHING)


def band_name(value: Any) -> str:
    """
    Accept a band by name or frequency.

    Parameters
    ----------
    value : object
        What came.

    Returns
    -------
    name : str
        Its usual name.

    Raises
    ------
    InputError
        If there is no such band.
    """
    return band_by_name(text(value)).name


def _metal_choices() -> tuple[str, ...]:
    """Names of the metals."""
    from advisor.antenna.materials import metals

    return tuple(metals())


def _plastic_choices() -> tuple[str, ...]:
    """Names of the plastics."""
    from advisor.antenna.materials import plastics

    return tuple(plastics())


_ALONG = number(0.0, 400.0, "m", above=True)
_MICROHENRY = number(0.01, 1e4, "µH")
_QUALITY = number(1.0, 5000.0, "")

_COMMON_KEYS: dict[str, Key] = {
    "cut": Key(
        one_of(lambda: (EACH_BAND, ONE_LENGTH)),
        "cut for each band, or one length for all",
    ),
    "transformer": Key(one_of(_transformer_choices), "transformer at the feedpoint"),
    "line": Key(one_of(_line_choices), "line from there to the radio"),
    "line_m": Key(number(0.0, 500.0, "m"), "its length [m]", 10.0),
    "tuner": Key(flag, "whether a tuner at the radio takes the mismatch away", True),
    "wire_mm": Key(number(0.1, 20.0, "mm"), "diameter of the wire [mm]", 2.0),
    "insulation_mm": Key(number(0.0, 10.0, "mm"), "thickness of its coat [mm]", 0.0),
    "metal": Key(one_of(_metal_choices), "what the wire is made of", "copper"),
    "plastic": Key(
        one_of(_plastic_choices), "what its coat is made of", "polyethylene"
    ),
    "coils": Key(
        parts(at_m=_ALONG, inductance_uh=_MICROHENRY, q=_QUALITY),
        "coils in the wire: how far along, inductance, Q [m, µH, 1]",
        (),
    ),
    "traps": Key(
        parts(
            at_m=_ALONG,
            inductance_uh=_MICROHENRY,
            capacitance_pf=number(0.1, 1e5, "pF"),
            q=_QUALITY,
        ),
        "traps: how far along, coil, capacitor across it, Q [m, µH, pF, 1]",
        (),
    ),
    "resistors": Key(
        parts(at_m=_ALONG, resistance_ohm=number(0.01, 1e5, "ohm")),
        "resistors: how far along, resistance [m, ohm]",
        (),
    ),
    "radials_at_m": Key(
        number(-2.0, 2.0, "m"),
        "height radials or counterpoise are led to, negative in the ground [m]",
    ),
    "stake_m": Key(number(0.0, 5.0, "m"), "depth of a stake at the feed [m]", 0.0),
    "choke_ohm": Key(
        number(0.0, 1e5, "ohm"),
        "what a choke puts into the outside of the coax; 0 for none [ohm]",
    ),
    "choke_at_m": Key(number(0.0, 500.0, "m"), "how far from the feed it is [m]", 0.0),
    "line_away_deg": Key(
        number(0.0, 360.0, "deg"), "way the line lies, from the wire [deg]", 90.0
    ),
}

SET_UP_KEYS: dict[str, Key] = {
    "name": Key(text, "what you call it"),
    "shape": Key(_shape, "shape of the wire"),
    "bands": Key(several(band_name, "bands", commas=True), "bands it is used on"),
    **_COMMON_KEYS,
}
"""The keys of every set-up; left out, the name is the shape, the bands yours."""


def build_set_up(
    values: Any,
    bands: tuple[str, ...],
    path: str = "",
    where: Where = lambda path: path or "set-up",
) -> SetUp:
    """
    Make a set-up from the keys and values of a file or of options.

    Parameters
    ----------
    values : mapping
        ``shape`` and the keys of that shape; ``name`` and ``bands`` may be left
        out.
    bands : tuple of str
        Bands it is cut for if it names none.
    path : str, optional
        Key path, for the error text.
    where : callable, optional
        Names a key path as the user knows it, for the error text.

    Returns
    -------
    set_up : SetUp
        What was given, checked.

    Raises
    ------
    InputError
        If the shape or a key is missing or unknown, or a value is not allowed.

    Examples
    --------
    >>> hung = build_set_up({"shape": "dipole", "height_m": 7.5}, ("20 m",))
    >>> hung.dimensions, hung.cut
    ((('height_m', 7.5),), 'each band')
    """
    given = check_set_up(values, path, where)
    shape = given["shape"]
    sizes = tuple(
        (name, given[name])
        for name in shape_keys(shape)
        if name not in ("bearing_deg", "points_m") and name in given
    )
    fixed = "length_m" in given or not _shapes()[shape].is_resonant
    common = {
        name: given.get(name, key.default)
        for name, key in _COMMON_KEYS.items()
        if name != "cut"
    }
    return SetUp(
        name=given.get("name", shape),
        shape=shape,
        bands=given.get("bands", bands),
        bearing_deg=given.get("bearing_deg"),
        dimensions=sizes,
        points_m=given.get("points_m", ()),
        cut=given.get("cut", ONE_LENGTH if fixed else EACH_BAND),
        **common,
        _given=frozenset(name for name in _COMMON_KEYS if name in given),
    )


def check_set_up(values: Any, path: str, where: Where) -> dict[str, Any]:
    """
    Check the keys and values of one set-up.

    Parameters
    ----------
    values : mapping
        What came.
    path : str
        Key path, for the error text.
    where : callable
        Names a key path as the user knows it, for the error text.

    Returns
    -------
    values : dict
        The checked values of the keys that were given.

    Raises
    ------
    InputError
        If the shape or a key is missing or unknown, or a value is not allowed.
    """
    shape_only = (
        {"shape": values.get("shape")} if isinstance(values, Mapping) else values
    )
    shape = checked(shape_only, SET_UP_KEYS, path, where).get("shape")
    if shape is None:
        raise InputError(
            f"{where(path)}: no shape: give shape = one of {', '.join(_shapes())}"
        )
    keys = SET_UP_KEYS | shape_keys(shape)
    given = checked(values, keys, path, where)
    if given.get("cut") == EACH_BAND and "length_m" in given:
        raise InputError(
            f"{where(path)}: length_m is given and cut is '{EACH_BAND}': a "
            "wire cut for each band finds its own lengths; leave one of the two out"
        )
    if (word := "line_away_deg") in given and "choke_ohm" not in given:
        raise InputError(
            f"{where(f'{path}.{word}' if path else word)}: {word} says nothing without "
            "choke_ohm: give that too (0 for no choke), or leave it out"
        )
    for name, key in keys.items():
        if key.required and name not in given:
            raise InputError(f"{where(path)}: a {shape} needs {name}, {key.about}")
    return given
