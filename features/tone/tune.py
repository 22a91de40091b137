"""Tells a tune from a ringing.

Where other notes nearby are as loud when they sound, a peak of the long-term spectrum is a note played often.

A resonance lifts whatever comes near its own frequency and leaves the next notes as they are. A method of our own, no published source.
"""

import numpy as np
from numpy.typing import NDArray

from features.records.base import Span
from features.sound.signal import Source

Floats = NDArray[np.float64]

AROUND_SEMITONES = 4.5  # to either side, in which other notes are looked for
RATE_HZ = 11025  # what pitches are tracked at; higher ones at the song's own rate
RATE_OVER_PITCH = 4.0
BINS_A_SEMITONE = 4.0  # a window's main lobe must fit into a semitone
SEMITONE = 2.0 ** (1.0 / 12.0) - 1.0
SOUNDS_DB = 26.0  # below the loudest frame a pitch is not counted
LEAST_SHARE = 0.1  # of the frames: a note that plays
LOUD_SHARE = 0.75  # a note's level is that of its louder frames
ALIKE_DB = 4.0  # notes that are as loud as the peak's own when they sound
LEAST_NOTES = 2
LEAST_HELD = 0.4  # of the frames have the note of the frame before: noise jumps about


def notes_around(source: Source, frequency_hz: float, where: tuple[Span, ...]) -> tuple[str, ...]:
    """Return a tune's notes around a frequency.

    Parameters
    ----------
    source
        The song, or one of its elements.
    frequency_hz
        Of a peak of its spectrum.
    where
        Stretches in which pitches are tracked.

    Returns
    -------
    tuple
        Names of the notes, the most played first. Empty where no other note sounds as loudly, within 4 dB, or where pitches jump about as
        those of noise do: then the peak stands for itself.
    """
    import librosa  # noqa: PLC0415 - a second to import, and few songs have such a peak

    pitches, levels_db = _tracked(source, frequency_hz, where)
    if not len(pitches):
        return ()
    numbers = np.round(librosa.hz_to_midi(pitches)).astype(int)
    own = round(float(librosa.hz_to_midi(frequency_hz)))
    played = {number: levels_db[numbers == number] for number in np.unique(numbers).tolist()}
    loud = {number: float(np.quantile(db, LOUD_SHARE)) for number, db in played.items() if len(db) >= LEAST_SHARE * len(numbers)}
    at_peak = max((level for number, level in loud.items() if abs(number - own) <= 1), default=None)
    if at_peak is None:
        return ()
    alike = [number for number, level in loud.items() if level >= at_peak - ALIKE_DB]
    held_share = float(np.mean(numbers[1:] == numbers[:-1])) if len(numbers) > 1 else 0.0
    if len(alike) < LEAST_NOTES or held_share < LEAST_HELD:
        return ()
    return tuple(str(librosa.midi_to_note(number, unicode=False)) for number in sorted(alike, key=lambda number: -len(played[number])))


def spread_over(plays: tuple[Span, ...], count: int, length_s: float) -> tuple[Span, ...]:
    """Return stretches spread over where something plays.

    Up to ``count`` of ``length_s``, evenly.

    Examples
    --------
    >>> [span.start_s for span in spread_over((Span(0.0, 10.0), Span(20.0, 40.0)), 3, 5.0)]
    [0.0, 20.0, 35.0]
    """
    starts = [span.start_s + number * length_s for span in plays for number in range(max(int((span.end_s - span.start_s) / length_s), 1))]
    chosen = starts if len(starts) <= count else [starts[round(place)] for place in np.linspace(0, len(starts) - 1, count)]
    return tuple(Span(start, start + length_s) for start in chosen)


def _tracked(source: Source, frequency_hz: float, where: tuple[Span, ...]) -> tuple[Floats, Floats]:
    """Return the strongest pitch near a frequency in every frame in which one sounds, and its level in dB."""
    import librosa  # noqa: PLC0415

    rate_hz = RATE_HZ if frequency_hz * RATE_OVER_PITCH <= RATE_HZ < source.rate_hz else source.rate_hz
    size = int(2 ** np.ceil(np.log2(BINS_A_SEMITONE * rate_hz / (SEMITONE * frequency_hz))))
    width = 2.0 ** (AROUND_SEMITONES / 12.0)
    pitches, magnitudes = [], []
    for span in where:
        start = round(span.start_s * source.rate_hz)
        mono = source.read(start, round((span.end_s - span.start_s) * source.rate_hz)).mean(axis=0, dtype=np.float32)
        if mono.size * rate_hz < size * source.rate_hz:
            continue
        sound = librosa.resample(mono, orig_sr=source.rate_hz, target_sr=rate_hz) if rate_hz != source.rate_hz else mono
        hz, heights = librosa.piptrack(
            y=sound, sr=rate_hz, n_fft=size, hop_length=size // 2, fmin=frequency_hz / width, fmax=frequency_hz * width, threshold=0.0
        )
        strongest = heights.argmax(axis=0), np.arange(heights.shape[1])
        pitches.append(hz[strongest])
        magnitudes.append(heights[strongest])
    if not pitches:
        return np.zeros(0), np.zeros(0)
    pitch, level_db = np.concatenate(pitches), 20.0 * np.log10(np.maximum(np.concatenate(magnitudes), 1e-9))
    sounds = (pitch > 0.0) & (level_db > level_db.max() - SOUNDS_DB)
    return pitch[sounds].astype(np.float64), level_db[sounds].astype(np.float64)
