"""What became of each element since the bounce before."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from advisor.remedies.discovery import find_kind
from advisor.report_model.history import ElementBand, ElementChange, ElementState, UndoneStep
from advisor.report_model.report import Report
from advisor.stems.earlier import against_the_rest
from features.elements.changes import SoundChange, change_between, lag_steps, match
from features.elements.fingerprint import Fingerprint
from features.records.elements import Element

UNTOUCHED_DB, UNTOUCHED_PAN_DB, EVEN_DB = 0.1, 0.3, 1.0
HEARD_STEP = 0.03  # of what is heard of an element
EXPLAINS_DB = 0.5  # a fader moved by less explains nothing
TAKEN_BACK = 0.7  # of a step, and it is undone
MADE = ("done", "partly", "overdone")


@dataclass(frozen=True, slots=True)
class ComparedElements:
    """The changes of all elements.

    ``sounds`` are the readings of each, by its name in the earlier bounce.
    """

    changes: tuple[ElementChange, ...]
    sounds: Mapping[str, SoundChange]

    def fader_db(self, names: Sequence[str]) -> float | None:
        """Return how far some elements' faders were moved.

        The middle one of them; None where that is not known.
        """
        moved = sorted(change.fader_db for change in self.changes if change.was in names and change.fader_db is not None)
        return moved[len(moved) // 2] if moved else None

    def pan_db(self, name: str) -> float | None:
        """Return how far an element was panned to the right."""
        return next((change.pan_db for change in self.changes if change.was == name), None)

    @property
    def untouched(self) -> frozenset[str]:
        """Return the names, now, of the elements that nobody touched."""
        return frozenset(change.name for change in self.changes if change.state == "untouched" and change.name is not None)


def compare_elements(
    before: Sequence[Fingerprint], after: Sequence[Fingerprint], earlier: Report, later: Report
) -> ComparedElements | None:
    """Compare the elements of two bounces.

    None without those of both.
    """
    if not before or not after:
        return None
    lag = lag_steps(before, after)
    pairs = match(before, after, lag)
    sounds = {before[old].name: change_between(before[old], after[new], lag) for old, new in pairs}
    known = {name: sound.fader_db for name, sound in sounds.items() if sound.same_performance and sound.fader_db is not None}
    faders = against_the_rest(known)
    changes = [_change(before[old].name, after[new].name, sounds[before[old].name], faders.get(before[old].name)) for old, new in pairs]
    gone = [element.name for place, element in enumerate(before) if place not in {old for old, _ in pairs}]
    new = [element.name for place, element in enumerate(after) if place not in {new for _, new in pairs}]
    changes += [ElementChange(name=None, was=name, state="gone") for name in gone]
    changes += [ElementChange(name=name, was=None, state="new") for name in new]
    then, now = ({stem.name: stem for stem in report.stems or ()} for report in (earlier, later))
    return ComparedElements(tuple(_heard(change, then, now, changes) for change in changes), sounds)


def _change(was: str, name: str, sound: SoundChange, fader_db: float | None) -> ElementChange:
    if not sound.same_performance or fader_db is None:
        return ElementChange(name=name, was=was, state="replaced")
    touched = abs(fader_db) >= UNTOUCHED_DB or abs(sound.pan_db) >= UNTOUCHED_PAN_DB or bool(sound.bands) or sound.uneven_db >= EVEN_DB
    state: ElementState = "moved" if touched else "untouched"
    bands = tuple(ElementBand(band.low_hz, band.high_hz, band.change_db) for band in sound.bands)
    return ElementChange(
        name=name, was=was, state=state, fader_db=round(fader_db, 2) + 0.0, pan_db=sound.pan_db, bands=bands, uneven_db=sound.uneven_db
    )


def _heard(
    change: ElementChange, then: Mapping[str, Element], now: Mapping[str, Element], changes: Sequence[ElementChange]
) -> ElementChange:
    """Add how much of an element was and is heard, and whose fader explains the difference."""
    old, new = then.get(change.was or ""), now.get(change.name or "")
    if old is None or new is None:
        return change
    before, after = old.masking.audible_share, new.masking.audible_share
    since = None
    if change.state == "untouched" and before is not None and after is not None and abs(after - before) >= HEARD_STEP:
        since = _explaining(old if after > before else new, changes, down=after > before)
    return replace(change, heard_before=before, heard_after=after, since=since)


def _explaining(covered: Element, changes: Sequence[ElementChange], *, down: bool) -> str | None:
    """Return the element that covers this one most and was moved the way that explains it."""
    moved = {name: change for change in changes for name in (change.was, change.name) if name is not None}
    for cover in covered.masking.covered_by:
        change = moved.get(cover.by)
        fader_db = None if change is None else change.fader_db
        if fader_db is not None and (fader_db <= -EXPLAINS_DB if down else fader_db >= EXPLAINS_DB):
            return change.name if change is not None else None
    return None


def undone(before: Sequence[tuple[int, Report]], now: Sequence[ElementChange]) -> tuple[UndoneStep, ...]:
    """Return the steps made before and taken back now."""
    made: list[UndoneStep] = []
    for place in range(1, len(before)):
        (_, planned), (number, report) = before[place - 1], before[place]
        if report.history is None:
            continue
        since = [changes_of(later) for _, later in before[place + 1 :]]
        remedies = {step.step: step.remedy for step in planned.plan}
        for step in report.history.steps:
            remedy = remedies.get(step.step)
            kind = None if remedy is None else find_kind(remedy)
            if remedy is None or kind is None or not kind.is_fader or step.verdict not in MADE or not step.measured:
                continue
            name = next((change.name for change in report.history.elements if change.was == remedy.part), None)
            until, last = _moved_since(name, since), _moved_since(name, [*since, now])
            if name and last is not None and until is not None and _back(last, step.measured) and not _back(until, step.measured):
                made.append(UndoneStep(number, step.step, step.move, name, round(last, 1)))
    return tuple(made)


def changes_of(report: Report) -> tuple[ElementChange, ...]:
    """Return the element changes that a report holds."""
    return () if report.history is None else report.history.elements


def _back(since_db: float, made_db: float) -> bool:
    return since_db / made_db <= -TAKEN_BACK


def _moved_since(name: str | None, bounces: Sequence[Sequence[ElementChange]]) -> float | None:
    """Return how far a fader was moved over some bounces; None where the element is lost sight of."""
    total = 0.0
    for changes in bounces:
        change = next((change for change in changes if change.was == name and name is not None), None)
        if change is None or change.fader_db is None:
            return None
        total, name = total + change.fader_db, change.name
    return total
