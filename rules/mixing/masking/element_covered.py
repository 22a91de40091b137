"""One element masks much of another.

## What it means
While both play, one of them lies above the other in a band that carries it, so far that much of it is not heard.

## Why it matters
Two sounds that fight for one band are heard as one thick sound; neither gets clearer by being louder.

## What to do
First try the fader of the masked element, then pan the two apart, then cut a little of that band from what masks it, but only where that
does not live from this band. Stop when the masked element can be followed; more thins the other out.

## Check by ear
Loop the named passage and mute the cover: if the other suddenly has a tone it did not have, that band is where they meet.

## Leave it alone when
The two are layers of one sound, or one is meant as the bed on which the other lies.

## Sources
hafezi-reiss-2015, judgement, masking-of-elements, masking-survey, wakefield-dewey-2015
"""

from dataclasses import dataclass

from features.records.elements import Cover, Element, Elements, Role
from rules.base import Confidence, Finding, limit, rule
from rules.shared.elements import buried_where, called, cut, fader, inaudible, known, pan_apart, present, titled, worst_first
from rules.shared.excess import past, within
from rules.shared.level_signs import Limits as LevelLimits
from rules.shared.level_signs import heard_then, moved
from rules.shared.words import hertz

IN_FRONT: frozenset[Role] = frozenset({"kick", "snare", "bass", "vocal", "lead"})
EASED_SHARE = 0.1
LOWS_HZ = 200.0  # kick against bass down here is told by rules of its own


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    hidden_share: float = limit(
        0.35, unit="share hidden", low=0.1, high=0.9, source="masking-survey", says="an element of which one other hides more is reported"
    )
    band_share: float = limit(
        0.4, unit="share", low=0.1, high=0.95, source="judgement", says="less than this in one band is spread too wide for an equaliser"
    )
    least_db: float = limit(
        3.0, unit="dB", low=0.0, high=12.0, source="judgement", says="a cover that stands less far above it there is not named"
    )


def sureness(element: Element, other: Element, cover: Cover) -> tuple[Confidence, str]:
    """Return how sure the finding is."""
    if element.role == other.role:
        return "low", f"both play the same role ({element.role}), so one may be a layer of the other"
    if cover.essential:
        return "low", f"both need this band, so you decide which of them gives way ({cover.share:.0%} masked)"
    if element.role in IN_FRONT:
        return "medium", "the masked sound usually sits in front, and the other has its weight elsewhere"
    return "low", "the masked sound often sits behind others by design"


@rule(
    topic="masking",
    title="One element masks another",
    message=(
        "{cover} masks {hidden:.0%} of {name}, mostly in {low}-{high}, where it is {above_db:.0f} dB louder. That band is "
        "{essential} for {cover}."
    ),
    advice="{move}.",
    stop="when you can follow {name} in the fullest passage",
)
def check(elements: Elements, limits: Limits) -> tuple[Finding, ...] | None:
    """Report each masked pair that no other rule reports.

    Other rules report those of which one is inaudible, too quiet or too loud, and kick and bass.
    """
    findings = []
    for element in present(elements):
        if inaudible(element) or moved(element, elements, LevelLimits()) or _eased(element):
            continue
        for cover in element.masking.covered_by:
            other = elements.named(cover.by)
            if other is not None and not _told_elsewhere(element, other, cover, elements) and _matters(cover, limits):
                findings.append(_finding(element, other, cover, elements, limits))
    return worst_first(findings)


def _matters(cover: Cover, limits: Limits) -> bool:
    return cover.share > limits.hidden_share and cover.band_share >= limits.band_share and cover.excess_db >= limits.least_db


def _eased(element: Element) -> bool:
    """Tell whether clearly more of it is heard once the faders that lie off are set right."""
    return (heard_then(element) or 0.0) - (element.masking.audible_share or 0.0) >= EASED_SHARE


def _told_elsewhere(element: Element, other: Element, cover: Cover, elements: Elements) -> bool:
    pair = elements.kick_and_bass
    in_lows = cover.band_hz[0] < LOWS_HZ / 2.0
    if pair is not None and {element.name, other.name} == {pair.kick, pair.bass} and in_lows:
        return True
    return moved(other, elements, LevelLimits()) > 0.0


def _finding(element: Element, other: Element, cover: Cover, elements: Elements, limits: Limits) -> Finding:
    confidence, sure_because = sureness(element, other, cover)
    depth_db = within(cover.excess_db / 2.0, 2.0, 6.0)
    raised, lowered = fader(element.name, within(cover.excess_db / 2.0, 1.5, 4.0)), fader(other.name, -2.0)
    bell = cut(other.name, cover.band_hz, depth_db)
    panned = pan_apart(element, cover, elements)
    name, by, centre = called(element.name), called(other.name), hertz(bell.frequency_hz or 0.0)
    if cover.essential:
        move = f"Raise {name} about {raised.gain_db:.0f} dB{' or pan the two apart' if panned else ''}, without EQ on {by}"
    else:
        move = f"Cut about {depth_db:.0f} dB in {by} around {centre}{', or pan the two apart' if panned else ''}"
    return Finding(
        excess=past(cover.share, limits.hidden_share, 0.1),
        confidence=confidence,
        sure_because=sure_because,
        numbers={"name": name, "cover": by, "hidden": cover.share, "low": hertz(cover.band_hz[0]), "high": hertz(cover.band_hz[1]),
                 "above_db": cover.excess_db, "essential": "essential" if cover.essential else "not essential", "move": move},
        cause="buried",
        where=(cover.where, *buried_where(element)[:1]),
        band_hz=cover.band_hz,
        remedy=raised if cover.essential else bell,
        title=f"{titled(other.name)} masks {titled(element.name)}",
        stem=element.name,
        others=known(lowered, panned) if cover.essential else known(raised, panned),
    )  # fmt: skip
