"""What `mixproof history` shows: all projects, one project, one of its bounces."""

import json
from collections.abc import Iterator, Mapping, Sequence
from shlex import quote
from typing import Any

from advisor.app.finding_key import SetAside
from advisor.app.history_words import HEADINGS, STATES, VERDICTS, counted, day, shown
from advisor.app.words import number
from advisor.history.course import chart
from advisor.history.store import Bounce, Project
from advisor.report.since_text import finding_words, measured_words, warning_words
from advisor.report_model.codec import from_json
from advisor.report_model.report import Report

Document = Mapping[str, Any]

OPENED = ("new", "came back")
NAME_WIDTH = 40
MORE = "More about one: mixproof history 'NAME'"


def projects_text(projects: Sequence[Project]) -> Iterator[str]:
    """List all projects, the one last worked on first."""
    if not projects:
        yield "No project has been recorded yet. Add --project NAME to a critique: mixproof critique my-mix.wav --project 'My song'"
        return
    names = [shown(one.name, NAME_WIDTH) for one in projects]
    width = max(len(name) for name in names)
    for name, one in zip(names, projects, strict=True):
        last = "" if one.last is None else f", the last on {day(one.last)}"
        yield f"{name:{width}}  {counted(one.bounces, 'bounce', 'bounces')}{last}"
    yield ""
    yield MORE


def project_text(
    name: str, bounces: Sequence[Bounce], states: Mapping[int, Mapping[str, int]], kept: Sequence[SetAside], target_lufs: float
) -> Iterator[str]:
    """Show a project's bounces as a table, its course as bars, and what was set aside."""
    yield f"{shown(name)}: {counted(len(bounces), 'bounce', 'bounces')}"
    yield ""
    if not bounces:
        return
    yield from table(bounces, states)
    yield ""
    yield "How loud a plain limiter can make it, unheard:"
    yield ""
    yield from chart([(one.number, one.clean_lufs) for one in bounces], target_lufs)
    for decision in kept:
        yield ""
        yield f"Set aside: {aside_line(decision)}"
    yield ""
    yield f"One bounce in full: mixproof history {quote(shown(name))} --bounce {bounces[-1].number}"


def aside_line(decision: SetAside) -> str:
    """Return one decision in one line."""
    stem = "" if decision.key.stem is None else f" ({shown(decision.key.stem, NAME_WIDTH)})"
    title = shown(decision.title)
    return f"{title}{stem} [{decision.key.rule}], since bounce {decision.since}, because “{shown(decision.because)}”"


HEAD = ("bounce", "recorded", "file", "clean LUFS", "margin LU", "in the way", "opened", "closed", "still open")


def rows(bounces: Sequence[Bounce], states: Mapping[int, Mapping[str, int]]) -> list[tuple[str, ...]]:
    """Return the table's cells; findings are opened when they are new or came back, and closed when they are solved."""
    found: list[tuple[str, ...]] = []
    for one in bounces:
        counts = states.get(one.number, {})
        still = sum(count for state, count in counts.items() if state not in ("solved", "set aside"))
        opened, closed = sum(counts.get(state, 0) for state in OPENED), counts.get("solved", 0)
        margin = "-" if one.margin_lu is None else f"{one.margin_lu:+.1f}"
        found.append(
            (str(one.number), day(one.recorded), shown(one.file_name, 28), number(one.clean_lufs), margin, number(one.excess),
             str(opened), str(closed), str(still))
        )  # fmt: skip
    return found


def table(bounces: Sequence[Bounce], states: Mapping[int, Mapping[str, int]]) -> Iterator[str]:
    """Draw the table with columns as wide as they need to be; numbers stand at the right."""
    cells = [HEAD, *rows(bounces, states)]
    widths = [max(len(row[column]) for row in cells) for column in range(len(HEAD))]
    for row in cells:
        parts = [
            cell.ljust(width) if place in (1, 2) else cell.rjust(width) for place, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        yield "  ".join(parts).rstrip()


def bounce_text(name: str, bounce: Bounce, document: Document) -> Iterator[str]:
    """Show what was said of one bounce: its verdict, what became of findings and advice, and its plan."""
    report = from_json(Report, json.dumps(document))
    history = report.history
    assert history is not None  # noqa: S101 - every report that is kept has one
    yield f"{shown(name)}, bounce {bounce.number}: {shown(bounce.file_name)}, {day(bounce.recorded)}"
    if bounce.repeats:
        yield f"The same file was critiqued {counted(bounce.repeats, 'more time', 'more times')}."
    yield ""
    yield report.verdict.sentence
    for state in STATES:
        found = [one for one in history.findings if one.state == state]
        if found:
            yield ""
            yield f"{HEADINGS[state] if history.previous else 'Found'}:"
            yield from (f"  {shown(finding_words(one))}" for one in found)
    if history.steps:
        yield ""
        yield "What became of the plan before it:"
        for step in history.steps:
            yield f"  {step.step}. {shown(step.title)}: {VERDICTS[step.verdict]} ({step.sure}). {measured_words(step)}"
    for warning in history.warnings:
        yield f"  Watch out: {shown(warning_words(warning))}"
    if report.plan:
        yield ""
        yield "Its own plan:"
        yield from (f"  {step.step}. {shown(step.title)}: {shown(step.move)}." for step in report.plan)


def export_json(name: str, bounces: Sequence[Bounce], reports: Sequence[Document], kept: Sequence[SetAside]) -> str:
    """Return the whole project for scripts: every report as it was written."""
    document = {
        "project": name,
        "bounces": [
            {"number": one.number, "recorded": one.recorded, "repeats": one.repeats, "report": report}
            for one, report in zip(bounces, reports, strict=True)
        ],
        "set_aside": [
            {"rule": one.key.rule, "stem": one.key.stem, "band_hz": one.key.band_hz, "side": one.key.side, "title": one.title,
             "excess": one.excess, "because": one.because, "since": one.since, "made": one.made}
            for one in kept
        ],
    }  # fmt: skip
    return json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False)


def export_markdown(
    name: str, bounces: Sequence[Bounce], reports: Sequence[Document], states: Mapping[int, Mapping[str, int]], kept: Sequence[SetAside]
) -> Iterator[str]:
    """Return the whole project as a text to keep or to pass on."""
    from advisor.app.words import plain  # noqa: PLC0415

    yield f"# {plain(shown(name))}"
    yield ""
    yield f"| {' | '.join(HEAD)} |"
    yield f"|{'|'.join('---:' if place not in (1, 2) else '---' for place in range(len(HEAD)))}|"
    for row in rows(bounces, states):
        yield f"| {' | '.join(plain(cell) for cell in row)} |"
    yield ""
    for decision in kept:
        yield f"- Set aside: {plain(aside_line(decision))}"
    if kept:
        yield ""
    for one, report in zip(bounces, reports, strict=True):
        first, *others = bounce_text(name, one, report)
        yield f"## {plain(first.removeprefix(f'{shown(name)}, ').capitalize())}"
        yield ""
        for line in others:
            if line.startswith("  "):
                yield f"- {plain(line.strip())}"
            else:
                yield from ("", plain(line), "") if line else ()
        yield ""
