"""What a call is: done whole or not at all, from any thread and loop, with any text, and refused in words."""

import asyncio
import random
import threading

import pytest
import tailcomb
from tailcomb import HostError

from .house import House, Other, plain


async def test_a_cancelled_command_is_done_whole_or_not_at_all(house: House) -> None:
    _, station = await house.salon()
    done = begun_not = 0
    seed = random.Random(7)
    for n in range(60):
        before = len(await station.clients())
        # What stands before it in the line, so that some are given up before their turn comes.
        others = [asyncio.create_task(station.start_timer(None, plain(f"{n}"))) for _ in range(seed.randrange(3))]
        command = asyncio.create_task(station.new_client(f"Client {n}", []))
        await asyncio.sleep(seed.random() * 0.02)
        command.cancel()
        try:
            await command
        except asyncio.CancelledError:
            pass
        await asyncio.gather(*others)
        # In its turn, so after whatever the cancelled one did.
        await station.start_timer(None, plain("after"))
        clients = await station.clients()
        if len(clients) > before:
            done += 1
            found = await station.find_client(f"Client {n}")
            assert await station.title(found) == f"Client {n}"
        else:
            begun_not += 1
    assert done > 0 and begun_not > 0, (done, begun_not)
    assert done + begun_not == 60


async def test_a_cancelled_question_leaves_the_station_whole(house: House) -> None:
    _, station = await house.salon()
    for _ in range(50):
        question = asyncio.create_task(station.floor())
        await asyncio.sleep(0)
        question.cancel()
        await asyncio.gather(question, return_exceptions=True)
    assert (await station.floor()).salon == "Alderlight"


class Gate(tailcomb.HostClock):
    """A clock that keeps who reads it until a test lets them go."""

    def __init__(self) -> None:
        self.open = threading.Event()
        self.open.set()
        self.reached = threading.Event()

    def wall_ms(self) -> int:
        if not self.open.is_set():
            self.reached.set()
            self.open.wait()
        return 1_790_000_000_000

    def boot_ms(self) -> int:
        return 1_000


async def test_a_question_waits_for_the_command_at_work_and_the_loop_goes_on(house: House) -> None:
    gate = Gate()
    _, station = await house.salon(host=tailcomb.HostServices(clock=gate))
    gate.open.clear()
    command = asyncio.create_task(station.start_timer(None, plain("first")))
    await asyncio.to_thread(gate.reached.wait)
    question, given_up = asyncio.create_task(station.floor()), asyncio.create_task(station.floor())
    turns = 0
    for _ in range(20):
        await asyncio.sleep(0.001)
        turns += 1
    assert turns == 20 and not question.done() and not command.done()
    given_up.cancel()
    with pytest.raises(asyncio.CancelledError):
        await given_up
    gate.open.set()
    assert [one.label.text for one in (await question).timers] == ["first"]
    await command
    assert len((await station.floor()).timers) == 1


async def test_questions_are_answered_although_commands_never_end(house: House) -> None:
    _, station = await house.salon()
    goes_on = True

    async def write() -> None:
        while goes_on:
            await station.start_timer(None, plain("more"))

    writers = [asyncio.create_task(write()) for _ in range(4)]
    try:
        for _ in range(10):
            await asyncio.wait_for(station.floor(), 5)
    finally:
        goes_on = False
        await asyncio.gather(*writers)


def test_what_is_of_another_type_is_other_and_no_failure() -> None:
    told = tailcomb.Told(say="a", _with=[], text="a")
    assert told == tailcomb.Told(say="a", _with=[], text="a")
    others: list[object] = ["a", None, 3, tailcomb.Moment(ms=1, within_ms=None)]
    assert all(told != other for other in others)


async def test_threads_with_loops_of_their_own_share_a_station(house: House) -> None:
    _, station = await house.salon()
    failed: list[BaseException] = []

    async def work(name: str) -> None:
        for n in range(10):
            client = await station.new_client(f"{name} {n}", [])
            assert await station.title(client) == f"{name} {n}"
            await asyncio.gather(station.floor(), station.status(), station.start_timer(None, plain(name)))

    def thread(name: str) -> None:
        try:
            asyncio.run(work(name))
        except BaseException as error:
            failed.append(error)

    threads = [threading.Thread(target=thread, args=(name,)) for name in ("Ada", "Bo", "Cyd", "Dov")]
    for one in threads:
        one.start()
    for one in threads:
        await asyncio.to_thread(one.join)
    assert not failed
    assert len(await station.clients()) == 40
    assert len((await station.floor()).timers) == 40


# Python says on stderr that the answer had nowhere to go.
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
async def test_a_loop_that_closes_in_the_middle_of_a_call_harms_nobody(house: House) -> None:
    _, station = await house.salon()

    def leave() -> None:
        loop = asyncio.new_event_loop()
        for n in range(5):
            loop.create_task(station.start_timer(None, plain(f"left {n}")))
        loop.run_until_complete(asyncio.sleep(0))
        loop.close()

    await asyncio.to_thread(leave)
    await station.start_timer(None, plain("after"))
    assert any(one.label.text == "after" for one in (await station.floor()).timers)


ODD = [
    "Zoë Ångström-Łącka",
    "أحمد بن علي",
    "הדס",
    "👩🏽‍🦰 with a ZWJ",
    "line\nbreak\tand \"quotes\" and \\",
    "e\u0301 decomposed",
    "\u202ebackwards",
    "null\0inside",
    "𝄞 beyond the plane",
]


@pytest.mark.parametrize("text", ODD)
async def test_odd_text_comes_back_as_it_went(house: House, text: str) -> None:
    _, station = await house.salon()
    client = await station.new_client("Signe", [])
    visit = await station.open_visit(tailcomb.NewVisit(client=client, service=text, take=True))
    await station.add_note(visit, tailcomb.Topic.WORK, text)
    noted = (await station.visit(visit)).notes[0]
    assert noted.said.versions[0].value.text == text


async def test_large_text_comes_back_whole_or_is_refused_in_words(house: House) -> None:
    _, station = await house.salon()
    client = await station.new_client("Signe", [])
    visit = await station.open_visit(tailcomb.NewVisit(client=client, service="cut", take=True))
    text = "✂" * 4_000
    await station.add_note(visit, tailcomb.Topic.WORK, text)
    with pytest.raises(HostError.Refused) as refused:
        await station.add_note(visit, tailcomb.Topic.WORK, text * 1_000)
    assert "4000" in refused.value.sentence and len(refused.value.sentence) < 200
    notes = (await station.visit(visit)).notes
    assert [one.said.versions[0].value.text for one in notes] == [text]
    assert await station.search("x" * 5_000_000, 10) == []


async def test_what_is_no_text_is_an_error_of_python_and_nothing_is_done(house: House) -> None:
    _, station = await house.salon()
    with pytest.raises(UnicodeEncodeError):
        await station.new_client("half a pair \ud800", [])
    with pytest.raises(TypeError):
        await station.new_client(7, [])  # type: ignore[arg-type]
    assert await station.clients() == []


async def test_every_case_of_refusal_comes_with_its_code_and_a_sentence(house: House) -> None:
    salon, station = await house.salon()

    with pytest.raises(HostError.Refused) as refused:
        await station.find_client("nobody of this name")
    assert refused.value.code == "not-found" and len(refused.value.sentence) > 10
    # What is printed of it is the sentence alone.
    assert str(refused.value) == refused.value.sentence == refused.value.said.text
    # For an app that has a catalogue of sentences in another language.
    said = refused.value.said
    names = {one.name for one in said._with}
    assert names and all("{" + name + "}" in said.say for name in names)

    await station.sign_out()
    with pytest.raises(HostError) as nobody:
        await station.new_client("Signe", [])
    assert isinstance(nobody.value, HostError.Refused) and nobody.value.code == "nobody-signed-in"

    with pytest.raises(HostError.Network) as network:
        await salon.invite()
    assert network.value.code and network.value.sentence

    other = await house.empty()
    with pytest.raises(HostError.Refused) as link:
        await other.join("https://example.org/no-invitation", "basin")
    assert link.value.code == "link"

    file = house.folder()
    file.write_text("a file where a directory should be")
    with pytest.raises(HostError.Device) as device:
        await tailcomb.open(file)
    assert device.value.code == "directory"

    await salon.pause()
    with pytest.raises(HostError.Closed) as paused:
        await station.floor()
    assert paused.value.code == "paused"
    await salon.resume()
    await salon.shut()
    with pytest.raises(HostError.Closed) as closed:
        await station.floor()
    assert closed.value.code == "closed"


async def test_a_mistake_of_tailcombs_own_is_told_as_one(house: House) -> None:
    class Broken(tailcomb.HostClock):
        breaks = False

        def wall_ms(self) -> int:
            if self.breaks:
                raise RuntimeError("no clock today")
            return 1_790_000_000_000

        def boot_ms(self) -> int:
            return 1_000

    clock = Broken()
    _, station = await house.salon(host=tailcomb.HostServices(clock=clock))
    clock.breaks = True
    with pytest.raises(HostError.Internal) as internal:
        await station.start_timer(None, plain("gloss"))
    assert internal.value.code == "internal"
    clock.breaks = False
    await station.start_timer(None, plain("gloss"))
    assert [one.label.text for one in (await station.floor()).timers] == ["gloss"]


async def test_pause_lets_another_process_in_within_a_second(house: House) -> None:
    folder = house.folder()
    salon, station = await house.salon(house.relay.url, folder=folder)
    await station.new_client("Signe Aune", [])
    other = Other(
        """
import asyncio, sys, tailcomb
async def main():
    for tells in sys.stdin:
        try:
            async with tailcomb.open(sys.argv[1]) as salon:
                found = await salon.station().clients()
            print("opened", len(found), flush=True)
        except tailcomb.HostError as error:
            print("refused", error.code, flush=True)
asyncio.run(main())
""",
        str(folder),
    )
    try:
        other.tell("open")
        assert await other.said() == "refused in-use"
        loop = asyncio.get_running_loop()
        busy = [asyncio.create_task(station.start_timer(None, plain(f"{n}"))) for n in range(20)]
        begun = loop.time()
        await salon.pause()
        assert loop.time() - begun < 1
        other.tell("open")
        assert await other.said() == "opened 1"
        done = [one for one in await asyncio.gather(*busy, return_exceptions=True) if not isinstance(one, HostError)]
        await salon.resume()
        assert len((await station.floor()).timers) == len(done), "what was said to be kept was kept, and no more"
    finally:
        other.end()
