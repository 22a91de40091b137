"""The causes that are planted, the ways of each, and which rules name it rightly."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from tests.benchmarks.causes import elements, gains
from tests.benchmarks.causes.elements import any_drum, bass_or_main, on_element, on_upright
from tests.benchmarks.causes.gains import on_all, on_rest
from tests.benchmarks.diagnosis import planted_sound
from tests.benchmarks.healing.plants import Planted, by, main_element, on_every_stem, second_element, shaped
from tests.benchmarks.plans.planting import Stems

Plant = Callable[[Stems], Planted | None]


@dataclass(frozen=True, slots=True)
class Cause:
    """One cause: its ways, the rules that name it rightly without and with stems, and whether the element must be right."""

    id: str
    ways: Mapping[str, Plant]
    names: frozenset[str]
    given: tuple[str, ...] = ("stereo",)
    of_element: bool = False


PULSES = frozenset(("pumping", "level_pulses"))
PASSAGES = frozenset(("level_step", "sections_too_far_apart"))
TURNED = frozenset(("polarity_fault", "mono_loss", "band_too_wide", "low_end_too_wide", "element_inverted", "inverted_part"))
CANCELS = frozenset(("kick_against_bass",))
NO_LOWS = frozenset(("sub_lack", "broad_lack"))
NO_HIGHS = frozenset(("too_dark", "broad_lack", "ear_band_too_weak", "band_limited"))
CUT = frozenset(("clipped_tops", "limiter_already_working", "element_clipped"))
DULL = frozenset(("element_dull", "broad_lack", "too_dark", "ear_band_too_weak"))

CAUSES: tuple[Cause, ...] = (
    Cause("gain by its own period", {
        "numpy cosine": on_all(gains.swung), "numpy duck": on_all(gains.ducked), "scipy keyed compressor": on_all(gains.keyed),
        "ffmpeg tremolo": gains.tremolo, "numpy duck, music only": on_rest(gains.ducked),
        "scipy keyed, music only": on_rest(gains.keyed), "twice a second": on_all(gains.locked),
    }, PULSES),
    Cause("passages alternate", {
        "numpy steps, 6 dB": on_all(gains.stepped), "scipy ride, 6 dB": on_all(gains.ridden), "ffmpeg volume, 4 dB": gains.by_volume,
        "sox pieces, 8 dB": gains.joined, "music only, 6 dB": on_rest(gains.stepped),
    }, PASSAGES),
    Cause("channel of an element inverted", {
        "numpy, main": on_upright(main_element, elements.right_over), "ffmpeg, drum": on_upright(any_drum, elements.by_ffmpeg),
        "sox, bass": on_upright(bass_or_main, elements.by_sox), "numpy, second": on_upright(second_element, elements.right_over),
        "scipy phases, main": on_upright(main_element, elements.fake_width),
    }, TURNED, ("stereo", "stems"), of_element=True),
    Cause("kick and bass cancel by delay", {
        "numpy, lows of the kick": elements.delayed(elements.with_kick_lows, elements.rolled),
        "ffmpeg, the bass": elements.delayed(elements.best_placed, elements.ffmpeg_delay),
        "sox, a sub": elements.delayed(elements.with_sub, elements.sox_delay),
    }, CANCELS, ("stems",)),
    Cause("lows lost", {
        "scipy high-pass": on_every_stem(lambda samples, rate_hz: planted_sound.high_pass(samples, rate_hz, 90.0)),
        "ffmpeg shelf": by("ffmpeg", "lowshelf=f=120:t=q:w=0.7:g=-12"), "sox high-pass": by("sox", "highpass", "-2", "120"),
    }, NO_LOWS),
    Cause("highs lost", {
        "scipy slope": on_every_stem(shaped(lambda hz: -6.0 * np.maximum(np.log2(hz / 2000.0), 0.0))),
        "ffmpeg low-pass": by("ffmpeg", "lowpass=f=4000:p=2"), "sox treble": by("sox", "treble", "-12", "5000", "0.7q"),
    }, NO_HIGHS),
    Cause("element clipped", {
        "numpy, hard, main": on_element(main_element, elements.hard_clipped),
        "numpy, soft, main": on_element(main_element, elements.driven),
        "ffmpeg, hard, drum": on_element(any_drum, elements.ffmpeg_clipped),
        "sox, overdrive, second": on_element(second_element, elements.sox_overdriven),
    }, CUT, ("stems",), of_element=True),
    Cause("element dulled", {
        "scipy, main": on_element(main_element, elements.dulled),
        "ffmpeg, second": on_element(second_element, elements.through("ffmpeg", ("lowpass=f=2000:p=2,lowpass=f=2000:p=2",))),
        "sox, drum": on_element(any_drum, elements.through("sox", ("lowpass", "-2", "1500"))),
    }, DULL, ("stems",), of_element=True),
)  # fmt: skip


def element_of(song: Stems, planted: Planted) -> frozenset[str]:
    """Return the stems that the plant changed."""
    return frozenset(name for name, samples in planted.items() if samples is not song.stems[name])
