"""The master leaves out music at its start or end.

## What it means
Sound of the mix lies outside the master: it starts later or ends earlier than the music does.

## Why it matters
A cut first attack or a cut last echo is heard at once, and cannot be brought back after release.

## What to do
Export the master again with some room before the first sound and after the last, and fade only after the music has died away. Stop when
nothing of the mix is missing.

## Check by ear
Listen to the first and the last ten seconds of mix and master on headphones.

## Leave it alone when
The edit is meant, as in a shortened version.

## Sources
judgement
"""

from dataclasses import dataclass

from features.records.mastering import Mastered
from rules.base import Finding, limit, rule
from rules.shared.excess import past


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    head_s: float = limit(0.02, unit="s", low=0.0, high=5.0, source="judgement", says="more music missing at the start is reported")
    tail_s: float = limit(0.2, unit="s", low=0.0, high=10.0, source="judgement", says="more music missing at the end is reported")


@rule(
    topic="delivery",
    title="Start or ending cut off",
    message="Of the mix, {what} missing in the master.",
    advice="Export the master again with space before the first and after the last sound.",
    stop="when nothing of the mix is missing",
)
def check(mastered: Mastered, limits: Limits) -> Finding | None:
    """Look at what of the mix lies outside the master."""
    parts = [
        (mastered.head_cut_s, limits.head_s, "the first"),
        (mastered.tail_cut_s, limits.tail_s, "the last"),
    ]
    cut = [(length, allowed, words) for length, allowed, words in parts if length > allowed]
    if not cut:
        return None
    words = " and ".join(f"{name} {length:.2f} s" for length, _, name in cut)
    return Finding(
        excess=max(past(length, allowed, 0.2) for length, allowed, _ in cut),
        confidence="high",
        sure_because="both files were aligned to the sample; silence is not counted",
        numbers={"what": f"{words} of music are"},
        cause="file",
    )
