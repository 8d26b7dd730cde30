"""The floor of a salon in a few lines: pair, show the floor, start a timer, take over a client, be told when it rings.

    python floor.py FOLDER LINK NAME    the first time: the link is what another station shows (`tailcomb invite`)
    python floor.py FOLDER              from then on
"""

import asyncio
import sys

import tailcomb


class Rings(tailcomb.AlarmScheduler):
    """A desktop has no scheduler of exact alarms: this one prints. Elsewhere, hand these instants to the system."""

    def schedule(self, alarms: list[tailcomb.Alarm]) -> None:
        for alarm in alarms:
            print(f"to ring at {alarm.due_ms}: {alarm.label}")


def show(floor: tailcomb.FloorView) -> None:
    print(f"{floor.salon}, {floor.date}")
    for visit in floor.visits:
        holders = ", ".join(one.person.name for one in visit.holders) or "nobody"
        print(f"  {visit.client_name}: {visit.service}, with {holders}")
    for timer in floor.timers:
        left = "" if timer.remaining_ms is None else f", {timer.remaining_ms // 60_000} min left"
        print(f"  {timer.label}: {timer.state.name.lower()}{left}")


async def main(folder: str, link: str | None = None, name: str | None = None) -> None:
    async with tailcomb.open(folder, tailcomb.HostServices(alarms=Rings())) as salon:
        station = salon.station()
        if station is None:
            if link is None or name is None:
                raise SystemExit("the first time, give the link that another station shows, and your name")
            station = await salon.join(link, "Python")
        # The people of the salon come with everything else.
        await salon.exchange(5_000)
        if name is not None:
            await station.sign_in_as(name)

        gloss = tailcomb.NewTimer(kind=tailcomb.TimerKind.GLOSS, label="gloss", length=20 * 60_000)
        started = await station.start_timer(None, gloss)
        for caution in started.cautions:
            print(f"! {caution}")

        floor = await station.floor()
        if floor.visits:
            briefing = await station.take(floor.visits[0].visit)
            print(f"You hold {briefing.client_name}. Read first:")
            for watch in briefing.brief.watch_card:
                print(f"  ! {watch.text}")

        # Ends when the first change has been shown; a program that goes on leaves the `break` out.
        async for floor in salon.floors():
            show(floor)
            break
        await salon.exchange(5_000)


if __name__ == "__main__":
    try:
        asyncio.run(main(*sys.argv[1:]))
    except tailcomb.HostError as error:
        sys.exit(error.sentence)
