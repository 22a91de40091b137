"""Where stems lie in the mix.

When they do not lie where they start: all together, or single ones.
"""

from collections.abc import Iterator, Sequence

import numpy as np

from advisor.sources.aligned import Aligned, Summed, fitted
from features.mixture import fit as alignment
from features.mixture.fit import Flags
from features.mixture.offsets import CHANCE, envelope_lags, waveform_lags
from features.mixture.stem_products import Singles, StemProducts
from features.sound.signal import BLOCK_FRAMES, Samples, Source

WINDOW_S = 12.0  # of sound that is looked for
REACH_S = 10.0  # a single stem may lie this far away
COMMON_REACH_S = 30.0  # all together; further away where the envelopes point
NEAR_S = 0.05  # the envelopes' answer is that exact
TRUSTED = 0.7  # of the usual gain: what fits worse may lie elsewhere
MATTERS = 0.05  # of the energy that is left
PLAUSIBLE = 2.0
AS_MUCH = 1.0 - 1e-5  # loops repeat nearly exactly, and exactly at one place
MOST_CHECKED_S = 1200.0


def loudest(envelope: Singles, step_s: float, rate_hz: int) -> tuple[int, int]:
    """Return the window that holds most of the energy.

    Its start and length in frames.
    """
    steps = min(max(round(WINDOW_S / step_s), 1), max(envelope.size, 1))
    total = np.concatenate([[0.0], np.cumsum(envelope, dtype=np.float64)])
    start = int(np.argmax(total[steps:] - total[:-steps])) if envelope.size >= steps else 0
    return round(start * step_s * rate_hz), round(steps * step_s * rate_hz)


def common_offset(sources: Sequence[Source], mix: Source, trace: StemProducts, used: Flags) -> int:
    """Return by how many frames all stems must be moved.

    0 when nothing else is clear.
    """
    numbers = [int(number) for number in np.flatnonzero(used)]
    envelope: Singles = np.stack([trace.sketches[number].envelope for number in numbers]).sum(axis=0, dtype=np.float32)
    total = Summed([sources[number] for number in numbers], max(sources[number].channels for number in numbers))
    step_s, rate = trace.sketches[0].step_s, mix.rate_hz
    start, length = loudest(envelope, step_s, rate)
    lags = _lags(total, mix, start, length, round(COMMON_REACH_S * rate))
    if not lags:  # further away: where the envelopes say, to the sample
        near = round(NEAR_S * rate)
        for steps in envelope_lags(envelope, trace.sketches[-1].envelope):
            lags += _lags(total, mix, start, length, near, round(steps * step_s * rate))
    match = best_of(total, mix, lags)
    return match[0] if match else 0


def single_offsets(sources: Sequence[Aligned], mix: Source, trace: StemProducts, used: Flags) -> dict[int, int]:
    """Return the stems that lie elsewhere in the mix.

    With the frames by which they must be moved; loudest first.
    Each is looked for in what the stems that fit leave of the mix. Suspect is what the mix holds clearly less of than of the others,
    unless it is too soft to matter for what is left.
    """
    own = alignment.own_gains(trace.total, used)
    usual = float(np.quantile(own[used], 0.75))
    if usual <= 0.0:
        return {}
    left = float(alignment.left_over(trace.total, own))
    energy = np.diag(trace.total)[:-1] * usual**2
    suspects = [int(stem) for stem in np.flatnonzero(used) if own[stem] < TRUSTED * usual and energy[stem] > MATTERS * left]
    trusted: list[tuple[Source, float]] = [(sources[stem], usual) for stem in map(int, np.flatnonzero(used)) if stem not in suspects]
    moves: dict[int, int] = {}
    for number in sorted(suspects, key=lambda stem: -trace.sketches[stem].power):
        stem, sketch = sources[number], trace.sketches[number]
        rest = Summed([mix, *(source for source, _ in trusted)], mix.channels, [1.0, *(-gain for _, gain in trusted)])
        start, length = loudest(sketch.envelope, sketch.step_s, mix.rate_hz)
        match = best_of(stem, rest, _lags(stem, rest, start, length, round(REACH_S * mix.rate_hz)))
        if match and match[0] and usual / PLAUSIBLE < match[1] < usual * PLAUSIBLE:
            moves[number] = match[0]
            trusted.append((stem.moved(stem.offset_frames + match[0], 1.0), match[1]))
    return moves


def _lags(sound: Source, reference: Source, start: int, length: int, reach: int, around: int = 0) -> list[int]:
    """Return the frames by which the sound may have to be moved, as far as its loudest window tells."""
    window = sound.read(start, length)
    stretch = _stretch(reference, start + around - reach, length + 2 * reach)
    lags = waveform_lags(window, stretch, 0, 2 * reach, home=min(max(reach - around, 0), 2 * reach))
    return [lag.frames - reach + around for lag in lags if lag.height > CHANCE * lag.spread]


def best_of(sound: Source, reference: Source, lags: Sequence[int]) -> tuple[int, float] | None:
    """Return the lag that explains most of the reference.

    Over the whole song, with the sound's gain there.
    A repeated bar fits a window at several places, and the whole song at one. Of lags that explain as much the smallest is taken.
    """
    if not lags:
        return None
    tried = sorted({0, *lags}, key=abs)
    frames = min(sound.frames, round(MOST_CHECKED_S * sound.rate_hz))
    whole = np.concatenate([_folded(block) for block in _blocks(sound, frames)])
    products, energies = np.zeros(len(tried)), np.zeros(len(tried))
    for number, block in enumerate(_blocks(reference, frames)):
        start, wave = number * BLOCK_FRAMES, _folded(block)
        for place, lag in enumerate(tried):
            first, last = max(start - lag, 0), min(max(start - lag + wave.size, 0), frames)
            if last > first:
                its = whole[first:last]
                products[place] += float(its @ wave[first + lag - start : last + lag - start])
                energies[place] += float(its @ its)
    explained = np.where(products > 0.0, products**2 / np.maximum(energies, 1e-30), 0.0)
    best = next(place for place in range(len(tried)) if explained[place] >= AS_MUCH * explained.max())
    return tried[best], float(products[best] / max(energies[best], 1e-30))


def _blocks(source: Source, frames: int) -> Iterator[Samples]:
    for start in range(0, frames, BLOCK_FRAMES):
        yield source.read(start, min(BLOCK_FRAMES, frames - start))


def _folded(block: Samples) -> Singles:
    """Return one channel in which neither the middle nor the sides vanish."""
    folded: Singles = block[0] + np.float32(0.5) * block[-1]
    return folded


def _stretch(source: Source, start: int, length: int) -> Samples:
    """Return a stretch that may reach past both ends of the source, where it is silent."""
    before = max(-start, 0)
    stretch = source.read(max(start, 0), max(length - before, 0))
    return fitted(np.pad(stretch, ((0, 0), (before, 0))), length) if before else fitted(stretch, length)
