"""An element that seems too quiet against the others.

## What it means
Two of three signs agree, or one of them is strong by itself: it lies below what its role usually has in a mix, it is mostly covered,
and it stands below the others when each is held against noise with the target's spectrum. That is told against what such elements
usually do; songs differ in it.

## Why it matters
What can only be guessed at costs attention and adds little; a part that carries rhythm or harmony leaves a hole there.

## What to do
Raise its fader in small steps. If it then gets in the way of others, lower what covers it instead. Stop as soon as it can be followed.

## Check by ear
Loop its busiest passage and try to hum its line along. Where you lose it, raise it until you no longer do.

## Leave it alone when
It is meant as a colour behind the others, such as a reverb or a pad one misses only when it is gone.

## Sources
element-levels, judgement, level-practice, masking-of-elements, masking-survey
"""

from features.element_records import Element, Elements
from rules.base import Finding, rule
from rules.elements import buried_where, called, fader, present, titled, worst_first
from rules.level_signs import QuietLimits, Verdict, too_quiet

Limits = QuietLimits


@rule(
    topic="balance",
    title="An element seems too quiet",
    message="{name} seems too quiet, against what such elements usually do: {signs}.",
    advice="Raise {name} by about {change_db:.0f} dB; stop as soon as it can be followed.",
)
def check(elements: Elements, t: QuietLimits) -> tuple[Finding, ...] | None:
    """Weigh the signs for every element; the worst first."""
    verdicts = [(one, too_quiet(one, t)) for one in present(elements)]
    return worst_first([_finding(one, verdict) for one, verdict in verdicts if verdict is not None])


def _finding(one: Element, verdict: Verdict) -> Finding:
    return Finding(
        excess=verdict.excess,
        confidence=verdict.confidence,
        sure_because=verdict.sure_because,
        numbers={"name": called(one.name), "signs": verdict.words, "change_db": verdict.change_db},
        cause="level",
        where=buried_where(one),
        remedy=fader(one.name, verdict.change_db),
        title=f"{titled(one.name, 30)} seems too quiet",
        stem=one.name,
    )
