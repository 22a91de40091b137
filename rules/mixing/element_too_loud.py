"""An element that seems too loud against the others.

## What it means
Two things are weighed together: how loud it is against the mix while it plays, beside what its role usually has, and how much of it is
heard next to the others. Together they lie further above the usual than such elements differ between songs anyway.

## Why it matters
Everything it covers asks for more level in turn, and the mix grows loud and thick instead of clear. It also takes the room
the limiter needs.

## What to do
Lower its fader before touching any equaliser, no more than 4 to 6 dB at once; then listen, and have it measured again. Stop when what it
covered is heard again; lower still, and the song loses its centre.

## Check by ear
Play the song very softly: what you still hear when nearly everything is gone is what is loudest. Is it what the song is about?

## Leave it alone when
It is the centre of the song, or you know the style to carry it this far in front.

## Sources
element-levels, element-levels-and-audibility, judgement, masking-of-elements, masking-survey
"""

from features.element_records import Element, Elements
from rules.base import Finding, rule
from rules.elements import called, fader, in_steps, loudest_where, present, titled, worst_first
from rules.level_signs import Limits as LevelLimits
from rules.level_signs import Verdict, too_loud

Limits = LevelLimits


@rule(
    topic="balance",
    title="An element seems too loud",
    message="{name} seems about {off_db:.0f} dB too loud, its loudness and what is heard of it weighed together: {signs}.",
    advice=("Lower {name} by about {change_db:.0f} dB{steps}; stop when what it covered is heard again and the song still has its centre."),
)
def check(elements: Elements, t: LevelLimits) -> tuple[Finding, ...] | None:
    """Report those that lie furthest above the usual."""
    verdicts = [(one, too_loud(one, elements, t)) for one in present(elements)]
    return worst_first([_finding(one, verdict) for one, verdict in verdicts if verdict is not None])


def _finding(one: Element, verdict: Verdict) -> Finding:
    return Finding(
        excess=verdict.excess,
        confidence=verdict.confidence,
        sure_because=verdict.sure_because,
        numbers={"name": called(one.name), "off_db": verdict.off_db, "signs": verdict.words, "change_db": verdict.change_db,
                 "steps": in_steps(verdict.off_db, verdict.change_db)},
        cause="level",
        where=loudest_where(one),
        remedy=fader(one.name, -verdict.change_db),
        title=f"{titled(one.name, 30)} seems too loud",
        stem=one.name,
        exact=True,
    )  # fmt: skip
