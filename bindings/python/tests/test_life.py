"""Opening and closing: nothing stays behind."""

import asyncio
import gc
import os
from collections.abc import Awaitable, Callable
from pathlib import Path

import tailcomb

from .house import House, Other, plain


def resident_kib() -> int:
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") // 1024


def open_files() -> int:
    return len(os.listdir("/proc/self/fd"))


def threads() -> int:
    return len(os.listdir("/proc/self/task"))


async def _grown(times: int, once: Callable[[], Awaitable[None]]) -> int:
    """By how much the process has grown from the first fifth to the end, in KiB."""
    at_first = 0
    for n in range(times):
        await once()
        if n == times // 5:
            gc.collect()
            at_first = resident_kib()
    gc.collect()
    return resident_kib() - at_first


async def test_ten_thousand_openings_leave_nothing_behind(house: House) -> None:
    folder = house.folder()

    async def once() -> None:
        async with tailcomb.open(folder) as salon:
            assert salon.station() is None

    await once()
    files, began = open_files(), threads()
    assert await _grown(10_000, once) < 4_096
    assert open_files() <= files and threads() <= began + 2


# A salon takes longer to open and close than an empty place: TAILCOMB_OPENINGS=10000 is for whoever has minutes.
OPENINGS = int(os.environ.get("TAILCOMB_OPENINGS", "300"))


async def test_openings_of_a_salon_with_news_leave_nothing_behind(house: House) -> None:
    folder = house.folder()
    salon, station = await house.salon(folder=folder)
    await station.start_timer(None, plain("gloss"))
    await salon.shut()

    async def once() -> None:
        async with tailcomb.open(folder) as salon:
            async for floor in salon.floors():
                assert [one.label.text for one in floor.timers] == ["gloss"]
                break

    await once()
    files, began = open_files(), threads()
    assert await _grown(OPENINGS, once) < 8_192
    assert open_files() <= files + 1 and threads() <= began + 2


async def test_dropping_the_last_object_closes_the_station(house: House) -> None:
    folder = house.folder()
    salon, station = await house.salon(folder=folder)
    await salon.shut()
    for _ in range(5):
        salon = await tailcomb.open(folder)
        held = salon.station()
        assert held is not None and (await held.floor()).salon == "Alderlight"
        del salon, held
        gc.collect()


async def test_a_program_that_ends_while_it_is_told_of_changes_ends_in_peace(house: House) -> None:
    ends = """
import asyncio, sys, tailcomb
class Told(tailcomb.Observer, tailcomb.AlarmScheduler):
    def floor(self, floor): sum(range(30_000))
    def alarms(self, alarms): sum(range(30_000))
    def status(self, status): sum(range(30_000))
    def schedule(self, alarms): sum(range(30_000))
async def main():
    salon = await tailcomb.open(sys.argv[1], tailcomb.HostServices(alarms=Told()))
    kept = tailcomb.station.kept = salon, salon.observe(Told()), salon.floors()
    new = tailcomb.NewSalon(name="A", zone="Europe/Lisbon", relay_url="http://127.0.0.1:9", station="a", person="Ada",
                            role=tailcomb.Role.STYLIST)
    station = (await salon.found(new)).station
    timer = tailcomb.NewTimer(kind=tailcomb.TimerKind.PLAIN, label="gloss", length=60_000)
    for _ in range(int(sys.argv[2])):
        await station.start_timer(None, timer)
asyncio.run(main())
"""
    for times in range(1, 7):
        other = Other(ends, str(house.folder()), str(times))
        await asyncio.to_thread(other.child.communicate)
        assert other.child.returncode == 0
