"""What the tests stand on: a relay process, stations of Python, terminal stations. `House` takes all of it away."""

import asyncio
import json
import os
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any, TypeVar

import tailcomb

ROOT = Path(__file__).resolve().parents[3]
HERE = Path(__file__).resolve().parents[1]
T = TypeVar("T")


def program() -> str:
    """The program under test: TAILCOMB_BIN, or what was built."""
    for path in (os.environ.get("TAILCOMB_BIN"), ROOT / "target/release/tailcomb", ROOT / "target/debug/tailcomb"):
        if path and Path(path).exists():
            return str(path)
    raise RuntimeError("build the program first: cargo build --release -p tailcomb-server")


class Relay:
    """A relay in a process of its own; it ends with its input."""

    def __init__(self, database: Path) -> None:
        words = ["--json", "relay", "--listen", "127.0.0.1:0", "--database", str(database), "--until-input-ends"]
        self._child = subprocess.Popen([program(), *words], stdin=subprocess.PIPE, stdout=subprocess.PIPE)
        out = self._child.stdout
        assert out is not None
        self.url: str = json.loads(out.readline())["url"]

    def hold(self) -> None:
        """Lets nothing through, until `go_on`."""
        self._child.send_signal(signal.SIGSTOP)

    def go_on(self) -> None:
        self._child.send_signal(signal.SIGCONT)

    def end(self) -> None:
        self._child.kill()
        self._child.communicate()


class Terminal:
    """A terminal station: runs the program to its end and gives its JSON."""

    def __init__(self, home: Path) -> None:
        self._home = home

    async def __call__(self, *words: str) -> Any:
        return await asyncio.to_thread(self._run, words)

    def _run(self, words: tuple[str, ...]) -> Any:
        ran = subprocess.run(
            [program(), "--home", str(self._home), "--json", *words], capture_output=True, text=True, check=False
        )
        if ran.returncode != 0:
            raise RuntimeError(f"tailcomb {' '.join(words)}: {ran.stdout}{ran.stderr}")
        return json.loads(ran.stdout) if ran.stdout.strip() else None


class House:
    """Everything that one test starts and makes."""

    def __init__(self) -> None:
        self._folder = tempfile.TemporaryDirectory(prefix="tailcomb-")
        self._made = 0
        self._relay: Relay | None = None
        self._open: list[tailcomb.Tailcomb] = []

    def folder(self) -> Path:
        self._made += 1
        return Path(self._folder.name) / str(self._made)

    @property
    def relay(self) -> Relay:
        if self._relay is None:
            self._relay = Relay(self.folder())
        return self._relay

    def terminal(self) -> Terminal:
        return Terminal(self.folder())

    async def empty(self, host: tailcomb.HostServices | None = None, folder: Path | None = None) -> tailcomb.Tailcomb:
        salon = await tailcomb.open(folder or self.folder(), host)
        self._open.append(salon)
        return salon

    async def salon(
        self, relay_url: str = "http://127.0.0.1:9", host: tailcomb.HostServices | None = None, folder: Path | None = None
    ) -> tuple[tailcomb.Tailcomb, tailcomb.Station]:
        """A salon just founded, by default one whose relay nobody reaches."""
        salon = await self.empty(host, folder)
        new = tailcomb.NewSalon(
            name="Alderlight",
            zone="Europe/Lisbon",
            relay_url=relay_url,
            station="front desk",
            person="Ines Carvalhal",
            role=tailcomb.Role.TRAINER,
        )
        founded = await salon.found(new)
        assert len(founded.recovery_words.split()) == 24
        return salon, founded.station

    async def end(self) -> None:
        for salon in self._open:
            await salon.shut()
        if self._relay is not None:
            self._relay.end()
        self._folder.cleanup()


async def until(what: str, look: Callable[[], Awaitable[T]], within_s: float = 20) -> T:
    """Waits until `look` gives something true."""
    end = time.monotonic() + within_s
    while True:
        last = await look()
        if last:
            return last
        assert time.monotonic() < end, f"waited in vain until {what}; last: {last!r}"
        await asyncio.sleep(0.05)


def plain(label: str, minutes: int = 20, since: tailcomb.Moment | None = None) -> tailcomb.NewTimer:
    return tailcomb.NewTimer(kind=tailcomb.TimerKind.PLAIN, label=label, length=minutes * 60_000, _from=since)


class Other:
    """Another process, that runs some Python; `said` reads a line of what it says."""

    def __init__(self, code: str, *arguments: str) -> None:
        words = [sys.executable, "-c", code, *arguments]
        self.child = subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=HERE)

    async def said(self) -> str:
        out = self.child.stdout
        assert out is not None
        return (await asyncio.to_thread(out.readline)).strip()

    def tell(self, line: str) -> None:
        into = self.child.stdin
        assert into is not None
        into.write(line + "\n")
        into.flush()

    def end(self) -> None:
        self.child.kill()
        self.child.communicate()
