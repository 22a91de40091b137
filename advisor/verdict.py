"""The verdict: whether a plain limiter is all that this mix still needs."""

from dataclasses import dataclass

from advisor.judge import Card, Judged
from advisor.report.words import STOPPED_BY
from features.measurements import Health, Measurement, Outlook

CLEAR_EXCESS = 0.5


@dataclass(frozen=True, slots=True)
class Verdict:
    """``ready`` says whether the limiter-only rule of thumb holds."""

    ready: bool
    sentence: str


def in_the_way(judged: Judged) -> list[Card]:
    """Return the cards of the mix that stand between it and mastering: clear ones, not merely suspected."""
    return [
        card
        for card in judged.cards
        if card.rule.stage == "mixing" and card.finding.confidence != "low" and card.finding.excess >= CLEAR_EXCESS
    ]


def verdict(records: dict[type[Measurement], Measurement], judged: Judged, planned: Card | None = None) -> Verdict:
    """Put the outlook and the findings into one sentence; ``planned`` is the card of the plan's first step, where there is a plan."""
    outlook, health = records.get(Outlook), records.get(Health)
    if isinstance(health, Health) and health.silent:
        return Verdict(ready=False, sentence="There is nothing to judge: the file is silent.")
    if not isinstance(outlook, Outlook) or outlook.clean_lufs is None:
        return Verdict(ready=False, sentence=f"How loud this mix can go could not be measured: {_why(outlook)}.")
    cards = in_the_way(judged)
    planned = next((card for card in cards if card.is_about(planned)), None)  # what is merely suspected is no place to start
    if not reached(outlook, judged):
        others = [card for card in cards if card.rule.topic != "loudness"]
        return _short(outlook, planned or next(iter(others), None))
    return _reaching(outlook, cards, planned or next(iter(cards), None))


def reached(outlook: Outlook, judged: Judged) -> bool:
    """Whether the target is reached as far as the rule for it is concerned: a shortfall within its tolerance is none."""
    return bool(outlook.reaches_target) or any(one.id == "mixing/short_of_target" for one in judged.passed)


def _why(outlook: Measurement | None) -> str:
    if outlook is None:
        return "the measurement failed"
    reasons = [one.reason for one in outlook.absent if one.field == "clean_lufs"]
    return reasons[0] if reasons else "the file is too short or too quiet"


def _first(card: Card | None) -> str:
    if card is None:
        return ""
    title = card.finding.title or card.rule.title
    return f" Start with: {title[0].lower()}{title[1:]}."


def _short(outlook: Outlook, first: Card | None) -> Verdict:
    assert outlook.clean_lufs is not None  # noqa: S101 - checked by the caller
    short = outlook.target_lufs - outlook.clean_lufs
    return Verdict(
        ready=False,
        sentence=f"Not ready for mastering yet: a plain limiter takes this mix to {outlook.clean_lufs:.1f} LUFS before "
        f"{STOPPED_BY[outlook.stopped_by]}, {short:.1f} LU short of the {outlook.target_lufs:.1f} LUFS you are after.{_first(first)}",
    )


def _unheard(outlook: Outlook) -> float:
    """Return the target, or what is reached of it."""
    return outlook.target_lufs if outlook.clean_lufs is None else min(outlook.target_lufs, outlook.clean_lufs)


def _reaching(outlook: Outlook, cards: list[Card], first: Card | None) -> Verdict:
    assert outlook.clean_lufs is not None  # noqa: S101 - checked by the caller
    if not cards:
        return Verdict(
            ready=True,
            sentence=f"Ready for mastering by the limiter-only test: a plain limiter takes this mix to {_unheard(outlook):.1f} LUFS "
            f"unheard (its clean limit here is {outlook.clean_lufs:.1f} LUFS), and nothing in the mix stands clearly in the way.",
        )
    things = "one thing in the mix stands" if len(cards) == 1 else f"{len(cards)} things in the mix stand"
    return Verdict(
        ready=False,
        sentence=f"Loud enough, but not ready: a plain limiter takes this mix to {_unheard(outlook):.1f} LUFS unheard, yet {things} "
        f"clearly in the way.{_first(first)}",
    )
