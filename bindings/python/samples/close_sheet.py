"""A day's close sheet as CSV: what was used, what it cost, what is left to do.

    python close_sheet.py FOLDER [YYYY-MM-DD] > sheet.csv
"""

import asyncio
import sys

import tailcomb


async def main(folder: str, date: str | None = None) -> None:
    async with tailcomb.open(folder) as salon:
        station = salon.station()
        if station is None:
            raise SystemExit("no salon is here yet: see floor.py")
        status = await salon.exchange(5_000)
        if not (status.reachable and status.caught_up):
            print("The others were not met: this is what this station knows.", file=sys.stderr)
        print(await station.close_csv(date or await station.today()), end="")


if __name__ == "__main__":
    try:
        asyncio.run(main(*sys.argv[1:]))
    except tailcomb.HostError as error:
        sys.exit(error.sentence)
