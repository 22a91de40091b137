"""Judge: run every rule and rank the cards.

Findings with one cause are one card.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from advisor.app.finding_key import SIDES, FindingKey
from advisor.app.yardstick import Yardstick
from advisor.judging.finding_history import overlap, stays_aside
from advisor.judging.probability import LEAST_TOLD, rated
from advisor.measuring.measured import Measured
from features.records.base import Measurement
from features.records.elements import Attribution, Elements
from features.records.file import File
from features.records.mastering import Mastered, Release
from rules.base import CONFIDENCE_WEIGHT, Finding, NotApplicable, Rule, all_rules

CLEAR_EXCESS = 0.5  # a finding past its limit by less is told, and stops nothing
STAGES = ("mixing", "mastering", "delivery")
NEEDS_STEMS = "it takes single elements to tell, and no stems were given (--stems FOLDER)"
OF_A_MASTER: tuple[type[Measurement], ...] = (Mastered, Release)
SHORTEST_S = 3.0  # of less, hardly anything but peaks and format is known: no move can be read from it
TOO_SHORT = "the sound is too short to judge"
BARELY = 0.1  # a reading less than a tenth of a tolerance past its limit is as good as at it


@dataclass(frozen=True, slots=True)
class Card:
    """One cause: its best finding, and the others."""

    rule: Rule
    finding: Finding
    also: tuple[tuple[Rule, Finding], ...] = ()
    attribution: Attribution | None = None  # who carries it, where it is about the mix and there are stems

    @property
    def stem(self) -> str | None:
        """The element that the finding is about or laid on."""
        return self.finding.stem or (None if self.attribution is None else self.attribution.element)

    @property
    def weight(self) -> float:
        """How much this card matters.

        How far past the limit, times how sure; later ones of one cause add a little.
        """
        return self.finding.weight + sum(0.25 * other.weight for _, other in self.also)

    @property
    def is_clear(self) -> bool:
        """Whether the finding stands in the way of a master.

        It must be sure enough and far enough past its limit.
        """
        return self.finding.confidence != "low" and self.finding.excess >= CLEAR_EXCESS

    def is_about(self, other: "Card | None") -> bool:
        """Whether both speak of the same thing.

        What is to be done about it does not count.
        """
        if other is None:
            return False
        mine, theirs = self.finding, other.finding
        return (self.rule.id, mine.stem, mine.band_hz) == (other.rule.id, theirs.stem, theirs.band_hz)

    def rules_named(self) -> set[tuple[str, str | None]]:
        """Return the rules on this card.

        Each with the element it speaks of.
        """
        return {(rule.id, its.stem) for rule, its in ((self.rule, self.finding), *self.also)}


@dataclass(frozen=True, slots=True)
class Judged:
    """What all rules said."""

    cards: tuple[Card, ...]
    passed: tuple[Rule, ...]
    not_applicable: tuple[tuple[Rule, str], ...]
    failed: tuple[tuple[str, str], ...]
    disabled: tuple[str, ...] = field(default=())
    set_aside: tuple[Card, ...] = field(default=())


def judge(
    measured: Measured, yardstick: Yardstick, rules: tuple[Rule, ...] | None = None, rate: Callable[[Rule, Finding], Finding] = rated
) -> Judged:
    """Run every enabled rule over the records it asks for.

    ``rate`` says how likely a finding is right.
    """
    cards: list[Card] = []
    aside: list[Card] = []
    passed: list[Rule] = []
    skipped: list[tuple[Rule, str]] = []
    failed = [(f"measurement/{failure.family}", failure.error) for failure in measured.failures]
    chosen = all_rules() if rules is None else rules
    for rule in chosen:
        if rule.id in yardstick.disabled or not about(rule, measured.records):
            continue
        try:
            outcome = _run(rule, measured.records, yardstick)
        except Exception as error:  # noqa: BLE001 - one rule's crash is one line in the report
            failed.append((rule.id, f"{type(error).__name__}: {error}"))
            continue
        if isinstance(outcome, NotApplicable):
            skipped.append((rule, outcome.reason))
            continue
        clear = [rate(rule, finding) for finding in outcome if finding.excess >= BARELY]
        clear = [finding for finding in clear if finding.probability is None or finding.probability >= LEAST_TOLD]
        for finding in clear:
            (aside if _meant(rule, finding, yardstick) else cards).append(Card(rule, finding))
        if not clear:
            passed.append(rule)
    disabled = tuple(sorted(yardstick.disabled))
    return Judged(tuple(rank(merge(cards))), tuple(passed), tuple(skipped), tuple(failed), disabled, tuple(rank(aside)))


def is_too_short(records: Mapping[type[Measurement], Measurement]) -> bool:
    """Whether there is too little sound for a move."""
    file = records.get(File)
    return isinstance(file, File) and file.duration_s < SHORTEST_S


def about(rule: Rule, records: Mapping[type[Measurement], Measurement]) -> bool:
    """Whether a rule concerns what was measured.

    Rules on finished masters are left out of a mix's critique.
    """
    return all(kind in records for kind in rule.looks_at if kind in OF_A_MASTER)


def _run(rule: Rule, records: Mapping[type[Measurement], Measurement], yardstick: Yardstick) -> tuple[Finding, ...] | NotApplicable:
    missing = [kind for kind in rule.looks_at if kind not in records]
    if Elements in missing:
        return NotApplicable(NEEDS_STEMS)
    if missing:
        return NotApplicable(f"its measurement failed ({', '.join(kind.__name__ for kind in missing)})")
    short = is_too_short(records)
    if short and rule.stage != "delivery":
        return NotApplicable(TOO_SHORT)
    outcome = rule.judge(records, yardstick.limits_of(rule))
    if isinstance(outcome, NotApplicable):
        return outcome
    findings = outcome if isinstance(outcome, tuple) else () if outcome is None else (outcome,)
    if short and any(finding.remedy is not None for finding in findings):
        return NotApplicable(TOO_SHORT)
    for finding in findings:
        rule.message.format(**finding.numbers)  # a placeholder without its number is this rule's failure, not the report's
        rule.whole_advice.format(**finding.numbers)
    return findings


def _meant(rule: Rule, finding: Finding, yardstick: Yardstick) -> bool:
    """Whether the user has set this finding aside, and it has not clearly grown since."""
    part = None if finding.remedy is None else finding.remedy.part
    key = FindingKey(rule.id, finding.stem, finding.band_hz, part if part in SIDES else None)
    return stays_aside(key, finding.excess, yardstick.set_asides)


def _overlap(first: Finding, second: Finding) -> bool:
    """Whether two bands share more than half of the narrower one; findings without a band share the whole song."""
    if first.band_hz is None or second.band_hz is None:
        return first.band_hz is None and second.band_hz is None
    return overlap(first.band_hz, second.band_hz) > 0.5


def _origin(card: Card) -> tuple[str, str, str | None]:
    return card.finding.cause, card.rule.stage, card.finding.stem


def _explains(lead: Card, card: Card) -> bool:
    """Whether a finding on one card brings about the other one, and is no less sure."""
    findings = (lead.finding, *(its for _, its in lead.also))
    return any(
        card.rule.id in finding.explains and CONFIDENCE_WEIGHT[finding.confidence] >= CONFIDENCE_WEIGHT[card.finding.confidence]
        for finding in findings
    )


def merge(cards: list[Card]) -> list[Card]:
    """Make one card of findings with one cause.

    They share cause, stage and band, or one explains the other; the strongest leads.
    """
    merged: list[Card] = []
    explained = {card.rule.id for card in cards if any(_explains(other, card) for other in cards)}
    for card in sorted(cards, key=lambda card: (card.rule.id in explained, -card.weight, card.rule.id, card.finding.stem or "")):
        for index, lead in enumerate(merged):
            same = _origin(lead) == _origin(card) and card.finding.cause != "file" and _overlap(lead.finding, card.finding)
            if same or _explains(lead, card):
                merged[index] = Card(lead.rule, lead.finding, (*lead.also, (card.rule, card.finding)))
                break
        else:
            merged.append(card)
    return merged


def rank(cards: list[Card]) -> list[Card]:
    """Sort cards by what they weigh.

    Mixing before mastering before delivery at equal weight.
    """
    return sorted(cards, key=lambda card: (-round(card.weight, 6), STAGES.index(card.rule.stage), card.rule.id, card.finding.stem or ""))
