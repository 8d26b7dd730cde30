"""What Python has its own way of saying: `async with` for what must be closed, `async for` for what changes."""

import asyncio
import atexit
import os
import sys
import threading
import time
from collections.abc import AsyncIterator, Callable, Generator
from types import TracebackType
from typing import Any, Generic, Self, TypeVar
from weakref import WeakSet

from ._native import tailcomb_ffi
from ._native.tailcomb_core import Alarm, FloorView, HostError, Status
from ._native.tailcomb_ffi import HostServices, Observation, Observer

T = TypeVar("T")


class News(AsyncIterator[T], Generic[T]):
    """What stands now and whenever it changes, for `async for`. Who is slow is told the newest alone. Ends when the
    station is shut; leaving it ends the observation."""

    def __init__(self, observe: Callable[["_Slot[T]"], Observation]) -> None:
        self._slot: _Slot[T] = _Slot(asyncio.get_running_loop())
        self._observation = observe(self._slot)

    async def __anext__(self) -> T:
        return await self._slot.take()

    def end(self) -> None:
        """Nothing more is told. May be called from any thread."""
        self._observation.end()
        self._slot.close()

    def __del__(self) -> None:
        if hasattr(self, "_observation"):
            self._observation.end()


class _Slot(Generic[T]):
    """The newest value, handed from any thread to the loop that waits for it. Does not know of who waits, so that one
    who no longer does goes away with its observation."""

    def __init__(self, loop: asyncio.AbstractEventLoop) -> None:
        self._loop = loop
        self._filled = asyncio.Event()
        self._values: list[T] = []
        self._closed = False

    def put(self, value: T) -> None:
        self._on_loop(lambda: self._set([value]))

    def close(self) -> None:
        self._on_loop(self._end)

    async def take(self) -> T:
        await self._filled.wait()
        if self._closed:
            raise StopAsyncIteration
        self._filled.clear()
        return self._values.pop()

    def _set(self, values: list[T]) -> None:
        self._values = values
        self._filled.set()

    def _end(self) -> None:
        self._closed = True
        self._filled.set()

    def _on_loop(self, call: Callable[[], None]) -> None:
        try:
            self._loop.call_soon_threadsafe(call)
        except RuntimeError:
            # The loop is closed: nobody waits any more.
            pass


def _ignore(_: object) -> None: ...


class _Teller(Observer):
    def __init__(
        self,
        floor: Callable[[FloorView], None] = _ignore,
        alarms: Callable[[list[Alarm]], None] = _ignore,
        status: Callable[[Status], None] = _ignore,
    ) -> None:
        self._floor, self._alarms, self._status = floor, alarms, status

    def floor(self, floor: FloorView) -> None:
        self._floor(floor)

    def alarms(self, alarms: list[Alarm]) -> None:
        self._alarms(alarms)

    def status(self, status: Status) -> None:
        self._status(status)


class Tailcomb(tailcomb_ffi.Tailcomb):
    """The station of this device. Had from `tailcomb.open`; `async with` shuts it."""

    def __init__(self, opened: tailcomb_ffi.Tailcomb) -> None:
        self._handle = opened._uniffi_clone_handle()
        self._news: WeakSet[News[Any]] = WeakSet()
        _opened.add(self)

    def floors(self) -> News[FloorView]:
        """The floor: running timers by due time, clients, tests that wait."""
        return self._watch(lambda slot: _Teller(floor=slot.put))

    def alarms(self) -> News[list[Alarm]]:
        """The instants at which this station must make itself noticed, soonest first, at most 64."""
        return self._watch(lambda slot: _Teller(alarms=slot.put))

    def statuses(self) -> News[Status]:
        """How the station stands with the others."""
        return self._watch(lambda slot: _Teller(status=slot.put))

    def _watch(self, teller: Callable[[_Slot[T]], Observer]) -> News[T]:
        news = News[T](lambda slot: self.observe(teller(slot)))
        self._news.add(news)
        return news

    async def shut(self) -> None:
        """Ends it: what was asked before is done, every file is closed, and who waits for news waits no longer."""
        try:
            await super().shut()
        finally:
            for news in list(self._news):
                news.end()

    async def __aenter__(self) -> Self:
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        await self.shut()


_opened: WeakSet[Tailcomb] = WeakSet()


@atexit.register
def _end() -> None:
    """A thread that is in the middle of telling Python something while Python ends would take the process down."""
    for salon in list(_opened):
        try:
            asyncio.run(salon.shut())
        except HostError:
            # Closed all the same, and nobody is left to be told why it was not done well.
            pass
    quiet = 0
    for _ in range(200):
        # Lets them in, and out again.
        time.sleep(0.005)
        told = sys._current_frames().keys() - {thread.ident for thread in threading.enumerate()}
        quiet = 0 if told else quiet + 1
        if quiet == 2:
            return


class Opening:
    """A station that is about to be opened: `await` it, or enter it by `async with`."""

    def __init__(self, directory: str, host: HostServices) -> None:
        self._directory = directory
        self._host = host
        self._opened: Tailcomb | None = None

    async def _open(self) -> Tailcomb:
        return Tailcomb(await tailcomb_ffi.open(self._directory, self._host))

    def __await__(self) -> Generator[object, None, Tailcomb]:
        return self._open().__await__()

    async def __aenter__(self) -> Tailcomb:
        self._opened = await self._open()
        return self._opened

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._opened is not None:
            await self._opened.shut()


def open(directory: str | os.PathLike[str], host: HostServices | None = None) -> Opening:
    """Opens the station that is kept in this directory, or an empty place for one. The directory is made if it is
    missing. `host` is what this program lends; on a desktop nothing needs to be lent."""
    return Opening(os.fspath(directory), host or HostServices())
