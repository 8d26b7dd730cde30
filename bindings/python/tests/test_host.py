"""What a program lends to its station, and what it is told of changes."""

import asyncio
import gc
import threading

import pytest
import tailcomb
from tailcomb import Alarm, FloorView, HostError, Status

from .house import House, plain, until


class Vault(tailcomb.KeyVault):
    def __init__(self) -> None:
        self.kept: bytes | None = None
        self.is_locked = False

    def key(self) -> bytes | None:
        if self.is_locked:
            raise tailcomb.KeyVaultError.Unavailable("locked until somebody unlocks it")
        return self.kept

    def keep(self, key: bytes) -> None:
        self.kept = key


class Alarms(tailcomb.AlarmScheduler):
    def __init__(self) -> None:
        self.scheduled: list[list[Alarm]] = []

    def schedule(self, alarms: list[Alarm]) -> None:
        self.scheduled.append(alarms)


class Network(tailcomb.Connectivity):
    told: tailcomb.NetworkTold | None = None

    def tell(self, network: tailcomb.NetworkTold) -> None:
        self.told = network


async def test_the_key_lies_in_the_vault_that_was_lent(house: House) -> None:
    vault, folder = Vault(), house.folder()
    salon, _ = await house.salon(host=tailcomb.HostServices(key_vault=vault), folder=folder)
    assert vault.kept is not None and len(vault.kept) == 32
    await salon.shut()
    assert not (folder / "key").exists()
    vault.is_locked = True
    with pytest.raises(HostError.Device) as locked:
        await tailcomb.open(folder, tailcomb.HostServices(key_vault=vault))
    assert locked.value.code == "locked" and "unlocks it" in locked.value.sentence
    vault.is_locked, vault.kept = False, bytes(32)
    with pytest.raises(HostError):
        await tailcomb.open(folder, tailcomb.HostServices(key_vault=vault))


async def test_the_scheduler_is_told_what_is_to_ring_and_what_no_longer(house: House) -> None:
    alarms = Alarms()
    _, station = await house.salon(host=tailcomb.HostServices(alarms=alarms))
    set = await station.start_timer(None, plain("gloss"))

    async def scheduled() -> bool:
        return bool(alarms.scheduled) and [one.due_ms for one in alarms.scheduled[-1]] == [set.due_ms]

    await until("it is scheduled", scheduled)
    await station.stop_timer(set.at)

    async def gone() -> bool:
        return alarms.scheduled[-1] == []

    await until("it is scheduled no more", gone)


async def test_word_of_the_network_is_passed_on(house: House) -> None:
    network = Network()
    salon, _ = await house.salon(host=tailcomb.HostServices(connectivity=network))
    assert network.told is not None
    network.told.reachable(True)
    network.told.reachable(False)
    await salon.shut()
    network.told.reachable(True)


async def test_a_program_that_raises_where_it_is_called_breaks_nothing(house: House) -> None:
    class Raises(tailcomb.Observer, tailcomb.AlarmScheduler):
        called = 0

        def floor(self, floor: FloorView) -> None:
            self._raise()

        def alarms(self, alarms: list[Alarm]) -> None:
            self._raise()

        def status(self, status: Status) -> None:
            self._raise()

        def schedule(self, alarms: list[Alarm]) -> None:
            self._raise()

        def _raise(self) -> None:
            self.called += 1
            raise RuntimeError("not today")

    raises = Raises()
    salon, station = await house.salon(host=tailcomb.HostServices(alarms=raises))
    observation = salon.observe(raises)
    floors = salon.floors()
    for n in range(3):
        await station.start_timer(None, plain(f"gloss {n}"))

        async def told() -> bool:
            return len((await anext(floors)).timers) == n + 1

        # Whoever else is told is told all the same, and at once.
        await asyncio.wait_for(until("the others are told", told), 10)
    assert raises.called >= 4
    observation.end()


async def test_news_comes_on_the_loop_that_asked_and_ends_with_the_station(house: House) -> None:
    salon, station = await house.salon()
    here = threading.get_ident()
    labels: list[str] = []

    async def watch() -> None:
        async for floor in salon.floors():
            assert threading.get_ident() == here
            labels.extend(one.label.text for one in floor.timers if one.label.text not in labels)

    async def statuses() -> int:
        return len([status async for status in salon.statuses()])

    async def rings() -> int:
        return max([len(alarms) async for alarms in salon.alarms()])

    watching = [asyncio.create_task(watch()), asyncio.create_task(statuses()), asyncio.create_task(rings())]
    for n in range(5):
        await station.start_timer(None, plain(f"{n}"))

    async def seen() -> bool:
        # Those that ring in the same millisecond stand in either order.
        return sorted(labels) == [str(n) for n in range(5)]

    await until("all is told", seen)
    await asyncio.sleep(0.2)
    await salon.shut()
    _, told, most = await asyncio.wait_for(asyncio.gather(*watching), 5)
    assert told and told >= 1 and most == 5


async def test_leaving_news_ends_its_observation(house: House) -> None:
    salon, station = await house.salon()
    async for floor in salon.floors():
        assert floor.timers == []
        break
    gc.collect()
    # Nothing is told to a loop that nobody waits on: the observer went with who iterated.
    assert not [one for one in gc.get_objects() if type(one).__name__ == "News"]
    news = salon.floors()
    news.end()
    with pytest.raises(StopAsyncIteration):
        while True:
            await anext(news)
    await station.start_timer(None, plain("gloss"))


async def test_a_slow_reader_is_told_the_newest(house: House) -> None:
    salon, station = await house.salon()
    floors = salon.floors()
    await anext(floors)
    for n in range(8):
        await station.start_timer(None, plain(f"{n}"))
    await asyncio.sleep(1)
    assert len((await anext(floors)).timers) == 8
