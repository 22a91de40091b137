"""The low end jumps in level.

## What it means
From note to note, from hit to hit, or from one moment to the next, the level of the low end changes more than is usual.

## Why it matters
Some notes boom and others vanish, and the loudest of them decide how far a limiter can be driven.

## What to do
Level the bass before anything on the mix bus: clip gain or automation for single notes, then a compressor. Tune it so that it works on
the loudest notes only. Stop when no note jumps out; a bass that is pressed flat loses its line.

## Check by ear
Play only the lows with a low-pass filter at 120 Hz on the mix bus and listen for notes that leap out or disappear.

## Leave it alone when
The bass line is meant to breathe, or it rests and comes back as part of the arrangement.

## Sources
judgement, low-end-survey
"""

from dataclasses import dataclass

from features.records.crest import Crest
from features.records.low_end import LowEnd
from features.records.spectrum import Spectrum
from rules.base import Finding, NotApplicable, limit, rule
from rules.remedy import Remedy
from rules.shared.bands import band_level_dbfs
from rules.shared.excess import missing, past
from rules.shared.spans import spans_of

LOW_HZ = (30.0, 150.0)
OCTAVES_HZ = (60.0, 130.0)  # below, ordinary songs vary by as much as faulty ones
ABOVE_USUAL_DB = 2.0
RATIO = 2.5


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    note_spread_db: float = limit(
        14.5, unit="dB", low=4.0, high=40.0, source="low-end-survey", says="notes that differ by more are unsteady"
    )
    hit_variation_db: float = limit(9.0, unit="dB", low=1.5, high=15.0, source="low-end-survey", says="hits that vary by more are unsteady")
    jump_db: float = limit(10.0, unit="dB", low=2.0, high=20.0, source="low-end-survey", says="a larger jump is unsteady")
    rest_db: float = limit(
        14.0, unit="dB", low=6.0, high=40.0, source="low-end-survey", says="a jump this large is a rest, not unsteadiness"
    )
    signs_needed: float = limit(2.0, unit="signs of three", low=1.0, high=3.0, source="judgement", says="fewer of them are not reported")


def signs(low_end: LowEnd, crest: Crest, limits: Limits) -> list[tuple[float, str]]:
    """Return each sign of unsteadiness past its limit.

    How far, in tolerances, and in words.
    """
    variations = [
        value
        for hz, value in zip(crest.octave_hz, crest.hit_variation_db, strict=True)
        if OCTAVES_HZ[0] <= hz <= OCTAVES_HZ[1] and value is not None
    ]
    jumps = [moment.value for moment in low_end.uneven if moment.value < limits.rest_db]
    readings = (
        (low_end.note_spread_db, limits.note_spread_db, 3.0, "sustained notes differ by {:.1f} dB"),
        (max(variations, default=None), limits.hit_variation_db, 2.0, "hits vary by {:.1f} dB"),
        (max(jumps, default=None), limits.jump_db, 2.0, "the level jumps by up to {:.1f} dB within one part"),
    )
    return [
        (past(value, most, tolerance), words.format(value))
        for value, most, tolerance, words in readings
        if value is not None and value > most
    ]


@rule(
    topic="low-end",
    title="Uneven low end",
    message="The low end is uneven: {what}.",
    advice="Compress the bass {ratio:.1f}:1, attack 20 ms, release 150 ms, on the loudest notes only.",
    stop="when no note sticks out",
    shared="movement",
)
def check(low_end: LowEnd, crest: Crest, spectrum: Spectrum, limits: Limits) -> Finding | NotApplicable | None:
    """Ask for at least two of three signs.

    Each alone may be the music's.
    """
    if low_end.note_spread_db is None and not low_end.uneven:
        return missing(low_end, "note_spread_db")
    seen = signs(low_end, crest, limits)
    if len(seen) < limits.signs_needed:
        return None
    level_dbfs = band_level_dbfs(spectrum, *LOW_HZ)
    return Finding(
        excess=max(excess for excess, _ in seen),
        confidence="medium" if len(seen) == 3 else "low",
        sure_because=f"{len(seen)} of three signs agree: spread of notes, variation of hits, jumps within a part",
        numbers={"what": ", and ".join(words for _, words in seen), "ratio": RATIO},
        cause="unsteady",
        where=spans_of(tuple(moment for moment in low_end.uneven if moment.value < limits.rest_db)),
        band_hz=LOW_HZ,
        remedy=Remedy(
            kind="compressor", part="sustained", ratio=RATIO, attack_ms=20.0, release_ms=150.0, knee_db=6.0,
            threshold_dbfs=None if level_dbfs is None else round(level_dbfs + ABOVE_USUAL_DB, 1),
        ),
    )  # fmt: skip
