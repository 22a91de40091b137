"""The stems do not add up to the mix.

## What it means
Summed at the best common gain, the stems leave something of the mix over: an effect on the mix bus that they do not hold, an element that
is missing, or stems of another version.

## Why it matters
Findings about elements, and every trial on them, are only as good as their sum. What is left over is carried along unchanged.

## What to do
Render the stems through the same bus as the mix, or the mix without its bus effects, and add what is missing. Stop when what is left lies
more than 30 dB below the mix; the last decibels change no advice.

## Check by ear
Import the stems beside the mix, flip the polarity of the mix and listen to what is left: it tells what is missing.

## Leave it alone when
You know which bus effect it is and want to keep it.

## Sources
delivery-practice, judgement
"""

from dataclasses import dataclass

from features.records.elements import Elements
from rules.base import Finding, NotApplicable, limit, rule
from rules.shared.excess import past

MOST_EXCESS = 1.5


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    residual_db: float = limit(
        -30.0, unit="dB", low=-80.0, high=-3.0, source="judgement", says="when the sum leaves more of the mix than this, it is reported"
    )


@rule(
    topic="delivery",
    title="Stems do not add up",
    message="{meaning}",
    advice="Render stems and mix through the same bus, and add what is missing.",
    stop="when the difference is below {residual_limit_db:.0f} dB",
)
def check(elements: Elements, limits: Limits) -> Finding | NotApplicable | None:
    """Compare what the sum leaves over with the limit."""
    mixture = elements.mixture
    if mixture.residual_db is None:
        return NotApplicable("without a mix, the sum of the stems is the mix")
    if mixture.residual_db <= limits.residual_db:
        return None
    return Finding(
        excess=min(past(mixture.residual_db, limits.residual_db, 10.0), MOST_EXCESS),
        confidence="medium",
        sure_because="the difference was measured; its cause is only inferred from size and place",
        numbers={"meaning": mixture.meaning.rstrip(".") + ".", "residual_limit_db": limits.residual_db},
        cause="stems",
        where=() if mixture.residual_where is None else (mixture.residual_where,),
        band_hz=mixture.residual_band_hz,
    )
