"""One channel of an element is inverted.

## What it means
Left and right of this stem are mirror images of one another: where one pushes, the other pulls.

## Why it matters
In mono the element all but vanishes, whatever its fader says; on speakers it has no place. If it carries lows, the song loses them.

## What to do
Flip the polarity of one channel of this element: a polarity switch, a badly wired cable, a widener. Stop when it keeps its level in mono.

## Check by ear
Solo it and switch to mono: it all but vanishes. Flip one channel: it comes back.

## Leave it alone when
It is an effect that is meant to live at the sides only and may go in mono.

## Sources
judgement, stereo-definitions, mirrored-survey
"""

from dataclasses import dataclass
from math import log10
from statistics import median

from features.records.elements import Element, Elements
from rules.base import Finding, limit, rule
from rules.remedy import Remedy
from rules.shared.elements import called, listed, loudest_where, present, titled, worst_first
from rules.shared.excess import MOST_EXCESS, past

FOLLOWS = (
    "mixing/inverted_part", "mixing/band_too_wide", "mixing/mono_loss", "mixing/low_end_too_wide", "mixing/polarity_fault",
    "mixing/lead_lost_in_mono", "mixing/low_end_cancels_in_mono",
)  # fmt: skip


FEWEST = 2  # inverted elements that say something of the mix; something of nearly every song stands in the middle


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    correlation: float = limit(
        -0.3,
        unit="-1 to 1",
        low=-0.95,
        high=0.0,
        source="mirrored-survey",
        says="an element whose channels correlate below this is reported",
    )
    clear: float = limit(-0.6, unit="-1 to 1", low=-1.0, high=0.0, source="mirrored-survey", says="below this it is all but certain")


@rule(
    topic="space",
    title="Inverted channel of an element",
    message="Left and right of {name} are close to mirror images (correlation {correlation:.2f}). Mono takes {loss_db:.0f} dB off it.",
    advice="Flip the polarity of one channel of {name}.",
    stop="when it keeps its level in mono",
)
def check(elements: Elements, limits: Limits) -> tuple[Finding, ...] | None:
    """Report elements whose channels work against each other.

    Where several do and none stands in the middle, it is the mix's channel that is turned.
    """
    known = [(element, element.level.correlation) for element in present(elements) if element.level.correlation is not None]
    inverted = [(element, correlation) for element, correlation in known if correlation < limits.correlation]
    if len(inverted) >= FEWEST and not any(correlation > -limits.correlation for _, correlation in known):
        return (_of_the_mix(inverted),)
    return worst_first([_finding(element, correlation, limits) for element, correlation in inverted])


def _of_the_mix(inverted: list[tuple[Element, float]]) -> Finding:
    correlation = median(correlation for _, correlation in inverted)
    return Finding(
        excess=MOST_EXCESS,
        confidence="high",
        sure_because="no element's channels agree, and those of several are mirror images",
        numbers={"name": f"the mix ({listed([element.name for element, _ in inverted])})", "correlation": correlation,
                 "loss_db": lost_db(correlation)},
        cause="polarity",
        remedy=Remedy(kind="polarity", part="right"),
        title="One channel of the mix is inverted",
        explains=FOLLOWS,
    )  # fmt: skip


def _finding(element: Element, correlation: float, limits: Limits) -> Finding:
    clear = correlation <= limits.clear and element.role != "effects"
    return Finding(
        excess=max(past(-correlation, -limits.correlation, 0.15), 0.5),
        confidence="high" if clear else "medium",
        sure_because="its channels were compared over the whole song; wide sounds scatter around 0",
        numbers={"name": called(element.name), "correlation": correlation, "loss_db": lost_db(correlation)},
        cause="polarity",
        where=loudest_where(element),
        remedy=Remedy(kind="none", part=element.name),
        title=f"{titled(element.name, 24)} has an inverted channel",
        stem=element.name,
        explains=FOLLOWS,
    )


def lost_db(correlation: float) -> float:
    """Return the level lost in mono, at most 40 dB.

    >>> round(lost_db(-0.6), 1), lost_db(-1.0)
    (7.0, 40.0)
    """
    return -10.0 * log10(max((1.0 + correlation) / 2.0, 1e-4))
