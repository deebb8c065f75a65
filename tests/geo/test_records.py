"""Records with arrays: nothing is written to them, and equality is meant."""

import dataclasses
import importlib
import pkgutil
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from advisor.answers.ask import question_for
from advisor.engine.engine import link_for
from advisor.engine.wires import far_end_patterns
from advisor.station.file import resolve_station
from geo.records import ArrayRecord, ContentRecord

ROOMS = ("geo", "advisor.propagation", "advisor.reliability", "advisor.engine")


class Held(ContentRecord):
    """Arrays in all places."""

    alone: NDArray[np.float64]
    pair: tuple[NDArray[np.float64], NDArray[np.float64]]
    name: str = ""


class Named(ArrayRecord):
    """Arrays by name."""

    by_name: dict[str, NDArray[np.float64]]


def test_no_array_of_a_record_can_be_written_to():
    given = np.arange(3.0)
    held, named = Held(given, (given, given)), Named({"a": given})
    for array in (held.alone, *held.pair, named.by_name["a"]):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 1.0
    with pytest.raises(TypeError):
        named.by_name["b"] = given
    # The caller's own array is the caller's.
    given[0] = 5.0


def test_records_are_alike_by_what_they_hold_or_not_at_all():
    one, other = (Held(np.arange(3.0), (np.ones(2), np.full(1, np.nan))) for _ in "12")
    assert one == other
    assert hash(one) == hash(other)
    assert one != replace(one, alone=np.arange(3.0) + 1e-9)
    assert one != replace(one, alone=np.arange(3))
    assert one != replace(one, name="other")
    assert one != "something else"
    given = {"a": np.ones(2)}
    assert Named(given) != Named(given)


@pytest.mark.slow
def test_a_question_put_twice_is_one_question():
    """And one of another hour or activity is not; its sky cannot be written to."""

    def asked(hour="2026-12-05T16", r12=60.0):
        wire = {"name": "wire", "shape": "dipole", "height_m": 8.0}
        station, _ = resolve_station(None, {"place": "48,10", "setups": [wire]})
        hours = np.datetime64(hour), 2
        return question_for(station, ["014"], *hours, band_names=["20 m"], r12=r12)

    question = asked()
    assert question == asked()
    assert hash(question) == hash(asked())
    assert len({question, asked(), asked(r12=61.0), asked("2026-12-05T17")}) == 3
    for array in (question.times, question.solar.r12, question.targets[0].weight):
        assert not array.flags.writeable
    far = far_end_patterns(question.station.far_end, question.bands)
    one, other = (link_for(question, 60.0, far) for _ in "12")
    assert one == one
    assert one != other
    assert not one.modes.returned.flags.writeable
    assert not one.modes.losses_db["absorption"].flags.writeable


def test_every_record_of_these_rooms_that_holds_arrays_is_one():
    bare = []
    for room in ROOMS:
        package = importlib.import_module(room)
        for info in pkgutil.walk_packages(package.__path__, f"{room}."):
            module = importlib.import_module(info.name)
            for name, thing in vars(module).items():
                if not dataclasses.is_dataclass(thing) or thing.__module__ != info.name:
                    continue
                held = [str(field.type) for field in dataclasses.fields(thing)]
                holds = any("NDArray" in kind and "->" not in kind for kind in held)
                holds &= not any(kind.startswith("Callable") for kind in held)
                if holds and not issubclass(thing, ArrayRecord):
                    bare.append(f"{info.name}.{name}")
                assert not holds or "__eq__" not in vars(thing), name
    assert not bare
