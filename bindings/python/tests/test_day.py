"""A day at which two stations of Python and a terminal station work together."""

import asyncio

import tailcomb
from tailcomb import Station, Tailcomb, TimerRef

from .house import House, plain, until


async def settled(*salons: Tailcomb) -> None:
    for _ in range(3):
        for salon in salons:
            status = await salon.exchange(5_000)
            assert status.reachable


async def label_on(station: Station, label: str) -> TimerRef | None:
    found = [one for one in (await station.floor()).timers if one.label.text == label]
    return TimerRef(doc=found[0].doc, timer=found[0].timer) if found else None


async def test_three_stations_live_through_a_day_and_end_with_one_digest(house: House) -> None:
    desk, at_desk = await house.salon(house.relay.url)
    await at_desk.add_person("Otto Lindqvist", tailcomb.Role.STYLIST)
    basin = await house.empty()
    at_basin = await basin.join(await desk.invite(), "basin")
    await settled(desk, basin)
    assert await at_basin.sign_in_as("Otto") != await at_desk.signed_in()
    board = house.terminal()
    await board("join", await desk.invite(), "--station", "board", "--as", "Ines")

    # A client comes, and what is planned and mixed is on every station.
    client = await at_desk.new_client("Signe Aune", [])
    visit = await at_desk.open_visit(tailcomb.NewVisit(client=client, service="regrowth", take=True))
    formula = tailcomb.Formula(
        title="regrowth", ratio="1:1.5", developer=20_000
    )
    shade = tailcomb.NewLine(role=tailcomb.LineRole.SHADE, name="copper 7", share=tailcomb.Share.GRAMS(30_000))
    noted = await at_desk.note_formula(visit, formula, [shade])
    bowl = await at_desk.mix_now(visit, tailcomb.BowlWish(formula=noted.formula, label="first"))
    assert [part.amount for part in bowl.contents.parts] == [30_000, 45_000]

    # Timers: one in the visit, one that rings already; the second is silenced from the terminal.
    crown = await at_desk.start_timer(visit, plain("crown left", 40))
    now = await at_desk.now()
    earlier = tailcomb.Moment(ms=now.ms - 10 * 60_000, within_ms=now.within_ms)
    await at_desk.start_timer(None, plain("towels", 10, since=earlier))

    async def rings_at_the_basin() -> bool:
        return any(
            one.label.text == "towels" and one.state == tailcomb.TimerState.RINGING for one in (await at_basin.floor()).timers
        )

    await until("it rings at the basin", rings_at_the_basin)
    await board("sync")
    await board("timer", "silence")

    async def silenced_at_the_desk() -> bool:
        return any(
            one.label.text == "towels" and one.state == tailcomb.TimerState.SILENCED for one in (await at_desk.floor()).timers
        )

    await until("it is quiet at the desk", silenced_at_the_desk)

    # The second stylist takes over, and has read what was mixed.
    briefing = await at_basin.take(visit)
    assert briefing.client_name == "Signe Aune"
    assert [one.label.text for one in briefing.brief.bowls] == ["first"]

    # Both make the same timer later while apart: asked, not added up, and the earliest alarm stands.
    house.relay.hold()
    later = [await at_desk.extend_timer(crown.at, 5 * 60_000), await at_basin.extend_timer(crown.at, 8 * 60_000)]
    house.relay.go_on()
    earliest = min(one.due_ms or 0 for one in later)

    async def asked() -> list[tailcomb.Asked]:
        return [one for one in await at_desk.questions() if one.doc == visit]

    question = (await until("both edits are seen", asked))[0]
    assert [alarm.due_ms for alarm in await at_desk.next_alarms(5) if alarm.timer == crown.at.timer] == [earliest]
    await at_desk.settle(question.doc, question.id, question.choices[0].id)

    async def settled_at_the_basin() -> bool:
        return not await at_basin.questions()

    await until("it is settled", settled_at_the_basin)

    # The end of the day.
    await at_basin.stop_timer(crown.at)
    towels = await label_on(at_basin, "towels")
    assert towels is not None
    await at_basin.stop_timer(towels)
    await at_basin.use_up_bowl(visit, bowl.bowl)
    await at_basin.close_visit(visit)
    await settled(desk, basin)
    await board("sync")
    today = await at_desk.today()
    stated = [await at_desk.state_closing(today), await at_basin.state_closing(today)]
    await board("day", "state")
    await settled(desk, basin)
    assert stated[0].closing.digest == stated[1].closing.digest
    proof = await at_desk.close_day(today, [])
    assert isinstance(proof.agreement, tailcomb.Agreement.SAME)
    assert proof.agreement.digest == stated[0].closing.digest and len(proof.stations) == 3
    await settled(desk, basin)
    await board("sync")
    held = await asyncio.gather(at_desk.digest(), at_basin.digest())
    assert held[0].digest == held[1].digest and held[0].documents == held[1].documents
    assert "copper 7" in await at_basin.close_csv(today)
