"""The verdict: whether a plain limiter is all that this mix still needs."""

from dataclasses import dataclass

from advisor.judge import Card, Judged
from advisor.report.words import STOPPED_BY, lowered
from features.measurements import Health, Measurement, Outlook

CLEAR_EXCESS = 0.5
MOST_NAMED = 3


@dataclass(frozen=True, slots=True)
class Verdict:
    """``ready`` says whether the limiter-only rule of thumb holds."""

    ready: bool
    sentence: str


def in_the_way(judged: Judged) -> list[Card]:
    """Return the cards of the mix that stand between it and mastering: clear ones, not merely suspected."""
    return _clear(judged, "mixing")


def _clear(judged: Judged, stage: str) -> list[Card]:
    return [
        card
        for card in judged.cards
        if card.rule.stage == stage and card.finding.confidence != "low" and card.finding.excess >= CLEAR_EXCESS
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
    return _reaching(outlook, cards, planned or next(iter(cards), None), _clear(judged, "delivery"))


def reached(outlook: Outlook, judged: Judged) -> bool:
    """Whether the target is reached as far as the rule for it is concerned: a shortfall within its tolerance is none."""
    return bool(outlook.reaches_target) or any(one.id == "mixing/short_of_target" for one in judged.passed)


def _why(outlook: Measurement | None) -> str:
    if outlook is None:
        return "the measurement failed"
    reasons = [one.reason for one in outlook.absent if one.field == "clean_lufs"]
    return reasons[0] if reasons else "the file is too short or too quiet"


def _title(card: Card) -> str:
    return lowered(card.finding.title or card.rule.title)


def _named(cards: list[Card]) -> str:
    return "; ".join(_title(card) for card in cards[:MOST_NAMED])


def _first(card: Card | None) -> str:
    return "" if card is None else f" Start with: {_title(card)}."


def _short(outlook: Outlook, first: Card | None) -> Verdict:
    assert outlook.clean_lufs is not None  # noqa: S101 - checked by the caller
    short = outlook.target_lufs - outlook.clean_lufs
    return Verdict(
        ready=False,
        sentence=f"Not ready for mastering yet: a plain limiter takes this mix to {outlook.clean_lufs:.1f} LUFS before "
        f"{STOPPED_BY[outlook.stopped_by]}, {short:.1f} LU short of the {outlook.target_lufs:.1f} LUFS you are after.{_first(first)}",
    )


def _unheard(clean_lufs: float, target_lufs: float) -> str:
    """Say how loud it goes unheard: past the target, or nearly there."""
    if clean_lufs >= target_lufs:
        return f"to {target_lufs:.1f} LUFS unheard (its clean limit here is {clean_lufs:.1f} LUFS)"
    return f"to {clean_lufs:.1f} LUFS unheard, as good as the {target_lufs:.1f} LUFS you are after"


def _reaching(outlook: Outlook, cards: list[Card], first: Card | None, of_file: list[Card]) -> Verdict:
    assert outlook.clean_lufs is not None  # noqa: S101 - checked by the caller
    loud = f"a plain limiter takes this mix {_unheard(outlook.clean_lufs, outlook.target_lufs)}"
    if not cards:
        bounce = f" The file itself needs a look first: {_named(of_file)}." if of_file else ""
        return Verdict(
            ready=True,
            sentence=f"Ready for mastering by the limiter-only test: {loud}, and nothing in the mix stands clearly in the way.{bounce}",
        )
    things = "one thing in the mix stands" if len(cards) == 1 else f"{len(cards)} things in the mix stand"
    names = "" if len(cards) == 1 else f" ({_named(cards)}{'; and more' if len(cards) > MOST_NAMED else ''})"
    return Verdict(ready=False, sentence=f"Loud enough, but not ready: {loud}, yet {things} clearly in the way{names}.{_first(first)}")
