"""Work off the event loop, one thread a lane, where a newer request of a page takes the place of older ones."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

T = TypeVar("T")
_MOST_PAGES = 100


class Overtaken(Exception):
    """A newer request of the same page came: this one is of no use any more."""


class Lane:
    """One thread, and for each page the number of its newest request.

    A page that asks again has its older requests skipped where they have not begun; one that has begun ends at its next
    tick, where it has any.
    """

    def __init__(self, name: str) -> None:
        self._thread = ThreadPoolExecutor(1, thread_name_prefix=f"planner-{name}")
        self._newest: dict[str, int] = {}
        self.begun = 0

    async def run(self, page: str, work: Callable[[Callable[[], None]], T], overtakes: bool = True) -> T:
        """The work's result. `work` is given a tick, which raises Overtaken once a newer request has come.

        overtakes   False for work that only a newer setting makes useless, not the next of its kind
        """
        if page not in self._newest and len(self._newest) >= _MOST_PAGES:
            self._newest.pop(next(iter(self._newest)))
        mine = self._newest.get(page, 0) + overtakes
        self._newest[page] = mine

        def tick() -> None:
            if self._newest.get(page, 0) != mine:
                raise Overtaken

        def begun() -> T:
            tick()
            self.begun += 1
            return work(tick)

        return await asyncio.get_running_loop().run_in_executor(self._thread, begun)

    def overtake(self, page: str) -> None:
        """Put off whatever a page has asked for and no longer wants."""
        if page in self._newest:
            self._newest[page] += 1

    def close(self) -> None:
        """Let the thread end, without what has not begun."""
        self._thread.shutdown(wait=False, cancel_futures=True)
