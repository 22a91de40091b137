"""The bounce is a lossy file.

## What it means
The file's format throws sound away to save room.

## Why it matters
Mastering raises what the encoder left behind, and the next encoder works on its leftovers.

## What to do
Bounce the mix as WAV or AIFF at 24 bits or 32-bit float. Converting this file to WAV brings nothing back.

## Check by ear
Listen to cymbals and reverb tails on headphones: do they swirl or ring in a watery way?

## Leave it alone when
It is only for a quick check, or a finished song to compare with.

## Sources
delivery-practice, judgement
"""

from dataclasses import dataclass

from features.records.file import File
from rules.base import Finding, limit, rule


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    excess: float = limit(1.0, unit="tolerances", low=0.1, high=4.0, source="judgement", says="how heavily a lossy bounce weighs")


@rule(
    topic="delivery",
    title="Lossy bounce",
    message="The file is in a lossy format ({subtype}), so part of the sound is already gone.",
    advice="Bounce the mix as a 24-bit or 32-bit float WAV and critique that.",
    stop="once the file comes straight from the session",
)
def check(file: File, limits: Limits) -> Finding | None:
    """Report a lossy format."""
    if not file.lossy:
        return None
    return Finding(
        excess=limits.excess,
        confidence="high",
        sure_because="the file's header states its format",
        numbers={"subtype": file.subtype.replace("_", " ").lower()},
        cause="file",
    )
