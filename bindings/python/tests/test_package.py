"""What is handed out: types that hold, samples that run, lines that are answered."""

import asyncio
import csv
import io
import json
import subprocess
import sys
from pathlib import Path

import tailcomb
from stubs import stubs

from .house import HERE, House, until

INSTALLED = Path(tailcomb.__file__).parent


def mypy(*what: str) -> "subprocess.CompletedProcess[str]":
    """As a user of the package runs it: strict, without our settings."""
    words = [sys.executable, "-m", "mypy", "--strict", "--config-file=", *what]
    return subprocess.run(words, capture_output=True, text=True, check=False, cwd=HERE)


def test_the_package_tested_is_the_wheel_that_was_installed() -> None:
    assert "site-packages" in INSTALLED.parts and (INSTALLED / "py.typed").exists()
    modules = sorted(INSTALLED.glob("_native/tailcomb_*.py"))
    assert [one.stem for one in modules] == ["tailcomb_core", "tailcomb_ffi", "tailcomb_trade"]
    for module in modules:
        assert module.with_suffix(".pyi").read_text() == stubs(module.read_text()), "the stubs are of another version"


def test_programs_that_use_the_package_are_checked_strictly(tmp_path: Path) -> None:
    good = mypy("samples")
    assert good.returncode == 0, good.stdout
    wrong = tmp_path / "wrong.py"
    wrong.write_text(
        "import tailcomb\n"
        "async def main(station: tailcomb.Station) -> None:\n"
        "    await station.start_timer(None, 'gloss')\n"
        "    await station.begin_timer()\n"
        "    floor: int = await station.floor()\n"
    )
    bad = mypy(str(wrong))
    assert bad.returncode == 1
    assert [line.split("[")[-1] for line in bad.stdout.splitlines() if "error:" in line] == [
        "arg-type]",
        "attr-defined]",
        "assignment]",
    ], bad.stdout


async def sample(name: str, *words: str) -> str:
    child = await asyncio.create_subprocess_exec(
        sys.executable, str(HERE / "samples" / name), *words, stdout=subprocess.PIPE, stderr=subprocess.PIPE
    )
    out, said = await child.communicate()
    assert child.returncode == 0, said.decode()
    return out.decode()


async def test_the_samples_do_what_they_say(house: House) -> None:
    salon, station = await house.salon(house.relay.url)
    await station.add_person("Otto Lindqvist", tailcomb.Role.STYLIST)
    client = await station.new_client("Signe Aune", [])
    await station.open_visit(tailcomb.NewVisit(client=client, service="regrowth", take=True))
    allergy = tailcomb.Sensitivity(substance="nickel", severity=tailcomb.Severity.STRONG, reaction="rash")
    await station.record_sensitivity(client, allergy)
    product = tailcomb.Product(line="Alder", name="copper 7", goods=tailcomb.Goods.CLEAR())
    await station.add_product(product, None)
    await salon.exchange(5_000)

    folder = str(house.folder())
    shown = await sample("floor.py", folder, await salon.invite(), "Otto")
    assert "You hold Signe Aune" in shown and "nickel" in shown and "gloss: running" in shown
    assert "to ring at" in shown

    async def taken() -> bool:
        holders = (await station.floor()).visits[0].holders
        return [one.person.name for one in holders] == ["Otto Lindqvist"]

    await until("the sample holds the client", taken)

    clients = list(csv.reader(io.StringIO(await sample("report.py", folder, "clients"))))
    assert clients == [["client", "visits", "last service"], ["Signe Aune", "1", "regrowth"]]
    stock = list(csv.reader(io.StringIO(await sample("report.py", folder, "stock"))))
    assert stock[0] == ["product", "left", "unit", "low"] and "copper 7" in stock[1][0]
    sheet = await sample("close_sheet.py", folder)
    assert list(csv.reader(io.StringIO(sheet))) and "Signe Aune" in sheet


async def test_a_station_told_by_lines_answers_by_lines(house: House) -> None:
    salon, _ = await house.salon(house.relay.url)
    link = await salon.invite()
    child = await asyncio.create_subprocess_exec(
        sys.executable, "-m", "tests.lines", cwd=HERE, stdin=subprocess.PIPE, stdout=subprocess.PIPE
    )
    told: list[dict[str, object]] = [
        {"do": "open", "directory": str(house.folder()), "authority": None},
        {"do": "join", "link": link, "station": "lines"},
        {"do": "signIn", "words": "Ines"},
        {"do": "newClient", "name": "Tova"},
        {"do": "startTimer", "visit": None, "label": "gloss", "length_ms": 600_000},
        {"do": "take", "visit": "visit/nobody"},
        {"do": "floor"},
        {"do": "pause"},
        {"do": "resume"},
        {"do": "exchange", "within_ms": 5_000},
        {"do": "digest"},
        {"do": "shut"},
    ]
    lines = "".join(json.dumps({"id": n, **one}) + "\n" for n, one in enumerate(told))
    out, _ = await child.communicate(lines.encode())
    answers = [json.loads(line) for line in out.decode().splitlines()]
    assert [one["id"] for one in answers] == list(range(len(told)))
    refused = [told[one["id"]]["do"] for one in answers if "refused" in one]
    assert refused == ["take"], answers
    assert [one["label"] for one in answers[6]["gives"]["timers"]] == ["gloss"]
    assert answers[9]["gives"] == {"unsent": 0, "caught_up": True}
    await salon.exchange(5_000)
    station = salon.station()
    assert station is not None and (await station.digest()).digest == answers[10]["gives"]["digest"]
