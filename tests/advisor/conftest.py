"""Short ways to ask a whole question in a test."""

import os
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from advisor.answers.advice import Answer
from advisor.answers.ask import answer, question_for
from advisor.station.file import resolve_station
from tests.once import kept

Ask = Callable[..., Answer]


@pytest.fixture(autouse=True, scope="module")
def one_answer(answers_once):
    """What is shown in many ways is worked out once."""


@pytest.fixture(scope="session")
def ask() -> Ask:
    """Ask from a place to a target with one wire; everything else by keyword."""
    answer_once = kept(answer)

    def question(
        place: str,
        target: str | list[str],
        start: str,
        *,
        hours: int = 24,
        r12: float = 60.0,
        height_m: float = 10.0,
        shape: str = "dipole",
        setups: list[dict] | None = None,
        long_path: bool = False,
        **values,
    ) -> Answer:
        wire = {"name": "wire", "shape": shape}
        if shape == "dipole":
            wire["height_m"] = height_m
        station, _ = resolve_station(
            None, {"place": place, "setups": setups or [wire], **values}
        )
        targets = [target] if isinstance(target, str) else target
        return answer_once(
            question_for(
                station,
                targets,
                np.datetime64(start),
                hours,
                r12=r12,
                long_path=long_path,
            ),
            Path(os.environ["SKIPLOBE_CACHE_DIR"]),
        )

    return question
