"""Fitting stems to the mix: one pass over everything, then offsets only where the sum does not explain the mix."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from advisor.progress import Progress
from advisor.stems.aligned import Aligned, Resampled
from advisor.stems.files import Found
from features import alignment
from features.element_records import Mixture
from features.gram import GramMeter, GramTrace, Sketch, one_core
from features.load import Opened
from features.signal import BLOCK_FRAMES, Source


@dataclass(frozen=True, slots=True)
class Fitted:
    """Every stem in mix time; ``used`` numbers those that make up the sum."""

    sources: tuple[Aligned, ...]
    used: tuple[int, ...]
    sketches: tuple[Sketch, ...]
    silent: tuple[bool, ...]
    copy_of: tuple[int | None, ...]
    mixture: Mixture
    channels: int
    notes: tuple[str, ...]


def fit_stems(found: Found, mix: Source | None, progress: Progress) -> Fitted:
    """Bring all stems to the mix's rate and length, and find the gains with which they sum to it."""
    sources, channels = in_mix_time(found.opened, mix)
    trace = gather([*sources, *(() if mix is None else (mix,))], progress)
    count = len(sources)
    silent = alignment.silent_stems(trace, count)
    used = ~silent
    fitted = alignment.unfitted(count) if mix is None else alignment.fit(trace, used)
    placed = tuple(one.moved(0, float(gain) if gain else fitted.common) for one, gain in zip(sources, fitted.gains, strict=True))
    return Fitted(
        placed, tuple(range(count)), trace.sketches[:count], tuple(bool(one) for one in silent), alignment.copies(trace, count),
        alignment.mixture(fitted, 0.0, without_mix=mix is None), channels, (),
    )  # fmt: skip


def in_mix_time(opened: Sequence[Opened], mix: Source | None) -> tuple[list[Aligned], int]:
    """Return the stems at the mix's rate and length; without a mix at the rate most of them have, as long as the longest."""
    rates = Counter(one.source.rate_hz for one in opened)
    rate = mix.rate_hz if mix is not None else max(rates, key=lambda each: (rates[each], each))
    even: list[Source] = [one.source if one.source.rate_hz == rate else Resampled(one.source, rate) for one in opened]
    frames = mix.frames if mix is not None else max(one.frames for one in even)
    channels = mix.channels if mix is not None else max(one.channels for one in even)
    return [Aligned(one, frames, one_channel=channels == 1) for one in even], channels


def gather(sources: Sequence[Source], progress: Progress) -> GramTrace:
    """Read all sources side by side, once."""
    meter = GramMeter(sources[0].rate_hz, [one.channels for one in sources])
    frames = sources[0].frames
    with one_core():
        for start in range(0, frames, BLOCK_FRAMES):
            meter.push([one.read(start, BLOCK_FRAMES) for one in sources])
            progress.advance(min(start + BLOCK_FRAMES, frames) / frames)
        return meter.finish()
