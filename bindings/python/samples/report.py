"""Two reports as CSV: clients with their visits, and what is left of each product.

    python report.py FOLDER clients > clients.csv
    python report.py FOLDER stock > stock.csv
"""

import asyncio
import csv
import sys

import tailcomb


async def clients(station: tailcomb.Station) -> None:
    rows = csv.writer(sys.stdout)
    rows.writerow(["client", "visits", "last service"])
    for found in await station.clients():
        visits = await station.visits_of(found.id)
        rows.writerow([found.title, len(visits), visits[0].service if visits else ""])


async def stock(station: tailcomb.Station) -> None:
    rows = csv.writer(sys.stdout)
    rows.writerow(["product", "left", "unit", "low"])
    for product in await station.stock():
        # Nothing is said of what was never counted. Amounts are thousandths of a unit.
        left = "" if product.left_milli is None else product.left_milli / 1000
        unit = "" if product.unit is None else product.unit.name.lower()
        rows.writerow([product.name, left, unit, "yes" if product.low else ""])


async def main(folder: str, report: str) -> None:
    async with tailcomb.open(folder) as salon:
        station = salon.station()
        if station is None:
            raise SystemExit("no salon is here yet: see floor.py")
        await salon.exchange(5_000)
        await {"clients": clients, "stock": stock}[report](station)


if __name__ == "__main__":
    try:
        asyncio.run(main(*sys.argv[1:]))
    except tailcomb.HostError as error:
        sys.exit(error.sentence)
