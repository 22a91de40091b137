"""One element takes more of the headroom than any other.

## What it means
The limiter outlook was run again with each element 1 dB down. With this one down, the whole mix gets clearly louder than with any other.

## Why it matters
When the mix falls short of the loudness asked for, this is where a small move wins most.

## What to do
Lower it by a dB or two, or, where its peaks stand far above its body, catch only its peaks. Stop when the mix reaches the loudness asked
for, or when the element loses what makes it.

## Check by ear
Lower it by 2 dB and turn the whole song up until it is as loud as before: is the element missed, or does everything just stand clearer?

## Leave it alone when
The song needs this element where it is more than it needs the loudness.

## Sources
judgement, loudness-practice
"""

from dataclasses import dataclass

from features.records.elements import Element, Elements
from features.records.outlook import Outlook
from rules.base import Finding, NotApplicable, limit, rule
from rules.remedy import Remedy
from rules.shared.elements import called, fader, loudest_where, present, titled
from rules.shared.excess import missing, past
from rules.shared.level_signs import Limits as LevelLimits
from rules.shared.level_signs import moved

DOWN_DB = 1.5
PEAKS_DOWN_DB = 3.0
MOST_EXCESS = 1.5  # what it tells is where to win most, no fault


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    lu_per_db: float = limit(
        0.25, unit="LU per dB", low=0.05, high=1.0, source="judgement", says="an element that wins less with 1 dB down is not named"
    )
    times_the_next: float = limit(
        1.5, unit="times", low=1.0, high=5.0, source="judgement", says="unless it wins this many times as much as the next, none is named"
    )
    crest_db: float = limit(
        18.0, unit="dB", low=10.0, high=30.0, source="judgement", says="peaks this far above its body are what costs, not its level"
    )


@rule(
    topic="loudness",
    title="One element takes the headroom",
    message=(
        "With {name} 1 dB down, the mix can go {won_lu:.2f} LU louder before the limiter is heard. The next one, {second}, "
        "wins {next_lu:.2f} LU."
    ),
    advice="{move}.",
    stop="when the mix reaches your target, or when you miss what you took",
)
def check(elements: Elements, outlook: Outlook, limits: Limits) -> Finding | NotApplicable | None:
    """Rank the elements by what they cost.

    Say something only where the mix falls short and one costs clearly more.
    """
    ranked = _ranked(present(elements))
    if len(ranked) < 2:
        return NotApplicable("what each element costs in loudness was not worked out")
    if outlook.reaches_target is None:
        return missing(outlook, "reaches_target")
    (won_lu, element), (next_lu, second) = ranked[:2]
    if outlook.reaches_target or won_lu < limits.lu_per_db or won_lu < limits.times_the_next * max(next_lu, 0.0):
        return None
    if elements.moves and moved(element, elements, LevelLimits()) <= 0.0:
        return None  # what costs most is known once the faders that lie off are set
    name, peak = called(element.name), element.level.sample_peak_dbfs
    peaks = None
    if element.level.crest_db is not None and element.level.crest_db >= limits.crest_db and peak is not None:
        peaks = Remedy(kind="peak_limiter", part=element.name, ceiling_dbfs=round(peak - PEAKS_DOWN_DB, 1))
    lower = fader(element.name, -DOWN_DB)
    move = f"Pull {name} down about {DOWN_DB:.1f} dB"
    if peaks is not None:
        move = (
            f"Catch the peaks of {name} with a limiter without make-up gain at {peaks.ceiling_dbfs:.1f} dBFS, or pull it down {DOWN_DB} dB"
        )
    return Finding(
        excess=min(past(won_lu, limits.lu_per_db, 0.15), MOST_EXCESS),
        confidence="medium",
        sure_because="the limiter was run with each element down in turn, on the densest part only",
        numbers={"name": name, "won_lu": won_lu, "second": called(second.name), "next_lu": next_lu, "move": move},
        cause="level" if peaks is None else "peaks",
        where=loudest_where(element),
        remedy=lower if peaks is None else peaks,
        title=f"{titled(element.name, 24)} takes most headroom",
        stem=element.name,
        others=() if peaks is None else (lower,),
    )


def _ranked(elements: tuple[Element, ...]) -> list[tuple[float, Element]]:
    """Return elements with what they win, most first."""
    costs = [(element.headroom.lu_per_db, element) for element in elements if element.headroom is not None]
    return sorted(((won, element) for won, element in costs if won is not None), key=lambda cost: (-cost[0], cost[1].name))
