"""What calls cost from Python: the same calls as `bindings/ffi/examples/calls.rs`, one JSON line a figure."""

import asyncio
import json
import tempfile
import time
from collections.abc import Awaitable, Callable

import tailcomb

TIMERS = 5
READS = 5_000
STARTS = 200


async def say(call: str, times: int, calls: Callable[[], Awaitable[object]]) -> None:
    for _ in range(times // 10):
        await calls()
    took = []
    for _ in range(times):
        begun = time.perf_counter_ns()
        await calls()
        took.append(time.perf_counter_ns() - begun)
    took.sort()
    median, p95 = took[times // 2] / 1000, took[times * 19 // 20] / 1000
    said = {"language": "python", "call": call, "calls": times, "median_us": round(median, 1), "p95_us": round(p95, 1)}
    print(json.dumps(said), flush=True)


async def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        async with tailcomb.open(folder) as salon:
            new = tailcomb.NewSalon(
                name="Bench",
                zone="Europe/Lisbon",
                relay_url="http://127.0.0.1:9",
                station="bench",
                person="Bea",
                role=tailcomb.Role.STYLIST,
            )
            station = (await salon.found(new)).station
            gloss = tailcomb.NewTimer(kind=tailcomb.TimerKind.GLOSS, label="gloss", length=20 * 60_000)
            for _ in range(TIMERS):
                await station.start_timer(None, gloss)
            await say("signed_in", READS, station.signed_in)
            await say("status", READS, station.status)
            await say("floor", READS, station.floor)
            await say("start_timer", STARTS, lambda: station.start_timer(None, gloss))


if __name__ == "__main__":
    asyncio.run(main())
