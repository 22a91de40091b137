"""What `mixproof history` shows.

All projects, one project, one of its bounces.
"""

import json
from collections.abc import Iterator, Mapping, Sequence
from shlex import quote

from advisor.app.finding_key import SetAside
from advisor.app.history_words import HEADINGS, STATES, VERDICTS, counted, day, shown
from advisor.app.words import number
from advisor.history.course import chart
from advisor.history.store import Bounce, Project
from advisor.report.sections.critique.comparisons.since import finding_words, measured_words, warning_words
from advisor.report_model.history import HistorySection
from advisor.report_model.report import Report

OPENED = ("new", "came back")
NAME_WIDTH = 40
MORE = "More about one: mixproof history 'NAME'"


def projects_text(projects: Sequence[Project]) -> Iterator[str]:
    """List all projects, the one last worked on first."""
    if not projects:
        yield "No project has been recorded yet. Add --project NAME to a critique: mixproof critique my-mix.wav --project 'My song'"
        return
    names = [shown(project.name, NAME_WIDTH) for project in projects]
    width = max(len(name) for name in names)
    for name, project in zip(names, projects, strict=True):
        last = "" if project.last is None else f", the last on {day(project.last)}"
        yield f"{name:{width}}  {counted(project.bounces, 'bounce', 'bounces')}{last}"
    yield ""
    yield MORE


def project_text(
    name: str, bounces: Sequence[Bounce], states: Mapping[int, Mapping[str, int]], set_asides: Sequence[SetAside], target_lufs: float
) -> Iterator[str]:
    """Show a project's bounces, its course, and its set-asides."""
    yield f"{shown(name)}: {counted(len(bounces), 'bounce', 'bounces')}"
    yield ""
    if not bounces:
        return
    yield from table(bounces, states)
    yield ""
    yield "Clean loudness, bounce by bounce:"
    yield ""
    yield from chart([(bounce.number, bounce.clean_lufs) for bounce in bounces], target_lufs)
    for decision in set_asides:
        yield ""
        yield f"Set aside: {aside_line(decision)}"
    yield ""
    yield f"One bounce in full: mixproof history {quote(shown(name))} --bounce {bounces[-1].number}"


def aside_line(decision: SetAside) -> str:
    """Return one decision in one line."""
    stem = "" if decision.key.stem is None else f" ({shown(decision.key.stem, NAME_WIDTH)})"
    title = shown(decision.title)
    return f"{title}{stem} [{decision.key.rule}], since bounce {decision.since}, because “{shown(decision.because)}”"


HEAD = ("bounce", "recorded", "file", "clean LUFS", "margin LU", "past limits", "opened", "closed", "still open")


def rows(bounces: Sequence[Bounce], states: Mapping[int, Mapping[str, int]]) -> list[tuple[str, ...]]:
    """Return the table's cells.

    Findings are opened when they are new or came back, and closed when they are solved.
    """
    cells: list[tuple[str, ...]] = []
    for bounce in bounces:
        counts = states.get(bounce.number, {})
        still = sum(count for state, count in counts.items() if state not in ("solved", "set aside"))
        opened, closed = sum(counts.get(state, 0) for state in OPENED), counts.get("solved", 0)
        margin = "-" if bounce.margin_lu is None else f"{bounce.margin_lu:+.1f}"
        loudness, excess = number(bounce.clean_lufs), number(bounce.excess)
        file, counted_states = shown(bounce.file_name, 28), (str(opened), str(closed), str(still))
        cells.append((str(bounce.number), day(bounce.recorded), file, loudness, margin, excess, *counted_states))
    return cells


def table(bounces: Sequence[Bounce], states: Mapping[int, Mapping[str, int]]) -> Iterator[str]:
    """Draw the table, with numbers at the right."""
    cells = [HEAD, *rows(bounces, states)]
    widths = [max(len(row[column]) for row in cells) for column in range(len(HEAD))]
    for row in cells:
        parts = [
            cell.ljust(width) if place in (1, 2) else cell.rjust(width) for place, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        yield "  ".join(parts).rstrip()


def bounce_text(name: str, bounce: Bounce, report: Report) -> Iterator[str]:
    """Show one bounce: its verdict, findings, followed advice and plan."""
    yield f"{shown(name)}, bounce {bounce.number}: {shown(bounce.file_name)}, {day(bounce.recorded)}"
    if bounce.repeats:
        yield f"The same file was critiqued {counted(bounce.repeats, 'more time', 'more times')}."
    yield ""
    yield report.verdict.sentence
    if report.history is not None:
        yield from _since(report.history)
    if report.plan:
        yield ""
        yield "Its own plan:"
        yield from (f"  {step.step}. {shown(step.title)}: {shown(step.move)}." for step in report.plan)


def _since(history: HistorySection) -> Iterator[str]:
    for state in STATES:
        findings = [finding for finding in history.findings if finding.state == state]
        if findings:
            yield ""
            yield f"{HEADINGS[state] if history.previous else 'Found'}:"
            yield from (f"  {shown(finding_words(finding))}" for finding in findings)
    if history.steps:
        yield ""
        yield "What became of the plan before it:"
        for step in history.steps:
            yield f"  {step.step}. {shown(step.title)}: {VERDICTS[step.verdict]} ({step.sure}). {measured_words(step)}"
    for warning in history.warnings:
        yield f"  Watch out: {shown(warning_words(warning))}"


def export_json(name: str, bounces: Sequence[Bounce], reports: Sequence[bytes], set_asides: Sequence[SetAside]) -> str:
    """Return the project with its reports as they were written."""
    document = {
        "project": name,
        "bounces": [
            {"number": bounce.number, "recorded": bounce.recorded, "repeats": bounce.repeats, "report": json.loads(report)}
            for bounce, report in zip(bounces, reports, strict=True)
        ],
        "set_aside": [
            {"rule": decision.key.rule, "stem": decision.key.stem, "band_hz": decision.key.band_hz, "side": decision.key.side,
             "title": decision.title, "excess": decision.excess, "because": decision.because, "since": decision.since,
             "made": decision.made}
            for decision in set_asides
        ],
    }  # fmt: skip
    return json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False)


def export_markdown(
    name: str,
    bounces: Sequence[Bounce],
    reports: Sequence[Report | str],
    states: Mapping[int, Mapping[str, int]],
    set_asides: Sequence[SetAside],
) -> Iterator[str]:
    """Return the whole project as a text to keep.

    ``reports`` holds in place of a report that cannot be read the sentence that says so.
    """
    from advisor.app.words import plain  # noqa: PLC0415

    yield f"# {plain(shown(name))}"
    yield ""
    yield f"| {' | '.join(HEAD)} |"
    yield f"|{'|'.join('---:' if place not in (1, 2) else '---' for place in range(len(HEAD)))}|"
    for row in rows(bounces, states):
        yield f"| {' | '.join(plain(cell) for cell in row)} |"
    yield ""
    for decision in set_asides:
        yield f"- Set aside: {plain(aside_line(decision))}"
    if set_asides:
        yield ""
    for bounce, report in zip(bounces, reports, strict=True):
        if isinstance(report, str):
            yield from (f"## {plain(f'Bounce {bounce.number}: {shown(bounce.file_name)}')}", "", plain(report), "")
            continue
        first, *others = bounce_text(name, bounce, report)
        yield f"## {plain(first.removeprefix(f'{shown(name)}, ').capitalize())}"
        yield ""
        for line in others:
            if line.startswith("  "):
                yield f"- {plain(line.strip())}"
            else:
                yield from ("", plain(line), "") if line else ()
        yield ""
