"""Newer work takes the place of older: what has not begun is skipped, what has begun ends at its next tick."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable

import pytest

from sunsched.planner.lanes import Lane, Overtaken


def run(go: Callable[[Lane], object]) -> None:
    """Run a coroutine function with a lane of its own."""
    lane = Lane("test")
    try:
        asyncio.run(go(lane))  # type: ignore[arg-type]
    finally:
        lane.close()


def test_ten_requests_at_once_do_the_first_and_the_last() -> None:
    gate, done = threading.Event(), list[int]()

    async def go(lane: Lane) -> None:
        def first(tick: Callable[[], None]) -> int:
            gate.wait(10)
            return 0

        def work(n: int) -> Callable[[Callable[[], None]], int]:
            def note(tick: Callable[[], None]) -> int:
                done.append(n)
                return n

            return note

        asked = [asyncio.ensure_future(lane.run("a", first))]
        await asyncio.sleep(0)
        asked += [asyncio.ensure_future(lane.run("a", work(n))) for n in range(1, 10)]
        await asyncio.sleep(0)
        gate.set()
        found = await asyncio.gather(*asked, return_exceptions=True)
        assert found[0] == 0 and found[-1] == 9 and done == [9]
        assert all(isinstance(one, Overtaken) for one in found[1:-1])
        assert lane.begun == 2

    run(go)


def test_another_page_is_not_overtaken() -> None:
    async def go(lane: Lane) -> None:
        found = await asyncio.gather(*(lane.run(page, lambda tick: tick()) for page in "abc"))
        assert found == [None, None, None]

    run(go)


def test_begun_work_ends_at_its_tick_once_it_is_overtaken() -> None:
    begun, gate = threading.Event(), threading.Event()

    async def go(lane: Lane) -> None:
        def long(tick: Callable[[], None]) -> None:
            tick()
            begun.set()
            gate.wait(10)
            tick()

        asked = asyncio.ensure_future(lane.run("a", long, overtakes=False))
        while not begun.is_set():
            await asyncio.sleep(0.01)
        lane.overtake("a")
        gate.set()
        with pytest.raises(Overtaken):
            await asked

    run(go)


def test_work_that_overtakes_nothing_stands_in_line() -> None:
    async def go(lane: Lane) -> None:
        lane.overtake("a")  # of a page that has asked for nothing
        found = await asyncio.gather(*(lane.run("a", lambda tick: tick(), overtakes=False) for _ in range(3)))
        assert found == [None, None, None] and lane.begun == 3

    run(go)


def test_pages_that_are_gone_are_forgotten() -> None:
    async def go(lane: Lane) -> None:
        for n in range(300):
            await lane.run(str(n), lambda tick: None)
        assert len(lane._newest) <= 100

    run(go)
