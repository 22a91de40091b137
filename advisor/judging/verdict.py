"""The verdict: whether the mix needs only a plain limiter."""

from collections.abc import Sequence

from advisor.app.words import STOPPED_BY, lowered
from advisor.judging.judge import Card, Judged
from advisor.report_model.parts import Verdict
from features.records.base import Measurement
from features.records.file import Health
from features.records.outlook import Outlook
from rules.base import Finding

MOST_NAMED = 3
SHORT = "mixing/short_of_target"


def in_the_way(judged: Judged) -> list[Card]:
    """Return the cards that stand between mix and mastering.

    Clear ones, not merely suspected.
    """
    return _clear(judged, "mixing")


def _clear(judged: Judged, stage: str) -> list[Card]:
    return [card for card in judged.cards if card.rule.stage == stage and card.is_clear]


def verdict(
    records: dict[type[Measurement], Measurement], judged: Judged, planned: Sequence[Card] = (), in_vain: Sequence[Card] = ()
) -> Verdict:
    """Put the outlook and the findings into one sentence.

    ``planned`` are the cards of the plan's steps in their order; ``in_vain`` those of which the move was tried and is not advised.
    """
    outlook, health = records.get(Outlook), records.get(Health)
    if isinstance(health, Health) and health.silent:
        return Verdict(ready=False, sentence="There is nothing to judge: the file is silent.")
    if not isinstance(outlook, Outlook) or outlook.clean_lufs is None:
        return Verdict(ready=False, sentence=f"How loud this mix can go could not be measured: {_why(outlook)}.")
    cards = in_the_way(judged)
    if not reached(outlook, judged):
        others = [card for card in cards if card.rule.topic != "loudness" or card.finding.title is not None]
        return _short(outlook, _start(others, planned, in_vain))
    return _reaching(outlook, judged, cards, _start(cards, planned, in_vain))


def _start(cards: list[Card], planned: Sequence[Card], in_vain: Sequence[Card]) -> str:
    """Say where to start: the plan's first step that is about one of the cards, since what is merely suspected is no place to start."""
    steps = [card for step in planned for card in cards if card.is_about(step)]
    untried = [card for card in cards if not any(card.is_about(step) for step in in_vain)]
    if steps or untried:
        unmended = [card for card in cards if card not in untried and not any(card.is_about(step) for step in planned)]
        vain = f" The usual moves did not help: {_named(unmended)}." if unmended else ""
        return f" Start with: {_title((steps or untried)[0])}.{vain}"
    return f" Find the cause by ear: {_title(cards[0])} (the usual move was tried and did not help)." if cards else ""


def reached(outlook: Outlook, judged: Judged) -> bool:
    """Whether a plain limiter reaches the target.

    Set gently or fast, as far as the rule for it is concerned: its tolerance counts.
    """
    short = _told_short(judged)
    only_gently = short is not None and short.confidence == "low"
    return bool(outlook.reaches_target) or only_gently or any(rule.id == SHORT for rule in judged.passed)


def _told_short(judged: Judged) -> Finding | None:
    """Return what the rule for the loudness asked for says, alone or on the card of another; None when it says nothing."""
    judgements = [pair for card in judged.cards for pair in ((card.rule, card.finding), *card.also)]
    return next((finding for rule, finding in judgements if rule.id == SHORT), None)


def _why(outlook: Measurement | None) -> str:
    if outlook is None:
        return "the measurement failed"
    reasons = [absence.reason for absence in outlook.absent if absence.field == "clean_lufs"]
    return reasons[0] if reasons else "the file is too short or too quiet"


def _title(card: Card) -> str:
    return lowered(card.finding.title or card.rule.title)


def _named(cards: list[Card]) -> str:
    return "; ".join(_title(card) for card in cards[:MOST_NAMED])


def _short(outlook: Outlook, start: str) -> Verdict:
    assert outlook.clean_lufs is not None  # noqa: S101 - checked by the caller
    short, fast = outlook.target_lufs - outlook.clean_lufs, outlook.fast_clean_lufs
    at_best = f" (to {fast:.1f} LUFS with a fast setting)" if fast is not None and fast > outlook.clean_lufs else ""
    return Verdict(
        ready=False,
        sentence=f"This mix can be limited to {outlook.clean_lufs:.1f} LUFS before {STOPPED_BY[outlook.stopped_by]}{at_best}. "
        f"That is {short:.1f} LU short of your {outlook.target_lufs:.1f} LUFS target.{start}",
    )


def _clean(clean_lufs: float, target_lufs: float) -> str:
    """Say how loud it goes before the limiter is heard: past the target, or nearly there."""
    if clean_lufs >= target_lufs:
        return f"to {target_lufs:.1f} LUFS, and up to {clean_lufs:.1f} LUFS before the limiter is heard"
    return f"to {clean_lufs:.1f} LUFS before the limiter is heard, close enough to your {target_lufs:.1f} LUFS"


def _loud(outlook: Outlook, judged: Judged) -> str:
    """Say which setting of a plain limiter takes the mix how far."""
    clean, fast = outlook.clean_lufs, outlook.fast_clean_lufs
    assert clean is not None  # noqa: S101 - checked by the caller
    if _told_short(judged) is None or fast is None:
        return f"it can be limited {_clean(clean, outlook.target_lufs)}"
    return f"with a fast setting it can be limited {_clean(fast, outlook.target_lufs)}; a gentle one is heard past {clean:.1f} LUFS"


def _reaching(outlook: Outlook, judged: Judged, cards: list[Card], start: str) -> Verdict:
    loud, of_file = _loud(outlook, judged), _clear(judged, "delivery")
    if not cards:
        bounce = f" Check the file first: {_named(of_file)}." if of_file else ""
        return Verdict(
            ready=True,
            sentence=f"This mix passes the limiter-only check: {loud}. No clear fault was found in the mix.{bounce}",
        )
    things = "One thing in the mix is" if len(cards) == 1 else f"{len(cards)} things in the mix are"
    names = "" if len(cards) == 1 else f" ({_named(cards)}{'; and more' if len(cards) > MOST_NAMED else ''})"
    return Verdict(ready=False, sentence=f"Loud enough: {loud}. {things} worth fixing first{names}.{start}")
