"""The file holds fewer bits than it should.

## What it means
The samples use fewer bits than a bounce for mastering should: the file is 16-bit, or some step on the way reduced it.

## Why it matters
Each bit is 6 dB of room above the rounding noise; mastering raises that noise with the music.

## What to do
Bounce again at 24 bits or 32-bit float, without dither and without going through a 16-bit file on the way.

## Check by ear
At a normal level nothing is heard; raise a fade-out by 30 dB and listen for grain.

## Leave it alone when
The whole song was recorded at that depth, so that nothing more is to be had.

## Sources
delivery-practice, pcm-arithmetic
"""

from dataclasses import dataclass

from features.records.file import File, Health
from rules.base import Finding, NotApplicable, limit, rule
from rules.shared.excess import past


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    bits: float = limit(20.0, unit="bit", low=8.0, high=24.0, source="delivery-practice", says="fewer bits in use than this are reported")


def in_words(used: int, available: int | None) -> str:
    """Return what is odd.

    A format of few bits, or fewer bits in use than the format holds.
    """
    if available is None or used >= available:
        return f"The file holds {used} bits per sample"
    return f"The file can hold {available} bits per sample, but uses only {used} of them"


@rule(
    topic="delivery",
    title="Low bit depth",
    message="{what}.",
    advice="Bounce at 24 bits or 32-bit float, without dither.",
    stop="when the next critique finds more than {used:.0f} bits in use",
)
def check(health: Health, file: File, limits: Limits) -> Finding | NotApplicable | None:
    """Compare the bits in use with the limit."""
    if file.lossy:
        return NotApplicable("the file is lossy, which has no fixed number of bits")
    if health.silent or health.effective_bits is None:
        return NotApplicable("the file is silent" if health.silent else "the samples follow no fixed grid, as float bounces do")
    if health.effective_bits >= limits.bits:
        return None
    return Finding(
        excess=past(-health.effective_bits, -limits.bits, 8.0),
        confidence="high",
        sure_because="every sample of the file was checked",
        numbers={"what": in_words(health.effective_bits, file.bits), "used": float(health.effective_bits)},
        cause="file",
        title=f"{health.effective_bits}-bit bounce",
    )
