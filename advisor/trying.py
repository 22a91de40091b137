"""Try: from a judged song to a plan that was measured on it."""

from advisor.apply import apply
from advisor.config import Settings
from advisor.excerpt import choose, take
from advisor.heard import heard
from advisor.judge import Judged, judge
from advisor.listening import listener, trial_rules
from advisor.measure import measure_again
from advisor.measured import Measured
from advisor.plan import MOST_TRIED, make_plan
from advisor.processed import Processed
from advisor.progress import Progress
from advisor.report.tried import Tried
from features.measurements import Sections, Span
from features.signal import Source


def worst_places(judged: Judged) -> list[Span]:
    """Return where the weightiest findings of the mix are worst, one place each."""
    cards = [card for card in judged.cards if card.rule.stage == "mixing" and card.finding.remedy is not None]
    return [card.finding.where[0] for card in cards[:MOST_TRIED] if card.finding.where]


def try_remedies(source: Source, measured: Measured, judged: Judged, settings: Settings, progress: Progress) -> Tried | None:
    """Try every remedy on an excerpt, choose the plan, and run it once over the whole song; None when nothing can be measured."""
    sections = measured.records.get(Sections)
    cards = [card for card in judged.cards if card.finding.remedy is not None]
    if not isinstance(sections, Sections) or not cards:
        return None
    duration_s = source.frames / source.rate_hz
    excerpt = take(source, choose(sections.densest, worst_places(judged), duration_s))
    plan = make_plan(cards, excerpt.signal, apply, listener(settings, measured), progress.step)
    rules = trial_rules()
    before = heard(dict(measured.records), judge(measured, settings, rules))
    after = None
    if plan.steps:
        progress.step("Running the finished plan over the whole song")
        again = measure_again(Processed(source, plan.remedies, apply), settings, progress)
        after = heard(dict(again.records), judge(again, settings, rules))
    return Tried(excerpt.spans, plan, before, after)
