"""The kick is nothing but sub.

## What it means
The kick has no click or body above the lows: on a laptop or a kitchen radio nearly nothing of it is left.

## Why it matters
The beat loses its ground for everybody who listens on small speakers.

## What to do
Give the kick its click back: raise 1 to 4 kHz where there is something to raise, or layer a short click on it. Stop when the beat is
plain on a laptop.

## Check by ear
Play the clip of the condition, or put a high-pass at 200 Hz on the mix bus: can you clap along to the kick alone?

## Leave it alone when
Another drum marks the same beats higher up, or the song is made for large systems alone.

## Sources
elsewhere-survey
"""

from dataclasses import dataclass

from features.records.ear import Elsewhere
from features.records.elements import Element, Elements
from rules.base import Finding, NotApplicable, limit, rule
from rules.remedy import Remedy
from rules.shared.elements import called, loudest_where, titled, worst_first
from rules.shared.elsewhere import left_over, of_role, places
from rules.shared.excess import past

PLACES = ("laptop", "kitchen")
RAISED_HZ, RAISED_DB = 2000.0, 4.0


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    kept_share: float = limit(
        0.07,
        unit="share left",
        low=0.01,
        high=0.5,
        source="elsewhere-survey",
        says="a kick that keeps less on a laptop or a radio is reported",
    )


@rule(
    topic="balance",
    title="Kick is only sub",
    message="{place_start}, {left:.0%} of {name} is left, against full-range speakers.",
    advice="Give {name} a click: raise it around 2 kHz, or layer a short click on it.",
    stop="when the beat is plain on a laptop",
)
def check(elsewhere: Elsewhere, elements: Elements, limits: Limits) -> tuple[Finding, ...] | NotApplicable | None:
    """Report the kick that small speakers nearly lose."""
    kicks = of_role(elements, "kick")
    if not kicks:
        return NotApplicable("no element plays the kick")
    findings = [finding for element in kicks if (finding := _finding(element, elsewhere, limits)) is not None]
    return (worst_first(findings) or ())[:1] or None


def _finding(element: Element, elsewhere: Elsewhere, limits: Limits) -> Finding | None:
    there = [pair for pair in left_over(elsewhere, element, PLACES) if pair[1].kept < limits.kept_share]
    if not there:
        return None
    words = places([song for song, _ in there])
    return Finding(
        excess=past(-there[0][1].kept, -limits.kept_share, 0.03),
        confidence="low",
        sure_because="kicks of finished songs are now and then all sub too",
        numbers={"name": called(element.name), "left": there[0][1].kept, "place_start": f"{words[:1].upper()}{words[1:]}"},
        cause="lack",
        where=loudest_where(element),
        remedy=Remedy(kind="bell", part=element.name, frequency_hz=RAISED_HZ, gain_db=RAISED_DB, q=0.7),
        title=f"{titled(element.name, 30)} is only sub",
        stem=element.name,
    )
