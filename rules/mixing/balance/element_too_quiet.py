"""An element that seems too quiet against the others.

## What it means
Two things are weighed together: how loud it is against the mix while it plays, beside what its role usually has, and how much of it is
audible next to the others. Together they lie further below the usual than such elements differ between songs anyway.

## Why it matters
What can only be guessed at costs attention and adds little; a part that carries rhythm or harmony leaves a hole there.

## What to do
Raise its fader, no more than 4 to 6 dB at once; then listen, and have it measured again. If it then masks others, lower what masks it
instead. Stop as soon as it can be followed.

## Check by ear
Loop its busiest passage and try to hum its line along: where you lose it, raise it until you no longer do.

## Leave it alone when
It is meant as a colour behind the others, such as a reverb or a pad one misses only when it is gone.

## Sources
element-levels, element-levels-and-audibility, judgement, masking-of-elements, masking-survey
"""

from features.records.elements import Elements, LevelMove
from rules.base import Finding, rule
from rules.shared.elements import buried_where, inaudible, worst_first
from rules.shared.level_signs import Limits as LevelLimits
from rules.shared.level_signs import brings_about, chief, headed, named, set_by, suspects, verdict

Limits = LevelLimits


@rule(
    topic="balance",
    title="Element too quiet",
    message="{name} seems too quiet. {signs}.",
    advice="Raise {name} about {change_db:.1f} dB.",
    stop="as soon as you can follow it",
)
def check(elements: Elements, limits: LevelLimits) -> tuple[Finding, ...] | None:
    """Report those that lie furthest below the usual.

    A single one that is not heard at all is told as that.
    """
    return worst_first(
        [_finding(move, elements, limits) for move in suspects(elements, limits) if move.off_db < 0.0 and not _gone(move, elements)]
    )


def _gone(move: LevelMove, elements: Elements) -> bool:
    element = elements.named(move.names[0])
    return len(move.names) == 1 and element is not None and inaudible(element)


def _finding(move: LevelMove, elements: Elements, limits: LevelLimits) -> Finding:
    judged, element = verdict(move, elements, limits), chief(move, elements)
    return Finding(
        excess=judged.excess,
        confidence=judged.confidence,
        sure_because=judged.sure_because,
        numbers={"name": named(move), "signs": judged.words, "change_db": judged.change_db},
        cause="level",
        where=() if element is None else buried_where(element),
        remedy=set_by(move, judged.change_db),
        title=f"{headed(move)} too quiet",
        stem=None if element is None else element.name,
        exact=True,
        explains=brings_about(move.names, elements, louder=move.off_db > 0.0),
    )  # fmt: skip
