"""Clicks are in the file.

## What it means
Single samples jump out of the wave and are over at once, which no instrument does.

## Why it matters
A click is heard through everything, and a limiter makes it last.

## What to do
Look at the named places: an edit without a crossfade, a plug-in that was automated hard, a dropped buffer. Mend it there and bounce
again.

## Check by ear
Listen to the named places on headphones: a tick without pitch.

## Leave it alone when
It is vinyl crackle or a glitch that belongs to the song.

## Sources
delivery-practice, judgement
"""

from dataclasses import dataclass

from features.measurements import Health
from rules.base import Confidence, Finding, NotApplicable, limit, rule
from rules.readings import past, spans_of
from rules.words import counted


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    count: float = limit(0.0, unit="clicks", low=0.0, high=1000.0, source="judgement", says="more clicks than this are reported")
    many: float = limit(
        60.0, unit="clicks", low=5.0, high=5000.0, source="judgement", says="from here they are taken for a sound of the song"
    )


@rule(
    topic="delivery",
    title="Clicks",
    message="{found} in the file, the strongest {height_db:.0f} dB above its surroundings.",
    advice="Mend the edit or the dropout at these places and bounce again; stop when no tick is left on headphones.",
)
def check(health: Health, t: Limits) -> Finding | NotApplicable | None:
    """Count the clicks; very many are a sound."""
    if health.silent:
        return NotApplicable("the file is silent")
    if health.click_count <= t.count or not health.clicks:
        return None
    many = health.click_count >= t.many
    confidence: Confidence = "low" if many else "medium"
    return Finding(
        excess=max(0.5, past(health.click_count, t.count, 10.0)),
        confidence=confidence,
        sure_because="so many may be a sound of the song" if many else "single samples jump out; some synthetic sounds do that too",
        numbers={"found": counted(health.click_count, "click is", "clicks are"), "height_db": max(one.value for one in health.clicks)},
        cause="file",
        where=spans_of(health.clicks),
    )
