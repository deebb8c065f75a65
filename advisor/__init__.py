"""
The front door for programs and notebooks: ``from advisor import ask, make_question``.

Nothing is loaded before a name is used, so that ``import advisor`` and the command
line start quickly. What each name does stands in `docs/api.md` and in its own
documentation.
"""

PART_OF = "skiplobe"
"""The name of this package is a common one: so it is told whose it is."""

# Type checkers take this name for true; `typing` itself is slow to import.
TYPE_CHECKING = False

if TYPE_CHECKING:
    from advisor.antenna.pattern import Pattern as Pattern
    from advisor.engine.question import Question as Question
    from advisor.notebook.frames import Advice as Advice
    from advisor.notebook.frames import ask as ask
    from advisor.notebook.inputs import example_station as example_station
    from advisor.notebook.inputs import ionosonde_soundings as ionosonde_soundings
    from advisor.notebook.inputs import make_question as make_question
    from advisor.notebook.inputs import make_setup as make_setup
    from advisor.notebook.inputs import make_station as make_station
    from advisor.notebook.physics import links as links
    from advisor.notebook.physics import sky_hours as sky_hours
    from advisor.notebook.physics import wire_figures as wire_figures
    from advisor.notebook.physics import wire_pattern as wire_pattern
    from advisor.notebook.physics import wire_sweep as wire_sweep
    from advisor.propagation.lightning import atmospheric_noise as atmospheric_noise
    from advisor.propagation.noise import galactic_noise as galactic_noise
    from advisor.propagation.noise import man_made_noise as man_made_noise
    from advisor.station.setup import SetUp as SetUp
    from advisor.station.station import Station as Station
    from geo.errors import InputError as InputError
    from geo.ionosphere.hops import hop_length_km as hop_length_km
    from geo.ionosphere.hops import takeoff_angle_deg as takeoff_angle_deg
    from geo.ionosphere.layers import layers_at as layers_at
    from geo.paths import paths_to as paths_to

_HOMES = {
    "Advice": "advisor.notebook.frames",
    "InputError": "geo.errors",
    "Pattern": "advisor.antenna.pattern",
    "Question": "advisor.engine.question",
    "SetUp": "advisor.station.setup",
    "Station": "advisor.station.station",
    "ask": "advisor.notebook.frames",
    "atmospheric_noise": "advisor.propagation.lightning",
    "example_station": "advisor.notebook.inputs",
    "galactic_noise": "advisor.propagation.noise",
    "hop_length_km": "geo.ionosphere.hops",
    "ionosonde_soundings": "advisor.notebook.inputs",
    "layers_at": "geo.ionosphere.layers",
    "links": "advisor.notebook.physics",
    "make_question": "advisor.notebook.inputs",
    "make_setup": "advisor.notebook.inputs",
    "make_station": "advisor.notebook.inputs",
    "man_made_noise": "advisor.propagation.noise",
    "paths_to": "geo.paths",
    "sky_hours": "advisor.notebook.physics",
    "takeoff_angle_deg": "geo.ionosphere.hops",
    "wire_figures": "advisor.notebook.physics",
    "wire_pattern": "advisor.notebook.physics",
    "wire_sweep": "advisor.notebook.physics",
}
"""Where each public name is."""

_OF_ARRAYS = {
    "atmospheric_noise", "galactic_noise", "hop_length_km", "layers_at",
    "man_made_noise", "paths_to", "takeoff_angle_deg",
}  # fmt: skip
"""Functions that know of numbers alone; units and zones are taken off before them."""

__all__ = list(_HOMES)


def __getattr__(name: str) -> object:
    """Load a public name when it is first used (PEP 562)."""
    if name == "__version__":
        from importlib.metadata import version

        return version("skiplobe")
    if name not in _HOMES:
        raise AttributeError(f"module 'advisor' has no attribute '{name}'")
    from importlib import import_module

    found = getattr(import_module(_HOMES[name]), name)
    if name in _OF_ARRAYS:
        from advisor.notebook.door import at_the_door

        found = at_the_door(found)
    globals()[name] = found
    return found


def __dir__() -> list[str]:
    """List the public names too, for completion."""
    return sorted({*globals(), *_HOMES})
