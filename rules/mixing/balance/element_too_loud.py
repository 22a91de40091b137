"""An element that seems too loud against the others.

## What it means
Two things are weighed together: how loud it is against the mix while it plays, beside what its role usually has, and how much of it is
audible next to the others. Together they lie further above the usual than such elements differ between songs anyway.

## Why it matters
What it masks gets pushed up in turn, and the mix grows loud and thick instead of clear. It also takes headroom from the limiter.

## What to do
Lower its fader before touching any equaliser, no more than 4 to 6 dB at once; then listen, and have it measured again. Stop when what it
masked is audible again; lower still, and the song loses its centre.

## Check by ear
Play the song very softly: is what you still hear, when nearly everything is gone, what the song is about?

## Leave it alone when
It is the centre of the song, or you know the style to carry it this far in front.

## Sources
element-levels, element-levels-and-audibility, judgement, masking-of-elements, masking-survey
"""

from features.records.elements import Elements, LevelMove
from rules.base import Finding, rule
from rules.shared.elements import loudest_where, worst_first
from rules.shared.level_signs import Limits as LevelLimits
from rules.shared.level_signs import brings_about, chief, headed, named, set_by, suspects, verdict

Limits = LevelLimits


@rule(
    topic="balance",
    title="Element too loud",
    message="{name} seems too loud. {signs}.",
    advice="Pull {name} down about {change_db:.1f} dB.",
    stop="when what it masked comes through and the song still has its centre",
)
def check(elements: Elements, limits: LevelLimits) -> tuple[Finding, ...] | None:
    """Report the elements that lie furthest above the usual.

    Once others that lie off are set right.
    """
    return worst_first([_finding(move, elements, limits) for move in suspects(elements, limits) if move.off_db > 0.0])


def _finding(move: LevelMove, elements: Elements, limits: LevelLimits) -> Finding:
    judged, element = verdict(move, elements, limits), chief(move, elements)
    return Finding(
        excess=judged.excess,
        confidence=judged.confidence,
        sure_because=judged.sure_because,
        numbers={"name": named(move), "signs": judged.words, "change_db": judged.change_db},
        cause="level",
        where=() if element is None else loudest_where(element),
        remedy=set_by(move, -judged.change_db),
        title=f"{headed(move)} too loud",
        stem=None if element is None else element.name,
        exact=True,
        explains=brings_about(move.names, elements, louder=move.off_db > 0.0),
    )  # fmt: skip
