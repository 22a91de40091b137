"""Signs that an element needs compression.

At least two must agree.

Raw: attacks that sound alike differ, the attacks' peaks or the level while it plays spread widely. Finished: what sounds alike repeats,
the level keeps within what is usual. Over-compressed: the level stands still although notes begin, peaks and level alike. A tone
that a generator holds stands stiller than any compressor leaves a recording, and is not accused. Limits tried on the stems of ten
songs as they are, with jumps of 6 to 10 dB put in, and squashed by 12 dB; common practice behind them, no published source.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from features.elements.dynamics.attacks import (
    SILENT_POWER,
    Attacks,
    alike_spread_db,
    find_attacks,
    height_repeats,
    level_db,
    rises,
)
from features.elements.dynamics.compression import find_setting
from features.elements.dynamics.envelope import STEP_S, STEPS_PER_S, EnvelopeTrace
from features.hits.audibility import worst_windows
from features.records.base import Span
from features.records.elements import ElementDynamics, Role, State
from features.sound.decibels import amplitudes_to_db, powers_to_db
from features.sound.windows import moving_mean

Floats = NDArray[np.float64]
Singles = NDArray[np.float32]

STRIKING: tuple[Role, ...] = ("kick", "snare", "hats", "percussion", "drums")
PLAYED: tuple[Role, ...] = ("bass", "vocal", "backing vocal", "lead", "guitar")  # where a wide level is not the arrangement's
FIRM: tuple[Role, ...] = ("kick", "snare", "drums", "bass", "guitar")  # their sound falls by nature

ENOUGH = 12  # attacks
ACCENTS = 1.8  # heights that recur this much more often than by chance are set, not slipped
ALIKE_RAW_DB, ALIKE_PLAYED_DB, ALIKE_FINISHED_DB = 2.5, 1.5, 1.0
HITS_RAW_DB, HITS_FINISHED_DB = 4.0, 2.5
LEVEL_RAW_DB, LEVEL_FINISHED_DB = 9.0, 6.0
PHRASE_RAW_DB, PHRASE_FINISHED_DB = 5.0, 3.5
STILL_DB, STILL_SHARE = 2.2, 0.4
HELD_DB, HELD_SHARE = 1.5, 0.54  # nothing played or programmed stood as still
FIRM_DB, FIRM_SHARE, FIRM_ALONE_DB = 2.9, 0.34, 1.8
GENERATOR_DB = 0.65
STILL_LEVEL_DB, STILL_PHRASE_DB = 2.5, 2.5
NOTE_RISE_DB = 2.0
NOTES_PER_MINUTE = 5.0
INSIDE = 0.99
FEWEST_WINDOWS = 10
MOST_SPANS = 3


@dataclass(frozen=True, slots=True)
class Reading:
    """Readings that the signs rest on.

    Decibels, ``None`` where there is too little to tell.

    ``alike``, ``repeats``: `attacks.alike_spread_db`, `attacks.height_repeats`; ``hits``: standard deviation of the attacks' peaks.
    ``level``, ``phrase``: P95 - P10 of the level over 400 ms and 3 s. ``crest``: median over 200 ms. ``still``: P95 - P50 of the level
    over 20 ms; ``still_share``: share of it within 2 dB of its top. ``notes``: rises of 2 dB or more, per minute.
    """

    attacks: int
    alike: float | None
    repeats: float | None
    hits: float | None
    level: float | None
    phrase: float | None
    crest: float | None
    still: float | None
    still_share: float | None
    notes: float


def measure_dynamics(envelope: EnvelopeTrace, plays: tuple[Span, ...], role: Role) -> ElementDynamics:
    """Judge whether an element needs compression.

    Settings are found where it does.

    Parameters
    ----------
    envelope
        The element's, at its level in the mix.
    plays
        Where it plays; empty: wherever it sounds.
    role
        What it plays; drums fall silent between strokes, so their level over 400 ms says nothing.
    """
    mean_square = np.where(_mask(envelope, plays), envelope.mean_square, np.float32(0.0))
    attacks = find_attacks(envelope.peak, mean_square)
    read = read_signs(envelope, plays, attacks)
    state, signs = judge(read, role)
    setting = find_setting(envelope, attacks, read.crest or 0.0) if state == "raw" else None
    return ElementDynamics(
        state=state,
        signs=signs,
        hits=read.attacks,
        hit_spread_db=read.hits,
        phrase_spread_db=read.phrase,
        crest_200ms_db=read.crest,
        threshold_dbfs=setting.threshold_dbfs if setting else None,
        ratio=setting.ratio if setting else None,
        attack_ms=setting.attack_ms if setting else None,
        release_ms=setting.release_ms if setting else None,
        reduction_db=setting.reduction_db if setting else None,
        where=_where(attacks, mean_square) if state == "raw" else (),
        jumps_db=setting.before_db if setting else None,
        jumps_after_db=setting.after_db if setting else None,
    )


def read_signs(envelope: EnvelopeTrace, plays: tuple[Span, ...], attacks: Attacks) -> Reading:
    """Read everything that the state is judged by."""
    mask = _mask(envelope, plays)
    mean_square = np.where(mask, envelope.mean_square, np.float32(0.0))
    fast = level_db(mean_square)
    fast_top = float(np.quantile(fast, 0.99)) if fast.size else -200.0
    if fast_top <= 10 * np.log10(SILENT_POWER) + 1.0:
        return Reading(0, None, None, None, None, None, None, None, None, 0.0)
    sounding = fast[fast > fast_top - 20.0]
    top, middle = (float(np.quantile(sounding, share)) for share in (0.95, 0.5))
    notes = len(rises(fast, NOTE_RISE_DB))
    minutes = max(float(mask.sum()) * STEP_S, 1.0) / 60
    return Reading(
        attacks=len(attacks),
        alike=alike_spread_db(attacks) if len(attacks) >= ENOUGH else None,
        repeats=height_repeats(attacks) if len(attacks) >= ENOUGH else None,
        hits=float(np.std(attacks.peaks_dbfs)) if len(attacks) >= 4 else None,
        level=_spread(mean_square, mask, 400),
        phrase=_spread(mean_square, mask, 3000),
        crest=_crest(envelope.peak, mean_square),
        still=top - middle,
        still_share=float(np.mean(sounding > np.quantile(sounding, 0.98) - 2.0)),
        notes=notes / minutes,
    )


def judge(read: Reading, role: Role) -> tuple[State, tuple[str, ...]]:
    """Return the state, and what speaks for it.

    Two signs at least, else unclear.
    """
    if _over(read, role):
        return "over-compressed", _still_signs(read)
    raw = _raw_signs(read, role)
    uneven = _uneven(read)
    if len(raw) >= 2 and (uneven or (role in PLAYED and _plainly_jumping(read))):
        return "raw", raw
    if _stands_still(read):  # held by a compressor, or a generator: the envelope does not tell
        return "unclear", (*_still_signs(read), *raw)
    finished = _finished_signs(read, role)
    if len(finished) >= 2 and not uneven:
        return "finished", finished
    return "unclear", (*raw, *finished)


def _uneven(read: Reading) -> bool:
    """Whether attacks that sound alike differ, and not by accents that recur."""
    if read.alike is None or (read.repeats is not None and read.repeats >= ACCENTS):
        return False
    return read.alike >= ALIKE_RAW_DB


def _plainly_jumping(read: Reading) -> bool:
    """Whether level and attacks, or level and phrases where attacks are few, jump without what sounds alike speaking against it."""
    if read.level is None or read.level < LEVEL_RAW_DB:
        return False
    if read.alike is None:
        return read.phrase is not None and read.phrase >= PHRASE_RAW_DB
    accents = read.repeats is not None and read.repeats >= ACCENTS
    return read.alike >= ALIKE_PLAYED_DB and not accents and read.hits is not None and read.hits >= HITS_RAW_DB


def _raw_signs(read: Reading, role: Role) -> tuple[str, ...]:
    signs = []
    if read.alike is not None and _uneven(read):
        signs.append(f"attacks that sound alike differ by {read.alike:.1f} dB")
    if read.hits is not None and read.attacks >= ENOUGH and read.hits >= HITS_RAW_DB:
        signs.append(f"the peaks of its attacks spread by {read.hits:.1f} dB (standard deviation)")
    if role not in STRIKING and read.level is not None and read.level >= LEVEL_RAW_DB:
        signs.append(f"its level over 400 ms moves by {read.level:.1f} dB while it plays")
    if role not in STRIKING and read.phrase is not None and read.phrase >= PHRASE_RAW_DB:
        signs.append(f"its level from phrase to phrase moves by {read.phrase:.1f} dB")
    return tuple(signs)


def _finished_signs(read: Reading, role: Role) -> tuple[str, ...]:
    signs = []
    if read.alike is not None and read.alike <= ALIKE_FINISHED_DB:
        signs.append(f"attacks that sound alike repeat within {read.alike:.1f} dB")
    elif read.repeats is not None and read.repeats >= ACCENTS:
        signs.append(f"the heights of its attacks recur {read.repeats:.1f} times as often as by chance")
    if read.hits is not None and read.attacks >= ENOUGH and read.hits <= HITS_FINISHED_DB:
        signs.append(f"the peaks of its attacks keep within {read.hits:.1f} dB (standard deviation)")
    if role not in STRIKING and read.level is not None and read.level <= LEVEL_FINISHED_DB:
        signs.append(f"its level over 400 ms keeps within {read.level:.1f} dB while it plays")
    if read.phrase is not None and read.phrase <= PHRASE_FINISHED_DB:
        signs.append(f"its level from phrase to phrase keeps within {read.phrase:.1f} dB")
    return tuple(signs)


def _still_signs(read: Reading) -> tuple[str, ...]:
    """Return what says that the level stands still, as clauses."""
    if read.still is None or read.still_share is None:
        return ()
    signs = [
        f"its usual level lies only {read.still:.1f} dB below its highest, although notes begin {read.notes:.0f} times a minute",
        f"{read.still_share:.0%} of its sound lies within 2 dB of the top",
    ]
    if read.level is not None and read.level <= STILL_LEVEL_DB:
        signs.append(f"its level over 400 ms moves by no more than {read.level:.1f} dB")
    return tuple(signs)


def _over(read: Reading, role: Role) -> bool:
    """Whether level and share both say that a compressor holds the element, beyond what its role explains."""
    if read.still is None or read.still_share is None or read.notes < NOTES_PER_MINUTE or read.still < GENERATOR_DB:
        return False
    if read.still <= HELD_DB and read.still_share >= HELD_SHARE:
        return True
    if read.phrase is None or read.phrase > STILL_PHRASE_DB:
        return False
    if role in FIRM:
        return read.still <= FIRM_DB and (read.still_share >= FIRM_SHARE or read.still <= FIRM_ALONE_DB)
    return _stands_still(read) and read.level is not None and read.level <= STILL_LEVEL_DB


def _stands_still(read: Reading) -> bool:
    return read.still is not None and read.still_share is not None and read.still <= STILL_DB and read.still_share >= STILL_SHARE


def _mask(envelope: EnvelopeTrace, plays: tuple[Span, ...]) -> NDArray[np.bool_]:
    """Return which steps the element plays in, shape ``(steps,)``."""
    mask = np.full(envelope.peak.size, not plays)
    for span in plays:
        mask[max(round(span.start_s * STEPS_PER_S), 0) : max(round(span.end_s * STEPS_PER_S), 0)] = True
    return mask


def _spread(mean_square: Singles, mask: NDArray[np.bool_], width: int) -> float | None:
    """Return P95 - P10 of the level over ``width`` steps, every 100 ms, in windows all of which play and sound; dB."""
    if mean_square.size < width:
        return None
    centres = slice(width // 2, mean_square.size - width // 2, 100)
    level = powers_to_db(np.maximum(moving_mean(mean_square, width), 0.0)[centres] + SILENT_POWER)
    inside = moving_mean(mask.astype(np.float32), width)[centres] >= INSIDE
    if np.count_nonzero(inside) >= FEWEST_WINDOWS:
        level = level[inside]
    if level.size < FEWEST_WINDOWS:
        return None
    level = level[level > np.quantile(level, 0.95) - 25.0]
    return float(np.quantile(level, 0.95) - np.quantile(level, 0.10))


def _crest(peak: Singles, mean_square: Singles) -> float | None:
    """Return the median crest over 200 ms, in windows within 20 dB of the loud ones."""
    count = peak.size // 200
    if not count:
        return None
    level = powers_to_db(mean_square[: 200 * count].reshape(count, 200).mean(axis=1, dtype=np.float64) + SILENT_POWER)
    highest = amplitudes_to_db(peak[: 200 * count].reshape(count, 200).max(axis=1))
    loud = level > max(float(np.quantile(level, 0.95)) - 20.0, -110.0)
    return float(np.median(highest[loud] - level[loud])) if loud.any() else None


def _where(attacks: Attacks, mean_square: Singles) -> tuple[Span, ...]:
    """Return the stretches of 8 s in which neighbouring attacks, or else halves of a second, differ most."""
    if len(attacks) >= ENOUGH:
        times_s, heights = attacks.steps * STEP_S, attacks.peaks_dbfs
    else:
        count = mean_square.size // 500
        heights = powers_to_db(mean_square[: 500 * count].reshape(count, 500).mean(axis=1, dtype=np.float64) + SILENT_POWER)
        times_s = np.arange(count) * 0.5
        sounds = heights > np.quantile(heights, 0.95) - 25.0
        times_s, heights = times_s[sounds], heights[sounds]
    if heights.size < 2:
        return ()
    worst = worst_windows(np.asarray(times_s[1:], np.float64), -np.abs(np.diff(heights)), MOST_SPANS)
    return tuple(Span(moment.start_s, min(moment.end_s, mean_square.size * STEP_S)) for moment in worst)
