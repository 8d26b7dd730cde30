"""A station that does what it is told by lines: for days in which several languages work together.

One JSON object a line on stdin, one on stdout for each: `{"id": 1, "gives": …}` or `{"id": 1, "refused": {…}}`.

    {"id": 1, "do": "open", "directory": "/…", "authority": null}
"""

import asyncio
import json
import sys
from typing import Any

import tailcomb


class Lines:
    """What can be told, under the names by which it is told."""

    salon: tailcomb.Tailcomb

    def station(self) -> tailcomb.Station:
        station = self.salon.station()
        if station is None:
            raise RuntimeError("there is no salon here yet")
        return station

    async def open(self, directory: str, authority: str | None = None) -> None:
        pem = authority.encode() if authority else None
        self.salon = await tailcomb.open(directory, tailcomb.HostServices(authority=pem))

    async def join(self, link: str, station: str) -> None:
        await self.salon.join(link, station)
        # So that whoever signs in next is known here.
        await self.salon.exchange(10_000)

    async def signIn(self, words: str) -> str:
        return await self.station().sign_in_as(words)

    async def newClient(self, name: str) -> str:
        return await self.station().new_client(name, [])

    async def openVisit(self, client: str, service: str) -> str:
        return await self.station().open_visit(tailcomb.NewVisit(client=client, service=service, take=True))

    async def startTimer(self, label: str, length_ms: int, visit: str | None = None) -> dict[str, Any]:
        new = tailcomb.NewTimer(kind=tailcomb.TimerKind.PROCESSING, label=label, length=length_ms)
        return _timer(await self.station().start_timer(visit, new))

    async def stopTimer(self, doc: str, timer: str) -> dict[str, Any]:
        return _timer(await self.station().stop_timer(tailcomb.TimerRef(doc=doc, timer=timer)))

    async def extendTimer(self, doc: str, timer: str, by_ms: int) -> dict[str, Any]:
        return _timer(await self.station().extend_timer(tailcomb.TimerRef(doc=doc, timer=timer), by_ms))

    async def silenceAll(self) -> int:
        return len(await self.station().silence_all())

    async def addNote(self, visit: str, text: str) -> str:
        return await self.station().add_note(visit, tailcomb.Topic.WORK, text)

    async def take(self, visit: str) -> str | None:
        return (await self.station().take(visit)).client_name

    async def floor(self) -> dict[str, Any]:
        floor = await self.station().floor()
        return {
            "timers": [{"label": one.label.text, "doc": one.doc, "timer": one.timer} for one in floor.timers],
            "visits": [{"visit": one.visit, "client_name": one.client_name} for one in floor.visits],
        }

    async def exchange(self, within_ms: int) -> dict[str, Any]:
        status = await self.salon.exchange(within_ms)
        return {"unsent": status.unsent, "caught_up": status.caught_up}

    async def digest(self) -> dict[str, Any]:
        held = await self.station().digest()
        return {"digest": held.digest, "documents": held.documents}

    async def pause(self) -> None:
        await self.salon.pause()

    async def resume(self) -> None:
        await self.salon.resume()

    async def shut(self) -> None:
        await self.salon.shut()


def _timer(set: tailcomb.TimerSet) -> dict[str, Any]:
    return {"doc": set.at.doc, "timer": set.at.timer, "due_ms": set.due_ms}


async def main() -> None:
    lines = Lines()
    loop = asyncio.get_running_loop()
    while line := await loop.run_in_executor(None, sys.stdin.readline):
        told = json.loads(line)
        id, do = told.pop("id"), told.pop("do")
        try:
            answer = {"id": id, "gives": await getattr(lines, do)(**told)}
        except tailcomb.HostError as error:
            answer = {"id": id, "refused": {"code": error.code, "sentence": error.sentence}}
        print(json.dumps(answer), flush=True)


if __name__ == "__main__":
    asyncio.run(main())
