"""Each step of the plan to listen to.

The stretch where its finding is worst, with the steps before it, and with it too.
"""

import io
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import soundfile

from advisor.audition.matching import BITS, match
from advisor.audition.names import clip_name
from advisor.audition.records import Clips
from advisor.audition.wav import Shape, Whole, single, write
from features.records.base import Span
from features.sound.signal import Samples, Source
from rules.remedy import Remedy

States = Callable[[Sequence[Remedy], int, int], Iterator[Samples]]  # frames of the song as they are, then after each remedy more


def make_clips(source: Source, remedies: Sequence[Remedy], states: States, where: Span, folder: Path) -> Clips | None:
    """Write the clips of the last of ``remedies`` into ``folder``.

    None when there is next to nothing to hear. Raises OSError.
    """
    rate_hz = source.rate_hz
    start = round(where.start_s * rate_hz)
    count = min(round(where.end_s * rate_hz), source.frames) - start
    song, *others = _stretches(remedies, states, start, count)
    before, after = others if len(others) == 2 else (song, others[0])
    matched = match(song, before, after, rate_hz)
    if matched is None:
        return None
    step = len(remedies)
    sounds = {"before": matched.before, "after": matched.after}
    before_name, after_name = (write_clip(folder, clip_name(step, which, "{}"), clip, rate_hz) for which, clip in sounds.items())
    return Clips(before_name, after_name, start / rate_hz, (start + count) / rate_hz, matched.lufs, matched.same)


def _stretches(remedies: Sequence[Remedy], states: States, start: int, count: int) -> list[Samples]:
    """Return the stretch untreated, before and after the last remedy.

    The one before is left out where it is the song's own.
    """
    passing = states(remedies, start, count)
    song = next(passing)
    return [song, *deque(passing, maxlen=2)]


def write_clip(folder: Path, name: str, clip: Whole, rate_hz: int) -> str:
    """Write a clip as FLAC, or else WAV.

    Return its file name. Every browser plays FLAC, it is smaller than WAV, and nothing is lost, so that what is compared is the move
    and not a codec; but it does not know every rate.
    """
    try:
        packed = io.BytesIO()  # so that a full disk is an ordinary error of an ordinary write
        soundfile.write(packed, clip.T << (32 - BITS), rate_hz, subtype=f"PCM_{BITS}", format="FLAC")
    except soundfile.SoundFileError:
        path = folder / name.format("wav")
        write(path, Shape(rate_hz, clip.shape[0], BITS), [single(clip, BITS)])
    else:
        path = folder / name.format("flac")
        path.write_bytes(packed.getvalue())
    return path.name
