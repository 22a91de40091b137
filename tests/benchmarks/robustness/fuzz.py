"""Runs the command line on damaged files, settings, histories and shelves, every case from its own seed.

python -m tests.benchmarks.robustness.fuzz KIND COUNT [FIRST_SEED]

KIND is files, settings, histories or shelves. Every case is a process of its own. It must end within the time limit with status 0 or 2, say
at most one sentence then, keep under 1 GiB, leave nothing aside, and state no level that music cannot have.
"""

import json
import os
import resource
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from random import Random

from advisor.cli.main import main as command_line
from advisor.history.recorder import Recorder
from tests.advisor.history.bounces import bounce, found
from tests.benchmarks.robustness.mutations import MUTATIONS, damage_database, settings_text, sounds
from tests.reference_shelf import write_song

LIMIT_S = 120
MOST_BYTES = 1 << 30
LOUDEST_LUFS = 30.0
QUICK = ("--quick", "--no-audition")
NOON = datetime(2030, 1, 2, 12, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Base:
    """What every case starts from."""

    folder: Path
    songs: tuple[Path, ...]
    home: Path


@dataclass(frozen=True, slots=True)
class Ending:
    """How a case ended."""

    status: int | None
    text: str
    memory_bytes: int


def prepared(folder: Path, kind: str) -> Base:
    """Make songs and, where they are damaged, a history and a shelf; compile all kernels on the way."""
    home = folder / "home"
    os.environ["MIXPROOF_HOME"] = str(home)
    songs = tuple(sounds(folder))
    command_line(["critique", str(songs[0]), *QUICK, "--out", str(folder / "warm")])
    if kind == "histories":
        for take in (1, 2, 3):
            with Recorder("P", lambda: NOON, home).recording(bounce(take, ("one", found(1.0)), ("two", found(2.0))), ()):
                pass
    if kind == "shelves":
        shelf = [str(write_song(folder / f"song-{number}.wav", number)) for number in range(3)]
        command_line(["references", "add", "s", *shelf])
        command_line(["references", "groups", "s"])
    return Base(folder, songs, home)


def files(base: Base, place: Path, random: Random) -> tuple[str, list[list[str]]]:
    song, name = random.choice(base.songs), random.choice(list(MUTATIONS))
    path = place / song.name
    path.write_bytes(MUTATIONS[name](bytearray(song.read_bytes()), random))
    options = QUICK if random.random() < 0.8 else ("--quick",)
    return f"{song.name} {name}", [["critique", str(path), *options]]


def settings(base: Base, place: Path, random: Random) -> tuple[str, list[list[str]]]:
    text = settings_text(random)
    shutil.copy(base.songs[0], place / "mix.wav")
    (place / "mixproof.toml").write_bytes(text)
    return repr(text[:80]), [["critique", str(place / "mix.wav"), *QUICK]]


def histories(base: Base, place: Path, random: Random) -> tuple[str, list[list[str]]]:
    shutil.copytree(base.home, place / "home")
    words = damage_database(place / "home" / "mixproof.sqlite3", random)
    shown = [["history"], ["history", "P"], ["history", "P", "--export", random.choice(("md", "json"))], ["history", "P", "--bounce", "2"]]
    return words, [*shown, ["critique", str(base.songs[0]), *QUICK, "--project", "P", "--out", str(place / "out")]]


def shelves(base: Base, place: Path, random: Random) -> tuple[str, list[list[str]]]:
    shutil.copytree(base.home, place / "home")
    words = damage_database(place / "home" / "mixproof.sqlite3", random)
    shown = [["references", "list"], ["references", "show", "s"], ["references", "groups", "s"]]
    return words, [*shown, ["critique", str(base.songs[0]), *QUICK, "--references", "s", "--out", str(place / "out")]]


KINDS: dict[str, Callable[[Base, Path, Random], tuple[str, list[list[str]]]]] = {
    "files": files, "settings": settings, "histories": histories, "shelves": shelves,
}  # fmt: skip


def run(arguments: list[str], place: Path) -> Ending:
    """Run one command in a process of its own, and wait for it."""
    said = place / "said.txt"
    child = os.fork()
    if child == 0:
        output = os.open(said, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
        os.dup2(output, 2)
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
        if (place / "home").exists():
            os.environ["MIXPROOF_HOME"] = str(place / "home")
        status = 70
        try:
            status = command_line(arguments)
        finally:
            sys.stderr.flush()
            os._exit(status)
    end = time.monotonic() + LIMIT_S
    while time.monotonic() < end:
        ended, code, usage = os.wait4(child, os.WNOHANG)
        if ended:
            text = said.read_text(encoding="utf-8", errors="replace") if said.exists() else ""
            return Ending(os.waitstatus_to_exitcode(code), text, usage.ru_maxrss << 10)
        time.sleep(0.005)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return Ending(None, "", 0)


def faults_of(ending: Ending, place: Path) -> list[str]:
    """Return what must not be."""
    faults = []
    if ending.status not in (0, 2):
        faults.append(f"status {ending.status}: {ending.text[-300:]!r}")
    if "Traceback" in ending.text or (ending.status == 2 and len(ending.text.strip().splitlines()) != 1) or "\x1b" in ending.text:
        faults.append(f"words: {ending.text[:300]!r}")
    if ending.memory_bytes > MOST_BYTES:
        faults.append(f"memory: {ending.memory_bytes >> 20} MiB")
    if list(place.rglob(".new-*")):
        faults.append("something is left aside")
    for path in place.rglob("report.json"):
        level = json.loads(path.read_text(encoding="utf-8"))["measurements"].get("level", {})
        if (level.get("integrated_lufs") or 0.0) > LOUDEST_LUFS:
            faults.append(f"level: {level['integrated_lufs']:.0f} LUFS")
    return faults


def main(kind: str, count: int, first: int = 0) -> int:
    """Run the cases; Ctrl-C ends them with the sum of what was run."""
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    statuses: Counter[str] = Counter()
    bad, seed = 0, first - 1
    with tempfile.TemporaryDirectory() as scratch, suppress(KeyboardInterrupt):
        base = prepared(Path(scratch), kind)
        for seed in range(first, first + count):
            for fault in case(base, kind, seed, Path(scratch) / "case", statuses):
                bad += 1
                print(f"seed {seed} {fault}", flush=True)
    print(f"{kind}: seeds {first} to {seed}, statuses {dict(statuses)}, {bad} faults", flush=True)
    return int(bad > 0)


def case(base: Base, kind: str, seed: int, place: Path, statuses: Counter[str]) -> Iterator[str]:
    """Run one case and yield its faults."""
    place.mkdir()
    words, commands = KINDS[kind](base, place, Random(f"{kind} {seed}"))
    for arguments in commands:
        ending = run(arguments, place)
        statuses[str(ending.status)] += 1
        yield from (f"({words}) {arguments[:3]}: {fault}" for fault in faults_of(ending, place))
    shutil.rmtree(place)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1], int(sys.argv[2]), *map(int, sys.argv[3:4])))
