"""Whether advice heals: faults planted in real songs in three ways, the plan followed by another tool, the distance to the song before.

    python -m tests.benchmarks.healing --songs DIR [--songs-only A,B] [--faults X,Y] [--ways own,ffmpeg,other] [--given stems,stereo]
        [--out CSV] [--limit N] [--jobs N] [--again] [--planted-only]
    python -m tests.benchmarks.healing --tables CSV ...

DIR/SONG/stems/*.flac; the mix is their sum, and at most 50 s are taken. Each mix is critiqued by the command line, with its stems and
without; the steps of the mixing stage are followed to the letter by ffmpeg (faders by summing the stems). Closed is the share of the
distance to the song before the fault, by a measure with scipy that owes nothing to the project; ``own`` by `advisor.outcomes`. Songs as
they are should stay so. Room is the clean loudness the plan wins. ``--again`` critiques the followed mix and names steps back.
"""

import argparse
import csv
import multiprocessing
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import asdict, fields
from itertools import islice
from pathlib import Path
from typing import get_args

from tests.benchmarks.healing.cases import Case, Given, all_cases, run_case
from tests.benchmarks.healing.plants import FAULTS, WAYS
from tests.benchmarks.healing.scoring import Row, from_text, tables

GIVENS: tuple[Given, ...] = get_args(Given)
JOBS = 2
OWN_COLUMNS = ("closed", "own_closed", "room")


def listed(allowed: Sequence[str]) -> Callable[[str], list[str]]:
    """Return what reads names apart by commas, each of them allowed."""

    def names(text: str) -> list[str]:
        given = [name.strip() for name in text.split(",") if name.strip()]
        unknown = [name for name in given if name not in allowed]
        if unknown or not given:
            raise argparse.ArgumentTypeError(f"{', '.join(unknown) or 'nothing'} is none of {', '.join(allowed)}")
        return given

    return names


def options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--songs", type=Path, help="folder of songs, each a folder with stems/*.flac")
    parser.add_argument("--songs-only", type=lambda text: text.split(","), help="names of songs, apart by commas")
    parser.add_argument("--faults", type=listed(tuple(FAULTS)), default=list(FAULTS), help=f"of {', '.join(FAULTS)}")
    parser.add_argument("--ways", type=listed(WAYS), default=list(WAYS), help=f"of {', '.join(WAYS)}")
    parser.add_argument("--given", type=listed(GIVENS), default=list(GIVENS), help="stems, stereo or both")
    parser.add_argument("--out", type=Path, help="table of all cases, written as they come")
    parser.add_argument("--limit", type=int, help="run the first N cases alone")
    parser.add_argument("--jobs", type=int, default=JOBS, help="cases at a time")
    parser.add_argument("--again", action="store_true", help="critique the followed mix, and name steps back")
    parser.add_argument("--planted-only", action="store_true", help="leave out the songs as they are")
    parser.add_argument("--tables", type=Path, nargs="+", help="print what --out wrote earlier, of one run or several, and run nothing")
    given = parser.parse_args()
    if (given.songs is None) is (given.tables is None):
        parser.error("give either --songs or --tables")
    return given


def rows_of(cases: Sequence[Case], jobs: int) -> Iterator[Row]:
    """Yield what came of each case as it ends."""
    with ProcessPoolExecutor(jobs, multiprocessing.get_context("spawn")) as pool:
        for future in as_completed([pool.submit(run_case, case) for case in cases]):
            row = future.result()
            if row is not None:
                yield row


def rows_written(paths: Sequence[Path]) -> list[Row]:
    """Return the rows of tables written earlier."""
    rows: list[Row] = []
    for path in paths:
        with path.open(newline="", encoding="utf-8") as file:
            rows.extend(from_text(columns) for columns in csv.DictReader(file))
    return rows


def line(row: Row) -> str:
    if row.error:
        return f"{row.song:14} {row.fault:13} {row.way:6} {row.given:6} {row.error}"
    share = "     -" if row.closed is None else f"{row.closed:6.0%}"
    return (
        f"{row.song:14} {row.fault:13} {row.way:6} {row.given:6} {row.before:6.2f} > {row.after:6.2f} {share}  {row.moves} [{row.by_whom}]"
    )


class Table:
    """A file of rows, or none."""

    def __init__(self, path: Path | None) -> None:
        self._file = None if path is None else path.open("w", newline="", encoding="utf-8")
        names = [field.name for field in fields(Row)]
        self._writer = None if self._file is None else csv.DictWriter(self._file, [*names, *OWN_COLUMNS])
        if self._writer is not None:
            self._writer.writeheader()

    def add(self, row: Row) -> None:
        if self._writer is not None and self._file is not None:
            self._writer.writerow({**asdict(row), **{name: getattr(row, name) for name in OWN_COLUMNS}})
            self._file.flush()

    def close(self) -> None:
        if self._file is not None:
            self._file.close()


def run(given: argparse.Namespace) -> list[Row]:
    """Run the cases that are asked for, and return their rows in order."""
    folders = sorted(path.parent for path in given.songs.glob("*/stems") if not given.songs_only or path.parent.name in given.songs_only)
    if not folders:
        sys.exit(f"There is no song with stems in {given.songs}.")
    every = all_cases(folders, given.faults, given.ways, given.given, again=given.again, planted_only=given.planted_only)
    cases = list(islice(every, given.limit))
    start, rows, table = time.monotonic(), [], Table(given.out)
    for row in rows_of(cases, given.jobs):
        rows.append(row)
        table.add(row)
        print(f"[{time.monotonic() - start:5.0f} s] {line(row)}", flush=True)
    table.close()
    order: dict[tuple[str, ...], int] = {(case.folder.name, case.fault, case.way, case.given): place for place, case in enumerate(cases)}
    return sorted(rows, key=lambda row: order[row.song, row.fault, row.way, row.given])


def main() -> None:
    given = options()
    rows = run(given) if given.tables is None else rows_written(given.tables)
    print(*tables(rows, given.ways), sep="\n")
    if any(row.error for row in rows):
        sys.exit(1)


if __name__ == "__main__":
    main()
