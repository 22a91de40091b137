"""Tells what became of the last bounce's findings and advice."""

from collections.abc import Iterator, Sequence

from advisor.app.history_words import HEADINGS, STATES, VERDICTS, day, shown
from advisor.app.words import SURE, lowered, number, sentence
from advisor.report.element_words import element_lines, undone_words
from advisor.report.filling import filled
from advisor.report_model.comparison import ComparedMove
from advisor.report_model.findings import AsideFinding
from advisor.report_model.history import FollowedStep, HistoryFinding, HistorySection, ReadingChange, Warned
from advisor.report_model.report import Report

PLACE = 45
TOLD_AT_ONCE = ("solved", "worse", "came back", "new")
BARELY = 0.25  # tolerances: a finding this little past its limit comes and goes
KEPT = ("solved", "better", "still there", "worse", "came back", "new", "not judged")


def section(report: Report) -> Iterator[str]:
    """Yield what changed since the last bounce.

    Nothing without a project.
    """
    history = report.history
    if not history:
        return
    of_states = [(HEADINGS[state], of_state(history, state)) for state in STATES if state != "set aside"]
    yield from filled(
        __name__,
        previous=history.previous,
        which=_which(history),
        cautions=list(cautions(history)),
        summary=sum_up(history),
        warnings=[warning_words(warning) for warning in history.warnings],
        findings=[
            (heading, "; ".join(_titles(findings)), [finding_words(finding) for finding in findings])
            for heading, findings in of_states
            if findings
        ],
        steps=[(step, measured_words(step), VERDICTS[step.verdict]) for step in history.steps],
        elements=list(element_lines(history.elements)),
        undone=[undone_words(step) for step in history.undone],
        changes="; ".join(reading_words(change) for change in history.readings if change.field != "clean_lufs"),
        sure=SURE,
        set_aside=[aside_words(aside) for aside in history.set_aside],
    )


def _which(history: HistorySection) -> str:
    name, previous = shown(history.project, 60), history.previous
    if history.repeat:
        again = "what was recorded of it is brought up to date" if history.replaces else "nothing new is recorded"
        first = f"This file is bounce {history.number} of “{name}” already; {again}."
        return first if previous is None else f"{first} It is compared with bounce {previous.number}."
    if previous is None:
        return f"This is the first bounce of “{name}”. The next one is compared with it: what is solved, what got worse, what was followed."
    file = shown(previous.name, 60)
    return f"Bounce {history.number} of “{name}”, compared with bounce {previous.number} ({file}, {day(previous.recorded)})."


def cautions(history: HistorySection) -> Iterator[str]:
    """Say what else may be behind a difference."""
    if history.same_file_as is not None and not history.repeat:
        yield f"The file is the very one that was bounce {history.same_file_as}"
    if history.settings_changed:
        yield f"Part of what differs may come from the settings: {', '.join(history.settings_changed)}"


def of_state(history: HistorySection, state: str) -> list[HistoryFinding]:
    """Return the findings with this state."""
    return [finding for finding in history.findings if finding.state == state]


def sum_up(history: HistorySection) -> str:
    """Return the whole in two sentences."""
    counts = [(state, len(of_state(history, state))) for state in KEPT]
    parts = [f"{count} {HEADINGS[state].lower()}" for state, count in counts if count]
    first = f"Findings: {', '.join(parts)}." if parts else "No findings, then or now."
    return f"{first}{_loudness(history)}"


def _loudness(history: HistorySection) -> str:
    for change in history.readings:
        if change.field == "clean_lufs":
            gained = change.after - change.before
            return f" Clean loudness {number(change.before)} to {number(change.after)} LUFS ({gained:+.1f} LU)."
    return ""


def _titles(findings: Sequence[HistoryFinding]) -> list[str]:
    return [finding.title if place == 0 else lowered(finding.title) for place, finding in enumerate(findings)]


def finding_words(finding: HistoryFinding) -> str:
    """Return a finding with what became of it."""
    title = finding.title if finding.stem is None or finding.stem in finding.title else f"{finding.title} ({finding.stem})"
    before, after, state = finding.before, finding.after, finding.state
    if state == "solved":
        barely = ", only just a finding" if (before or 0.0) < BARELY else ""
        return f"{title} (was {number(before)}{barely})"
    if state == "came back":
        reason = f", set aside before because “{finding.because}”, and clearly stronger since" if finding.because else ""
        gone = f", solved in bounce {finding.solved}" if finding.solved is not None else ""
        return f"{title} ({number(after)}{gone}{reason})"
    if state == "new":
        barely = ", only just" if (after or 0.0) < BARELY else ""
        return f"{title} ({number(after)}{barely})"
    if state == "not judged":
        return f"{title} (was {number(before)}; nothing measured now could tell)"
    if before is None or state == "still there":
        return f"{title} ({number(after)}, since bounce {finding.first})"
    return f"{title} ({number(before)} to {number(after)})"


def measured_words(step: FollowedStep | ComparedMove) -> str:
    """Return what one step brought, against what it promised."""
    if step.share is None or step.promised is None or step.measured is None or step.verdict == "not measurable":
        return sentence(step.sure_because)
    if not step.unit:
        left = max(step.promised - step.measured, 0.0)
        return f"Its finding went from {number(step.promised)} to {number(left)} tolerances past its limit."
    digits = 2 if step.unit == "ms" else 0 if step.unit.startswith("%") else 1
    return f"{step.measured:+.{digits}f} {step.unit}; promised {step.promised:+.{digits}f} {step.unit} ({step.reading})."


def warning_words(warning: Warned) -> str:
    """Return one warning as a sentence."""
    if warning.kind == "loudness":
        levels = f"{number(warning.before)} LUFS then, {number(warning.after)} LUFS now"
        return f"the mix has less clean loudness: {levels}"
    move = f"step {warning.step} (“{warning.move}”)"
    return f"“{warning.title}” got worse since, and {move} works on the same: take part of that move back and compare at one loudness"


def reading_words(change: ReadingChange) -> str:
    """Return one reading that changed."""
    digits, unit = change.digits, change.unit
    return f"{change.name} {number(change.before, digits)} to {number(change.after, digits, unit)}"


def aside_words(aside: AsideFinding) -> str:
    """Return a finding that was set aside, in words."""
    stem = "" if aside.stem is None else f" ({aside.stem})"
    since = "" if aside.since is None else f", since bounce {aside.since}"
    then = "" if aside.excess_then is None else f", {number(aside.excess_then)} when it was set aside"
    now = f"now {number(aside.excess)} tolerances past its limit{then}"
    return f"{aside.title}{stem}, because “{aside.because}”{since}; {now}. It comes back when it grows by more than 1."


def since_lines(history: HistorySection) -> Sequence[str]:
    """Return what the command line prints of it."""
    name = shown(history.project, 60)
    if history.repeat:
        again = [f"This file is bounce {history.number} of '{name}' already: not recorded as a new one."]
        return again if history.previous is None else [*again, *_since_lines(history, name)]
    if history.previous is None:
        return [f"Recorded as the first bounce of '{name}'."]
    return _since_lines(history, name)


def _since_lines(history: HistorySection, name: str) -> list[str]:
    number_then = history.number if history.previous is None else history.previous.number
    lines = [f"Since bounce {number_then} of '{name}' (this is bounce {history.number}): {lowered(sum_up(history))}"]
    for state in TOLD_AT_ONCE:
        titles = [finding.title for finding in of_state(history, state)]
        if titles:
            lines.append(f"  {HEADINGS[state]}: {'; '.join(shown(title) for title in titles)}")
    lines += [f"  Step {step.step} ({shown(step.title)}): {VERDICTS[step.verdict]}" for step in history.steps]
    lines += [f"  {undone_words(step)}" for step in history.undone]
    lines += [f"  {words}" for words in element_lines(history.elements)]
    return [*lines, *(f"  Watch out: {warning_words(warning)}" for warning in history.warnings)]
