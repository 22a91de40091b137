"""Clicks are in the file.

## What it means
The wave breaks from one sample to the next: a single sample jumps out, or the sound goes on at another height.

## Why it matters
A click is heard through everything, and a limiter makes it last.

## What to do
Look at the named places: an edit without a crossfade, a plug-in that was automated hard, a dropped buffer. Repair it there and bounce
again.

## Check by ear
Listen to the named places on headphones: a tick without pitch.

## Leave it alone when
It is vinyl crackle or a glitch that belongs to the song, or the attack of a bright electronic sound.

## Sources
click-survey, delivery-practice, judgement
"""

from dataclasses import dataclass

from features.records.file import Health
from rules.base import Confidence, Finding, NotApplicable, limit, rule
from rules.shared.excess import past
from rules.shared.spans import spans_of
from rules.shared.words import counted

CLEAR_DB = 5.0


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    count: float = limit(0.0, unit="clicks", low=0.0, high=1000.0, source="judgement", says="more clicks than this are reported")
    height_db: float = limit(
        30.0, unit="dB", low=20.0, high=60.0, source="click-survey", says="without one at least this high, none is reported"
    )
    many: float = limit(
        60.0, unit="clicks", low=5.0, high=5000.0, source="judgement", says="from here they are taken for a sound of the song"
    )


@rule(
    topic="delivery",
    title="Clicks",
    message="{found} in the file. The strongest is {height_db:.0f} dB above its surroundings.",
    advice="Repair the edit or dropout at these times and bounce again.",
    stop="when you hear no tick on headphones",
    shared="breaks",
)
def check(health: Health, limits: Limits) -> Finding | NotApplicable | None:
    """Count the clicks. Very many are a sound."""
    if health.silent:
        return NotApplicable("the file is silent")
    if health.click_count <= limits.count or not health.clicks:
        return None
    height_db = max(moment.value for moment in health.clicks)
    if height_db < limits.height_db:
        return None
    many = health.click_count >= limits.many
    confidence: Confidence = "low" if many or height_db < limits.height_db + CLEAR_DB else "medium"
    return Finding(
        excess=max(0.5, past(health.click_count, limits.count, 10.0)),
        confidence=confidence,
        sure_because="so many may be part of the song's sound"
        if many
        else "the waveform breaks there; sampled and electronic sounds can do that too",
        numbers={"found": counted(health.click_count, "click"), "height_db": height_db},
        cause="file",
        where=spans_of(health.clicks),
    )
