"""Run a synthetic sound through the meters of stereo, crest and health."""

from typing import TypeVar

from features.file_faults.health import HealthMeter, NotFinite, measure_health
from features.loudness.crest import CrestMeter, CrestTrace, measure_crest
from features.loudness.level import LevelMeter, LevelTrace
from features.records.crest import Crest
from features.records.file import File, Health
from features.records.sections import Sections
from features.records.stereo import Stereo
from features.sound.signal import Meter, Samples
from features.sound.spectrogram import Spectrogram, SpectrogramMeter
from features.stereo.stereo import measure_stereo
from tests import records
from tests.signals import RATE_HZ

TraceT = TypeVar("TraceT")


def fed(meter: Meter[TraceT], samples: Samples, block: int = 1 << 17) -> TraceT:
    for start in range(0, samples.shape[1], block):
        meter.push(samples[:, start : start + block])
    return meter.finish()


def level_of(samples: Samples, rate_hz: int = RATE_HZ) -> LevelTrace:
    return fed(LevelMeter(rate_hz, samples.shape[0]), samples)


def spectrogram_of(samples: Samples, rate_hz: int = RATE_HZ) -> Spectrogram:
    return fed(SpectrogramMeter(rate_hz, samples.shape[0]), samples)


def stereo_of(samples: Samples, rate_hz: int = RATE_HZ) -> Stereo:
    return measure_stereo(level_of(samples, rate_hz), spectrogram_of(samples, rate_hz))


def octaves_of(samples: Samples, rate_hz: int = RATE_HZ, block: int = 1 << 17) -> CrestTrace:
    return fed(CrestMeter(rate_hz, samples.shape[0]), samples, block)


def crest_of(
    samples: Samples, rate_hz: int = RATE_HZ, hit_times_s: tuple[float, ...] = (), sections: Sections | None = None, block: int = 1 << 17
) -> Crest:
    return measure_crest(octaves_of(samples, rate_hz, block), level_of(samples, rate_hz), records.hits(times_s=hit_times_s), sections)


def health_of(
    samples: Samples,
    rate_hz: int = RATE_HZ,
    bits: int | None = 24,
    subtype: str = "PCM_24",
    *,
    lossy: bool = False,
    block: int = 1 << 17,
) -> Health:
    file = File("song.wav", "", samples.shape[1] / rate_hz, rate_hz, samples.shape[0], subtype, bits, lossy)
    trace = fed(HealthMeter(rate_hz, samples.shape[0], file), samples, block)
    return measure_health(trace, level_of(samples, rate_hz), spectrogram_of(samples, rate_hz), file, NotFinite(lambda: 0))
