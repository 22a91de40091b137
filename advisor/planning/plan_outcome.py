"""Try: from a judged song to a plan that was measured on it."""

from dataclasses import dataclass
from typing import TypeVar

from advisor.app.progress import Progress
from advisor.app.yardstick import Yardstick
from advisor.judging.judge import Judged
from advisor.measuring.measure import measure_again
from advisor.measuring.measured import Measured
from advisor.planning.plan import MOST_TRIED, Plan, make_plan
from advisor.planning.song import Song
from advisor.planning.trial_readings import TrialReadings
from advisor.sources.excerpt import choose
from features.records.base import Span
from features.records.sections import Sections
from features.sound.signal import Source

SoundT = TypeVar("SoundT")


@dataclass(frozen=True, slots=True)
class PlanOutcome:
    """Everything that was tried: on which stretches, the plan, and the whole song before and after it."""

    spans: tuple[Span, ...]
    plan: Plan
    whole_before: TrialReadings
    whole_after: TrialReadings | None
    left: tuple[Source, Measured] | None = None  # the song as the plan leaves it, for mastering


def worst_places(judged: Judged) -> list[Span]:
    """Return where the weightiest findings of the mix are worst, one place each."""
    cards = [card for card in judged.cards if card.rule.stage == "mixing" and card.finding.remedy is not None]
    return [card.finding.where[0] for card in cards[:MOST_TRIED] if card.finding.where]


def try_remedies(song: Song[SoundT], measured: Measured, judged: Judged, yardstick: Yardstick, progress: Progress) -> PlanOutcome | None:
    """Try every remedy on an excerpt, choose the plan, and run it once over the whole song; None when nothing can be measured."""
    sections = measured.records.get(Sections)
    cards = [card for card in judged.cards if card.finding.remedy is not None]
    if not isinstance(sections, Sections) or not cards:
        return None
    spans = choose(sections.densest, worst_places(judged), song.source.frames / song.source.rate_hz)
    plan = make_plan([song.placed(card) for card in cards], song.excerpt(spans), song.apply, song.listen, progress.step)
    before = song.judged(measured)
    if not plan.steps:
        return PlanOutcome(spans, plan, before, None)
    progress.step("Running the finished plan over the whole song")
    source = song.after(plan.remedies)
    again = measure_again(source, yardstick, progress)
    after = song.judged(song.complete(again, plan.remedies))
    if after.excess > before.excess:  # what helps the excerpt and harms the song is no advice
        plan.steps.clear()
        return PlanOutcome(spans, plan, before, None)
    return PlanOutcome(spans, plan, before, after, (source, again))
