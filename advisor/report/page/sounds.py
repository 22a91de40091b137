"""Finds what a report's page lets its reader hear."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from advisor.report.filling import LINK
from advisor.report_model.findings import FindingCard
from advisor.report_model.plan import PlanStep
from advisor.report_model.report import Report
from features.records.base import Span


@dataclass(frozen=True, slots=True)
class Mark:
    """A finding's place in the song, and its words."""

    place: Span
    words: str


@dataclass(frozen=True, slots=True)
class Sound:
    """One sound, or two that belong together, for one player.

    Each file stands by its path beside the report, with the word on its button.
    """

    title: str
    files: tuple[tuple[str, str], ...]
    place: Span
    marks: tuple[Mark, ...] = ()
    whole: bool = False


def sounds_of(report: Report) -> Mapping[str, Sound]:
    """Return the sounds by the paths that link to them."""
    sounds = [*_steps(report), *_mix(report)]
    safe = (sound for sound in sounds if all(LINK.fullmatch(path) for path, _ in sound.files))
    return {sound.files[0][0]: sound for sound in safe}


def _steps(report: Report) -> Iterator[Sound]:
    for step in report.plan:
        clips = step.audition
        if clips is None:
            continue
        title = f"Step {step.step}: {step.title}"
        files = ((clips.after, "the clip"),) if clips.same else ((clips.before, "Before"), (clips.after, "After"))
        place = Span(clips.start_s, clips.end_s)
        yield Sound(title, files, place, _inside(place, _step_marks(step, report.findings)))


def _step_marks(step: PlanStep, cards: Sequence[FindingCard]) -> list[Mark]:
    """Return where the step's finding is, and those that go with it."""
    with_it = [card for card in cards if card.gone_with_step == step.step]
    places = [(step.where, step.title), *((card.where, card.title) for card in with_it)]
    return [Mark(place, title) for where, title in places for place in where]


def _mix(report: Report) -> Iterator[Sound]:
    if report.audition is None:
        return
    place = Span(0.0, report.mix.duration_s)
    marks = [Mark(span, card.title) for card in report.findings for span in card.where[:1]]
    yield Sound("Your mix", ((report.audition.marked_mix, "the mix"),), place, _inside(place, marks), whole=True)


def _inside(place: Span, marks: Sequence[Mark]) -> tuple[Mark, ...]:
    """Return the marks that fall into a stretch, cut to it."""
    cut = [(max(mark.place.start_s, place.start_s), min(mark.place.end_s, place.end_s), mark.words) for mark in marks]
    return tuple(Mark(Span(start, end), words) for start, end, words in cut if start < place.end_s and end >= place.start_s)
