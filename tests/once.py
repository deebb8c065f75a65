"""Whole answers worked out once in a process: asked again, they are only shown anew."""

import pickle
from collections import OrderedDict
from functools import wraps
from importlib import import_module

import numpy as np

from advisor.answers.advice import Answer

ENTRIES = {
    "ask": "answer",
    "aim": "aim",
    "compare": "compare",
    "outing.plan": "plan_activation",
    "far_places.reach": "reach",
    "skies.sky": "sky_table",
    "why": "explain_chance",
}
"""Modules of `advisor.answers`, and what the commands call in each."""

MOST = 16
"""So many answers of each are kept, for the memory's sake."""


def key_of(given):
    """
    What is asked, to the byte; an answer handed on is told by being that one.

    What can be called only shows how far the work is.
    """
    return tuple(
        id(each) if isinstance(each, Answer) else pickle.dumps(each)
        for each in given
        if not callable(each)
    )


def kept(function):
    """Return the function that works out anew only what it is not asked again."""
    found = OrderedDict()

    @wraps(function)
    def once(*args, **named):
        given = (*args, *(x for pair in sorted(named.items()) for x in pair))
        key = key_of(given)
        if key not in found:
            # With what was given, so that no other object takes its place.
            found[key] = function(*args, **named), given
        found.move_to_end(key)
        if len(found) > MOST:
            found.popitem(last=False)
        return found[key][0]

    return once


def put_in(patch, namespace=None):
    """
    Replace each entry by a `pytest.MonkeyPatch`, or what is like one.

    In a namespace too, where it goes by its own name: that of a module of tests. One
    that changes how answers are worked out must not have it.
    """
    for module, name in ENTRIES.items():
        place = import_module(f"advisor.answers.{module}")
        function = getattr(place, name)
        once = KEPT.setdefault(function, kept(function))
        patch.setattr(place, name, once)
        if getattr(namespace, name, None) is function:
            patch.setattr(namespace, name, once)


def take_out(patch, namespace=None):
    """Put each entry back, for what changes how answers are worked out."""
    for function, once in KEPT.items():
        for place in (import_module(function.__module__), namespace):
            if getattr(place, function.__name__, None) is once:
                patch.setattr(place, function.__name__, function)


def put_in_for_good(patch):
    """
    The same for a process of its own, where every command is asked in one way.

    Then a log is told, and a wire sought, once too; maps are coarse.
    """
    put_in(patch)
    coarse_world(patch)
    judge = import_module("advisor.answers.verification.check")
    patch.setattr(judge, "check", kept(judge.check))
    hanging = import_module("advisor.answers.hanging.search")
    search = hanging.HangSearch

    def sought(*given):
        found, steps = search(*given), []
        anew = found.run

        def run(*processes):
            steps.extend([] if steps else anew(*processes))
            return iter(steps)

        found.run = run
        return found

    patch.setattr(hanging, "HangSearch", kept(sought))


def coarse_world(patch):
    """Draw maps of the world with a third of the rays, where they are not tested."""
    world = import_module("advisor.answers.pictures.world")
    turned = import_module("advisor.answers.pictures.world_turned")
    chances = world.world_chances
    patch.setattr(chances, "__defaults__", (30.0, *chances.__defaults__[1:]))
    azimuth_deg = np.arange(0.0, 360.0, 60.0)
    few = turned.Grid(turned.COARSE.edge_km[::3], azimuth_deg)
    patch.setattr(turned, "COARSE", few)


KEPT = {}
"""Of every function the one that keeps, for all modules of tests in a process."""
