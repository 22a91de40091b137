"""Writes docs/calibration.md from the rounds kept in docs/calibration/rounds/ and the words kept beside them.

python -m tests.benchmarks.tables.make_calibration             # write the page
python -m tests.benchmarks.tables.make_calibration --check     # exit 1 when it differs
python -m tests.benchmarks.tables.make_calibration --add FILE --title WORDS --changes WORDS ... --diagnosis JSON --finished JSON
python -m tests.benchmarks.tables.make_calibration --references JSON --title WORDS

A round is what `planted_faults.py --json` and `false_alarms.py --json` of tests/benchmarks/diagnosis counted at one state of the rules;
beside them stands what `against_references.py --json` counted.
"""

import argparse
import json
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

DOCS = Path(__file__).parents[3] / "docs"
PAGE, ROUNDS, VARIANTS = DOCS / "calibration.md", DOCS / "calibration" / "rounds", DOCS / "calibration" / "variants.json"
REFERENCES = DOCS / "calibration" / "references.json"
RELIABILITY = DOCS / "calibration" / "reliability.json"
RELIABLE = """Findings about the mix: one clear fault at a time in ten songs with stems, and 64 finished songs; half of them kept
out of the fit. Base rates, which are a choice: one song in ten has each of the faults. High is said from 90 % on, medium from 60 %; below
30 % nothing is told.
Made by `python -m tests.benchmarks.tables.make_probabilities`.
"""
APPENDED = tuple(DOCS / "calibration" / name for name in ("notes.md", "read.md", "read_finished.md"))
SIZES = ("just audible", "clear", "gross")
GROUPS = ("set on", "kept out")
KINDS = ("not broad tone", "broad tone", "all")
INTRODUCTION = """# Calibration

Written by `python -m tests.benchmarks.tables.make_calibration` from `docs/calibration/`; do not edit by hand. What the numbers are,
and how to make them again: `python -m tests.benchmarks.diagnosis.planted_faults --help` and
`python -m tests.benchmarks.diagnosis.false_alarms --help`. Limits may only be moved with this table.

- **Planted faults.** Ten songs with stems, 30 s each, one fault at a time, planted by numpy and scipy alone. Limits are set on six
  (dear-jon-doe, esp, make-me, onion, progress, slice-me-nice); four are kept out (final-step, pingus-3, reggaeton-try, song02).
- **Found**: a right rule among the first three cards of its stage, within a third of an octave where it has a place, on a right
  element where stems are given. **Before**: songs accused of it as they are. **New**: cards a plant that the song as it is does not
  have and the plant is not known to bring about. **False**: those of them that speak of something the plant did not move the accused way
  by what is heard, read with scipy alone (`tests/benchmarks/diagnosis/truth.py`); rounds 1 and 2 did not tell these apart.
- **Finished songs.** 64 by others, from six packages; limits are set on nexuiz-music, singularity-music and zaz-data (37 songs);
  frozen-bubble-data, hyperrogue-music and xmoto-data (27) are kept out. **Sure** is medium or high confidence; the rest are hints.
"""

SHELVES = """`python -m tests.benchmarks.diagnosis.against_references --help` says how: faults that need no stems in the loudest
45 s of finished songs, judged without references, with eight others of the same collection, and with eight of other collections. Set on:
nexuiz-music and singularity-music; kept out: hyperrogue-music; the smaller collections serve on the shelves of others.
"""


def percent(part: float, whole: float) -> str:
    """Return a share in percent, or a dash."""
    return "-" if not whole else f"{100 * part / whole:.0f} %"


def rate(part: float, whole: float) -> str:
    """Return a count per song or plant, or a dash."""
    return "-" if not whole else f"{part / whole:.2f}"


def table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Return a table."""
    lines = ["| " + " | ".join(head) + " |", "|" + "---|" * len(head)]
    return "\n".join(lines + ["| " + " | ".join(row) + " |" for row in rows])


def course(rounds: Sequence[Mapping[str, Any]]) -> str:
    """Return one row per round and group: the figures the rules are held to."""
    rows = []
    for number, document in enumerate(rounds, start=1):
        for group in GROUPS:
            over_all, finished = document["diagnosis"][group]["over all"], document["finished"][group]
            narrow, broad = over_all["not broad tone"], over_all["broad tone"]
            every = [over_all["all"][size] for size in SIZES]
            plants = sum(counts["songs"] for counts in every)
            rows.append([
                f"{number}. {document['title']}", group,
                *(percent(kind[size]["found"], kind[size]["songs"]) for kind in (narrow, broad) for size in ("clear", "gross")),
                rate(sum(counts["new"] for counts in every), plants),
                _false(every, plants),
                rate(sum(counts["new, more than a hint"] for counts in every), plants),
                percent(sum(counts["right way"] for counts in every), sum(counts["with a remedy"] for counts in every)),
                rate(finished["mixing, more than a hint"], finished["songs"]), rate(finished["hints"], finished["songs"]),
                f"{finished['not ready']} of {finished['songs']}",
            ])  # fmt: skip
    head = ["round", "songs", "other faults, clear", "gross", "broad tone, clear", "gross", "new a plant", "of these false",
            "of these sure", "right way", "finished: sure of the mix a song", "hints a song", "not ready"]  # fmt: skip
    return table(head, rows)


def by_fault(document: Mapping[str, Any], group: str) -> str:
    """Return one row per fault."""
    rows = []
    numbers = document["diagnosis"][group]
    for name, sizes in (*numbers["faults"].items(), *((f"**{kind}**", numbers["over all"][kind]) for kind in KINDS)):
        rows.append([name, *(_cell(sizes[size]) for size in SIZES)])
    return table(["fault", *(f"{size}: found of songs (sure; before), right way, new (false) a plant" for size in SIZES)], rows)


def _cell(counts: Mapping[str, int]) -> str:
    if not counts["songs"]:
        return "-"
    way = f", way {counts['right way']}/{counts['with a remedy']}" if counts["with a remedy"] else ""
    new = f"{counts['new'] / counts['songs']:.1f} ({_false([counts], counts['songs'], 1)})"
    return f"{counts['found']}/{counts['songs']} ({counts['more than a hint']}; {counts['already']}){way}, {new}"


def _false(counts: Sequence[Mapping[str, int]], plants: int, digits: int = 2) -> str:
    """Return the false accusations a plant; a dash where a round did not tell them apart."""
    return (
        f"{sum(group_counts['new, false'] for group_counts in counts) / plants:.{digits}f}" if plants and "new, false" in counts[0] else "-"
    )


def by_rule(document: Mapping[str, Any]) -> str:
    """Return what finished songs are accused of."""
    rows = []
    names = {name for group in GROUPS for name in document["finished"][group]["by rule"]}
    for name in sorted(
        names, key=lambda rule_id: (-sum(document["finished"][group]["by rule"].get(rule_id, [0, 0])[0] for group in GROUPS), rule_id)
    ):
        counts = [document["finished"][group]["by rule"].get(name, [0, 0]) for group in GROUPS]
        rows.append([name, *(f"{sure}" for pair in counts for sure in pair)])
    return table(["rule", "set on: sure", "hints", "kept out: sure", "hints"], rows)


def blamed(document: Mapping[str, Any]) -> str:
    """Return which rules accuse planted songs of something else, and how often falsely."""
    counts = [document["diagnosis"]["by rule"][group] for group in GROUPS]
    false = document["diagnosis"].get("by rule, false", {})
    columns = [column for group, rule_counts in zip(GROUPS, counts, strict=True) for column in (rule_counts, false.get(group))]
    names = sorted(
        {name for rule_counts in counts for name in rule_counts},
        key=lambda name: (-sum(rule_counts.get(name, 0) for rule_counts in counts), name),
    )
    head = ["rule", *(f"{group}{words}" for group in GROUPS for words in ("", ": false"))]
    return table(head, [[name, *("-" if column is None else str(column.get(name, 0)) for column in columns)] for name in names])


def variants(by_variant: Mapping[str, Any]) -> str:
    """Return whether the same is found in other versions of the songs."""
    rows = [
        [name, ", ".join(variant["songs"]), str(variant["plants"]), str(variant["same"]), "; ".join(variant["differences"]) or "-"]
        for name, variant in by_variant.items()
    ]
    return table(["the same, but", "songs", "plants", "found or not as before", "what differs"], rows)


def with_references(states: Mapping[str, Any]) -> str:
    """Return what shelves find, one row for each state of the code, shelf and half of the collections."""
    rows = []
    for state, shelves in states.items():
        for shelf, document in shelves.items():
            for group in GROUPS:
                over_all, plain = document["diagnosis"][group]["over all"], document["as they are"][group]
                every = [over_all["all"][size] for size in SIZES]
                plants = sum(counts["songs"] for counts in every)
                shares = [
                    f"{percent(counts['found'], counts['songs'])} ({percent(counts['more than a hint'], counts['songs'])})"
                    for kind in ("not broad tone", "broad tone") for size in ("clear", "gross") for counts in (over_all[kind][size],)
                ]  # fmt: skip
                rows.append([
                    state, shelf, group, *shares, rate(sum(counts["new"] for counts in every), plants), _false(every, plants),
                    rate(plain["mixing, more than a hint"], plain["songs"]), rate(plain["hints"], plain["songs"]),
                ])  # fmt: skip
    head = ["state", "shelf", "songs", "other faults, clear (sure)", "gross", "broad tone, clear (sure)", "gross", "new a plant",
            "of these false", "as they are: sure of the mix a song", "hints a song"]  # fmt: skip
    return table(head, rows)


def fault_by_shelf(shelves: Mapping[str, Any], group: str) -> str:
    """Return what is found of each fault, one column for each shelf and size."""
    counted = {shelf: document["diagnosis"][group] for shelf, document in shelves.items()}
    faults = next(iter(counted.values()))["faults"]
    rows = [
        [fault, *(_found(group_counts["faults"].get(fault, {}).get(size)) for group_counts in counted.values() for size in SIZES[1:])]
        for fault in faults
    ]
    return table(["fault", *(f"{shelf}: {size}" for shelf in counted for size in SIZES[1:])], rows)


def _found(counts: Mapping[str, int] | None) -> str:
    return f"{counts['found']}/{counts['songs']} ({counts['more than a hint']}; {counts['already']})" if counts and counts["songs"] else "-"


def shelf_pages(states: Mapping[str, Any]) -> list[str]:
    """Return the section about references."""
    latest = list(states.values())[-1]
    parts = ["\n## With eight references\n", SHELVES, with_references(states)]
    for group in GROUPS:
        parts += [f"\nFound of songs (sure; accused as they are), {group}, latest state:\n", fault_by_shelf(latest, group)]
    return parts


def reliability(counted: Mapping[str, Any]) -> str:
    """Return what was said of findings beside how many of them are right."""
    rows = [
        [
            f"{percent(row['from'], 1)} to {percent(row['to'], 1)}",
            group,
            str(row["findings"]),
            percent(row["said"], 1),
            percent(row["right"], 1),
        ]
        for group in GROUPS
        for row in counted[group]
    ]
    return table(["probability", "songs", "findings", "said", "right"], rows)


def page() -> str:
    """Return the whole page."""
    rounds = [json.loads(path.read_text()) for path in sorted(ROUNDS.glob("*.json"))]
    latest = rounds[-1]
    parts = [INTRODUCTION, "## From round to round\n", course(rounds), ""]
    for number, document in enumerate(rounds, start=1):
        parts += [f"\n**{number}. {document['title']}**", *(f"- {change}" for change in document["changes"])]
    for group in GROUPS:
        parts += [f"\n## Latest round, songs {'on which limits are set' if group == 'set on' else 'kept out'}\n", by_fault(latest, group)]
    parts += ["\n## Newly accused, by rule\n", "Cards over all plants.\n", blamed(latest)]
    parts += ["\n## What finished songs are accused of\n", by_rule(latest)]
    if RELIABILITY.exists():
        parts += ["\n## How sure: said and right\n", RELIABLE, reliability(json.loads(RELIABILITY.read_text()))]
    if VARIANTS.exists():
        parts += ["\n## Quieter, at another rate, encoded\n", variants(json.loads(VARIANTS.read_text()))]
    if REFERENCES.exists():
        parts += shelf_pages(json.loads(REFERENCES.read_text()))
    for words in APPENDED:
        if words.exists():
            parts += ["", words.read_text().rstrip()]
    return "\n".join(parts) + "\n"


def add(path: Path, title: str, changes: Sequence[str], diagnosis: Path, finished: Path) -> None:
    """Keep a round."""
    document = {
        "title": title,
        "changes": list(changes),
        "diagnosis": json.loads(diagnosis.read_text()),
        "finished": json.loads(finished.read_text()),
    }
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(json.dumps(document, separators=(",", ":")) + "\n")


def add_references(counted: Path, title: str) -> None:
    """Keep what shelves found at one state of the code; a state of the same title is counted anew."""
    states = json.loads(REFERENCES.read_text()) if REFERENCES.exists() else {}
    states[title] = json.loads(counted.read_text())
    REFERENCES.write_text(json.dumps(states, separators=(",", ":")) + "\n")


def main() -> None:
    """Write or check the page, after adding a round where one is given."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--check", action="store_true")
    parser.add_argument("--add", default=None)
    parser.add_argument("--title", default="")
    parser.add_argument("--changes", nargs="*", default=())
    parser.add_argument("--diagnosis", type=Path)
    parser.add_argument("--finished", type=Path)
    parser.add_argument("--references", type=Path)
    chosen = parser.parse_args()
    if chosen.references is not None:
        add_references(chosen.references, chosen.title)
    if chosen.add is not None:
        add(ROUNDS / chosen.add, chosen.title, chosen.changes, chosen.diagnosis, chosen.finished)
    written = page()
    if chosen.check:
        stale = "docs/calibration.md differs from its numbers: run python -m tests.benchmarks.tables.make_calibration"
        sys.exit(0 if PAGE.read_text() == written else stale)
    PAGE.write_text(written)


if __name__ == "__main__":
    main()
