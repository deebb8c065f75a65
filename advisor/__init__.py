"""
Public names for notebooks: ``from advisor import make_station, make_question, ...``.

Nothing is loaded before a name is used, so that ``import advisor`` and the command
line start quickly. What each name does stands in `docs/api.md` and in its own
documentation.
"""

# Type checkers take this name for true; `typing` itself is slow to import.
TYPE_CHECKING = False

if TYPE_CHECKING:
    from advisor.notebook.frames import (
        band_hours,
        bearings,
        best_bearings,
        chances,
        compare_setups,
        explain_figure,
        hop_modes,
        rank_setups,
        where_power_lands,
    )
    from advisor.notebook.inputs import (
        example_station,
        make_question,
        make_station,
        make_wire,
    )
    from advisor.notebook.sky_frames import hop_angles, path_hours, sky_hours
    from advisor.notebook.wire_frames import (
        feed_by_frequency,
        gain_by_bearing,
        wire_figures,
        wire_pattern,
    )
    from geo.errors import InputError

__all__ = [
    "InputError",
    "band_hours",
    "bearings",
    "best_bearings",
    "chances",
    "compare_setups",
    "example_station",
    "explain_figure",
    "feed_by_frequency",
    "gain_by_bearing",
    "hop_angles",
    "hop_modes",
    "make_question",
    "make_station",
    "make_wire",
    "path_hours",
    "rank_setups",
    "sky_hours",
    "where_power_lands",
    "wire_figures",
    "wire_pattern",
]

_HOMES = {
    "advisor.notebook.inputs": (
        "example_station",
        "make_question",
        "make_station",
        "make_wire",
    ),
    "advisor.notebook.sky_frames": ("hop_angles", "path_hours", "sky_hours"),
    "advisor.notebook.wire_frames": (
        "feed_by_frequency",
        "gain_by_bearing",
        "wire_figures",
        "wire_pattern",
    ),
    "geo.errors": ("InputError",),
}
"""Where a name is, if not in `advisor.notebook.frames`."""


def __getattr__(name: str) -> object:
    """Load a public name when it is first used (PEP 562)."""
    if name not in __all__:
        raise AttributeError(f"module 'advisor' has no attribute '{name}'")
    from importlib import import_module

    homes = [home for home, names in _HOMES.items() if name in names]
    module = import_module(homes[0] if homes else "advisor.notebook.frames")
    globals()[name] = found = getattr(module, name)
    return found


def __dir__() -> list[str]:
    """List the public names too, for completion."""
    return sorted({*globals(), *__all__})
