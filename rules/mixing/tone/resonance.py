"""A narrow peak that rings through much of the song.

## What it means
One frequency stands well above its neighbours for a large part of the song, whatever is being played.

## Why it matters
The ear fastens on a tone that never moves. It colours every sound in the mix and is heard as ringing, honking or whistling.

## What to do
Find the track that brings it: mute one after the other until the tone goes. Cut it there with a narrow bell; on the mix bus only if
several tracks have it. Stop as soon as it no longer draws attention; a deeper cut leaves a hole.

## Check by ear
Raise a narrow bell at that frequency by a lot for a second, then remove it: if the same tone goes on ringing softly in the mix, it is
there.

## Leave it alone when
It is a note that the song keeps playing, such as a drone, a pedal tone or a tuned kick.

## Sources
judgement, resonance-survey, toole-olive-1988
"""

from dataclasses import dataclass
from math import log

from features.records.spectrum import Resonance, Spectrum
from rules.base import Confidence, Finding, NotApplicable, limit, rule
from rules.remedy import Remedy
from rules.shared.bells import bell_edges
from rules.shared.excess import missing, past, within
from rules.shared.spans import MOST_SPANS
from rules.shared.words import hertz


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    prominence_db: float = limit(
        5.0,
        unit="dB",
        low=2.0,
        high=15.0,
        source="resonance-survey",
        says="a peak of Q 10 higher than this is reported; narrower ones later",
    )
    present_share: float = limit(
        0.4, unit="share of the time", low=0.3, high=0.95, source="judgement", says="a peak there for less of the song is not reported"
    )
    highest_hz: float = limit(
        8000.0, unit="Hz", low=2000.0, high=20000.0, source="resonance-survey", says="peaks above this are seldom heard as ringing"
    )
    note_below_hz: float = limit(
        200.0, unit="Hz", low=50.0, high=500.0, source="judgement", says="below this a peak may be the bass's own note: low confidence"
    )


def needed_db(resonance: Resonance, limits: Limits) -> float:
    """Return the height at which a peak is heard.

    2 dB more for five times the Q, as Toole and Olive found with popular music.
    """
    return limits.prominence_db + 2.0 * max(log(resonance.q / 10.0, 5.0), 0.0)


@rule(
    topic="tone",
    title="Resonance",
    message=("A narrow peak at {frequency_hz:.0f} Hz is {prominence_db:.1f} dB above its neighbours in {present_share:.0%} of the song."),
    advice="Cut {cut_db:.1f} dB at {frequency_hz:.0f} Hz, Q {q:.1f}, on the track that brings it.",
    stop="when you no longer hear the tone on its own",
    shared="bump",
)
def check(spectrum: Spectrum, limits: Limits) -> Finding | NotApplicable | None:
    """Report the peak furthest past the audible height.

    At its width.
    """
    if spectrum.level_db is None:
        return missing(spectrum, "level_db")
    peaks = [
        (past(resonance.prominence_db, needed_db(resonance, limits), 2.0), resonance)
        for resonance in spectrum.resonances
        if resonance.present_share >= limits.present_share and resonance.frequency_hz <= limits.highest_hz
    ]
    excess, resonance = max(peaks, key=lambda peak: peak[0], default=(0.0, None))
    if resonance is None or excess <= 0.0:
        return None
    confidence: Confidence = "medium"
    sure_because = "it stays while the music changes, but a note played throughout looks the same"
    if resonance.frequency_hz < limits.note_below_hz:
        confidence, sure_because = "low", "this low it may well be the note of the bass or the kick"
    cut_db = within(resonance.prominence_db / 2.0, 2.0, 6.0)
    q = within(resonance.q, 2.0, 12.0)
    return Finding(
        excess=excess,
        confidence=confidence,
        sure_because=sure_because,
        numbers={"frequency_hz": resonance.frequency_hz, "prominence_db": resonance.prominence_db, "present_share": resonance.present_share,
                 "cut_db": cut_db, "q": q},
        cause="narrow",
        where=resonance.where[:MOST_SPANS],
        band_hz=bell_edges(resonance.frequency_hz, q),
        remedy=Remedy(kind="bell", frequency_hz=resonance.frequency_hz, gain_db=-cut_db, q=q),
        title=f"Resonance at {hertz(resonance.frequency_hz)}",
    )  # fmt: skip
