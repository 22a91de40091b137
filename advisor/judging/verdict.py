"""The verdict: whether the mix needs only a plain limiter."""

from advisor.app.words import STOPPED_BY
from advisor.judging.judge import Card, Judged
from advisor.report_model.parts import Verdict
from features.records.base import Measurement
from features.records.file import Health
from features.records.outlook import Outlook
from rules.base import Finding

SHORT = "mixing/short_of_target"


def in_the_way(judged: Judged) -> list[Card]:
    """Return the clear cards of the mix."""
    return [card for card in judged.cards if card.rule.stage == "mixing" and card.is_clear]


def verdict(records: dict[type[Measurement], Measurement], judged: Judged) -> Verdict:
    """Say whether the limiter-only check holds, no more."""
    outlook, health = records.get(Outlook), records.get(Health)
    if isinstance(health, Health) and health.silent:
        return Verdict(ready=False, sentence="There is nothing to judge: the file is silent.")
    if not isinstance(outlook, Outlook) or outlook.clean_lufs is None:
        return Verdict(ready=False, sentence=f"How loud this mix can go could not be measured: {_why(outlook)}.")
    if not reached(outlook, judged):
        return Verdict(ready=False, sentence=_short(outlook, outlook.clean_lufs))
    loud, worth_fixing = _loud(outlook, judged), len(in_the_way(judged))
    if not worth_fixing:
        return Verdict(ready=True, sentence=f"This mix passes the limiter-only check: {loud}.")
    things = "one thing in the mix is" if worth_fixing == 1 else f"{worth_fixing} things in the mix are"
    return Verdict(ready=False, sentence=f"Loud enough: {loud}; {things} worth fixing first.")


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


def _short(outlook: Outlook, clean_lufs: float) -> str:
    fast = outlook.fast_clean_lufs
    at_best = f" ({fast:.1f} LUFS with a fast setting)" if fast is not None and fast > clean_lufs else ""
    return (
        f"Not loud enough yet: past {clean_lufs:.1f} LUFS {STOPPED_BY[outlook.stopped_by]}{at_best}, "
        f"{outlook.target_lufs - clean_lufs:.1f} LU short of your {outlook.target_lufs:.1f} LUFS target."
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
