"""A copy of the mix with a marker per finding.

The samples are the same, but for the gain of a mix that passes full scale, and any workstation shows the markers.
"""

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from advisor.audition.names import label
from advisor.audition.wav import FLOAT_BITS, MOST_BYTES, Cue, Shape, size, write
from advisor.judging.judge import Card
from features.records.file import File
from features.sound.signal import BLOCK_FRAMES, Source


def cues(cards: Sequence[Card], source: Source) -> list[Cue]:
    """Return one marker for each card, in the song's order.

    A card without a place stands at the start.
    """
    markers = []
    for rank, card in enumerate(cards, 1):
        words = label(rank, card.finding.title or card.rule.title)
        if not card.finding.where:
            markers.append(Cue(0, words))
            continue
        place = card.finding.where[0]
        first = min(max(round(place.start_s * source.rate_hz), 0), max(source.frames - 1, 0))
        last = min(round(place.end_s * source.rate_hz), source.frames)
        markers.append(Cue(first, words, max(last - first, 0)))
    return sorted(markers, key=lambda cue: cue.frame)  # equal places stay in the order of their ranks


def bits_for(file: File, highest: float) -> int:
    """Return the bits that hold the mix without changing it.

    Its own up to 24, else float.

    A lossy mix is decoded to 24 bits; to float where its highest sample reaches full scale, which whole numbers would cut.
    """
    if file.bits is not None and file.bits <= 24 and not file.lossy:
        return 16 if file.bits <= 16 else 24
    return 24 if file.lossy and highest < 1.0 else FLOAT_BITS


def gain_for(highest: float) -> float:
    """Return what brings a mix down to full scale.

    One where it does not pass it: nothing louder is ever written.
    """
    return 1.0 / highest if highest > 1.0 else 1.0


def write_marked(path: Path, source: Source, marks: Sequence[Cue], bits: int, gain: float = 1.0) -> bool:
    """Write the copy.

    False, and nothing written, when it would pass what a WAV file can hold.
    """
    shape = Shape(source.rate_hz, source.channels, bits)
    if size(shape, source.frames, marks) > MOST_BYTES:
        return False
    blocks = source.blocks(BLOCK_FRAMES)
    write(path, shape, blocks if gain == 1.0 else (block * np.float32(gain) for block in blocks), marks)
    return True
