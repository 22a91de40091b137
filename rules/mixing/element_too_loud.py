"""An element that seems too loud against the others.

## What it means
Two of three signs agree, or one of them is strong by itself: it lies above what its role usually has in a mix, it covers several others,
and it stands above the others when each is held against noise with the target's spectrum. That is told against what such elements
usually do; songs differ in it.

## Why it matters
Everything it covers asks for more level in turn, and the mix grows loud and thick instead of clear. It also takes the room
the limiter needs.

## What to do
Lower its fader in small steps before touching any equaliser. Stop when what it covered is heard again; lower still, and the song loses
its centre.

## Check by ear
Play the song very softly: what you still hear when nearly everything is gone is what is loudest. Is it what the song is about?

## Leave it alone when
It is the centre of the song, or you know the style to carry it this far in front.

## Sources
element-levels, judgement, level-practice, masking-of-elements, masking-survey
"""

from features.element_records import Element, Elements
from rules.base import Finding, rule
from rules.elements import called, fader, loudest_where, present, titled, worst_first
from rules.level_signs import LoudLimits, Verdict, too_loud

Limits = LoudLimits


@rule(
    topic="balance",
    title="An element seems too loud",
    message="{name} seems too loud, against what such elements usually do: {signs}.",
    advice="Lower {name} by about {change_db:.0f} dB; stop when what it covered is heard again and the song still has its centre.",
)
def check(elements: Elements, t: LoudLimits) -> tuple[Finding, ...] | None:
    """Weigh the signs for every element; the worst first."""
    verdicts = [(one, too_loud(one, elements, t)) for one in present(elements)]
    return worst_first([_finding(one, verdict) for one, verdict in verdicts if verdict is not None])


def _finding(one: Element, verdict: Verdict) -> Finding:
    return Finding(
        excess=verdict.excess,
        confidence=verdict.confidence,
        sure_because=verdict.sure_because,
        numbers={"name": called(one.name), "signs": verdict.words, "change_db": verdict.change_db},
        cause="level",
        where=loudest_where(one),
        remedy=fader(one.name, -verdict.change_db),
        title=f"{titled(one.name, 30)} seems too loud",
        stem=one.name,
    )
