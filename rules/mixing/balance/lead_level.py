"""The lead stands further in front or back than usual.

## What it means
While the lead plays, its loudness is compared with that of the whole mix. Three studies of pop music agree that a lead voice is about as
loud as everything else together, which is about 3 LU below the whole. An instrument that leads is only reported when something else says
so too: little of it is audible, or its level is far from what such elements usually have.

## Why it matters
The lead is what most people follow: too far back it is not understood; too far in front, the song behind it sounds small.

## What to do
Move the lead's fader until it lies within {lowest_lu} to {highest_lu} LU of the mix, a voice no more than 6 dB at once, an instrument no
more than 4; then listen and measure again. Stop when every word or note is understood at low volume.

## Check by ear
Listen softly from the next room: the lead should still be followed, and the rhythm too. Start with the version you do not prefer, for the
one heard first tends to win.

## Leave it alone when
The style asks for it: rock and metal carry the lead further back, rap and country further in front. There are two kinds of listeners, one
of which wants the voice louder than the other.

## Sources
de-man-2014, element-levels-and-audibility, gerdes-siedenburg-2023, judgement, pestana-reiss-2014
"""

from dataclasses import dataclass
from math import copysign, log10

from features.records.elements import Element, Elements, Role
from rules.base import Confidence, Finding, NotApplicable, limit, rule
from rules.shared.elements import at_once_db, called, fader, in_steps, loudest_where, titled
from rules.shared.excess import missing, past
from rules.shared.level_signs import Limits as LevelLimits
from rules.shared.level_signs import heard_then, moved

INSIDE_LU = 0.5
MOST_EXCESS = 1.5  # of an instrument: the range is that of voices
VOICES: tuple[Role, ...] = ("vocal",)
ALL_OF_IT = 0.98  # of the mix's power: the lead alone


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    lowest_lu: float = limit(-4.5, unit="LU", low=-12.0, high=-2.0, source="de-man-2014", says="a lead further below the mix is reported")
    highest_lu: float = limit(
        -1.5, unit="LU", low=-4.0, high=0.0, source="gerdes-siedenburg-2023", says="a lead nearer to the mix's own loudness is reported"
    )
    tolerance_lu: float = limit(1.5, unit="LU", low=0.5, high=6.0, source="judgement", says="how far outside counts as one step")
    heard_share: float = limit(
        0.5, unit="share heard", low=0.1, high=0.9, source="judgement", says="an instrument is too far back only if less of it is heard"
    )
    off_db: float = limit(
        5.0,
        unit="dB",
        low=1.0,
        high=20.0,
        source="element-levels-and-audibility",
        says="and lies this far from where such elements usually stand",
    )


def needed_db(now_lu: float, wanted_lu: float) -> float:
    """Return the gain between two loudnesses against the whole.

    The rest stays as it is.

    With the share ``p`` of the power, ``p' = p g / (1 - p + p g)``; unrelated sounds add in power.

    >>> round(needed_db(-6.0, -3.01), 1)
    4.7
    """
    now, wanted = (min(10.0 ** (element / 10.0), ALL_OF_IT) for element in (now_lu, wanted_lu))
    return 10.0 * log10(wanted * (1.0 - now) / (now * (1.0 - wanted)))


@rule(
    topic="balance",
    title="Lead level unusual",
    message=(
        "{name} is at {lead_lu:+.1f} LU against the whole mix while it plays. Lead vocals in pop usually sit at "
        "{lowest_lu:.1f} to {highest_lu:.1f} LU, so it is {side}."
    ),
    advice="Move {name} about {change_db:+.1f} dB{steps}.",
    stop="when it is clear at low volume and the song around it keeps its size",
)
def check(elements: Elements, limits: Limits) -> Finding | NotApplicable | None:
    """Compare the lead's loudness with the range that is ordinary."""
    lead = None if elements.lead is None else elements.named(elements.lead)
    if lead is None:
        return NotApplicable("no element is known as the lead; stems.toml can name its role")
    lead_lu = elements.lead_lu
    if lead_lu is None:
        return missing(elements, "lead_lu")
    below, above = _outside(lead_lu, limits)
    if max(below, above) <= 0.0 or _comes_right(lead, elements, limits, back=below > 0.0):
        return None
    wanted_lu = limits.lowest_lu + INSIDE_LU if below > 0.0 else limits.highest_lu - INSIDE_LU
    if lead.role not in VOICES and not _second_sign(lead, elements, limits, back=below > 0.0):
        return None
    confidence, sure_because = _sureness(lead.role in VOICES)
    wanted_db = needed_db(lead_lu, wanted_lu)
    change_db = copysign(at_once_db(abs(wanted_db), confidence), wanted_db)
    side = "further back" if below > 0.0 else "further forward"
    return Finding(
        excess=max(below, above) if lead.role in VOICES else min(max(below, above), MOST_EXCESS),
        confidence=confidence,
        sure_because=sure_because,
        numbers={"name": called(lead.name), "lead_lu": lead_lu, "lowest_lu": limits.lowest_lu, "highest_lu": limits.highest_lu,
                 "side": side, "change_db": change_db, "steps": in_steps(wanted_db, change_db)},
        cause="level",
        where=loudest_where(lead),
        remedy=fader(lead.name, change_db),
        title=f"{titled(lead.name, 24)} {side} than usual",
        stem=lead.name,
        exact=True,
    )  # fmt: skip


def _second_sign(lead: Element, elements: Elements, limits: Limits, *, back: bool) -> bool:
    """Tell whether something else says so too: the range is that of voices, and an instrument may well lie lower."""
    off_db, share = lead.level_plan.off_db or 0.0, heard_then(lead)
    if not back:
        return off_db >= limits.off_db
    return off_db <= -limits.off_db and (share is None or moved(lead, elements, LevelLimits()) < 0.0 or share < limits.heard_share)


def _outside(lead_lu: float, limits: Limits) -> tuple[float, float]:
    """Return how far a lead lies below the range, and how far above."""
    return past(-lead_lu, -limits.lowest_lu, limits.tolerance_lu), past(lead_lu, limits.highest_lu, limits.tolerance_lu)


def _comes_right(lead: Element, elements: Elements, limits: Limits, *, back: bool) -> bool:
    """Tell whether it is others that lie off, and the lead lies right once they are set."""
    then_lu = lead.level_plan.then_lu
    if then_lu is None or moved(lead, elements, LevelLimits()):
        return False
    return _outside(then_lu, limits)[0 if back else 1] <= 0.0


def _sureness(voice: bool) -> tuple[Confidence, str]:
    if voice:
        return "medium", "three studies agree on the range, but they are about pop, and listeners differ"
    return "low", "the range is for lead vocals; a lead instrument may well sit lower"
