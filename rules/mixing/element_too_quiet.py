"""An element that seems too quiet against the others.

## What it means
Two things are weighed together: how loud it is against the mix while it plays, beside what its role usually has, and how much of it is
heard next to the others. Together they lie further below the usual than such elements differ between songs anyway.

## Why it matters
What can only be guessed at costs attention and adds little; a part that carries rhythm or harmony leaves a hole there.

## What to do
Raise its fader, no more than 4 to 6 dB at once; then listen, and have it measured again. If it then gets in the way of others, lower what
covers it instead. Stop as soon as it can be followed.

## Check by ear
Loop its busiest passage and try to hum its line along. Where you lose it, raise it until you no longer do.

## Leave it alone when
It is meant as a colour behind the others, such as a reverb or a pad one misses only when it is gone.

## Sources
element-levels, element-levels-and-audibility, judgement, masking-of-elements, masking-survey
"""

from features.element_records import Element, Elements
from rules.base import Finding, rule
from rules.elements import buried_where, called, fader, in_steps, present, titled, worst_first
from rules.level_signs import Limits as LevelLimits
from rules.level_signs import Verdict, too_quiet

Limits = LevelLimits


@rule(
    topic="balance",
    title="An element seems too quiet",
    message="{name} seems about {off_db:.0f} dB too quiet, its loudness and what is heard of it weighed together: {signs}.",
    advice="Raise {name} by about {change_db:.0f} dB{steps}; stop as soon as it can be followed.",
)
def check(elements: Elements, t: LevelLimits) -> tuple[Finding, ...] | None:
    """Report those that lie furthest below the usual."""
    verdicts = [(one, too_quiet(one, elements, t)) for one in present(elements)]
    return worst_first([_finding(one, verdict) for one, verdict in verdicts if verdict is not None])


def _finding(one: Element, verdict: Verdict) -> Finding:
    return Finding(
        excess=verdict.excess,
        confidence=verdict.confidence,
        sure_because=verdict.sure_because,
        numbers={"name": called(one.name), "off_db": verdict.off_db, "signs": verdict.words, "change_db": verdict.change_db,
                 "steps": in_steps(verdict.off_db, verdict.change_db)},
        cause="level",
        where=buried_where(one),
        remedy=fader(one.name, verdict.change_db),
        title=f"{titled(one.name, 30)} seems too quiet",
        stem=one.name,
        exact=True,
    )  # fmt: skip
