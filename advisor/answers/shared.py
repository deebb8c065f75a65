"""Work shared out over several processes."""

from __future__ import annotations

import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from multiprocessing import connection, get_context
from typing import Any, TypeVar

T = TypeVar("T")


def share_out(
    work: Callable[[int], Iterator[tuple[int, T]]],
    count: int,
    take: Callable[[T], None],
    processes: int,
) -> Iterator[int]:
    """
    Do pieces of work, each in the next process that is free.

    Parameters
    ----------
    work : callable
        Given the place of a piece, does it and yields the steps done and what to take.
    count : int
        How many pieces there are.
    take : callable
        Given what the pieces yield, in this process, also of work that is stopped.
    processes : int
        How many to split off: copies of this one, which must have one thread.

    Yields
    ------
    steps : int
        Steps done since the last time. A process that dies, or meets an error, leaves
        its piece undone and yields no more.
    """
    fork = get_context("fork")
    place = fork.Value("i", 0)
    running: list[Any] = []
    ends: list[connection.Connection[Any, Any]] = []
    try:
        for _ in range(processes):
            ours, theirs = fork.Pipe(duplex=False)
            ends.append(ours)
            given = (work, count, place, theirs, ends)
            one = fork.Process(target=_do, args=given, daemon=True)
            # Half-way through a fork Ctrl-C would be lost in somebody's lock.
            with _without_stop():
                one.start()
                running.append(one)
            theirs.close()
        while ends:
            for end in connection.wait(ends):
                assert isinstance(end, connection.Connection)
                try:
                    # Else Ctrl-C could lose what is read and not yet taken.
                    with _without_stop():
                        steps, part = end.recv()
                        take(part)
                except EOFError:
                    ends.remove(end)
                    continue
                yield steps
    finally:
        for one in running:
            one.terminate()
            one.join()
        for end in ends:
            # Sent before the work was stopped.
            with suppress(EOFError, OSError):
                while end.poll():
                    take(end.recv()[1])


@contextmanager
def _without_stop() -> Iterator[None]:
    """Let Ctrl-C wait until this is done."""
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _do(
    work: Callable[[int], Iterator[tuple[int, T]]],
    count: int,
    place: Any,
    end: connection.Connection[Any, Any],
    not_mine: list[connection.Connection[Any, Any]],
) -> None:
    """Do the next piece that nobody has taken, until there is none."""
    # Ctrl-C reaches all of them; the first process says what is to be done.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    # Else nobody would find out that the first process is gone, and wait for ever.
    for other in not_mine:
        other.close()
    while True:
        with place.get_lock():
            index, place.value = place.value, place.value + 1
        if index >= count:
            return
        try:
            for each in work(index):
                end.send(each)
        except Exception:
            # Whoever does the piece again meets it too, and can tell it.
            return
