"""Whether a fault that one element carries is laid on it, and one that was made on the mix bus on none.

    python -m tests.benchmarks.elements.attributed_faults --songs DIR [--only SONG ...]

DIR/SONG/stems/*.flac; the stems are the whole mix. Every fault is planted into every element of a song, clear and just audible, and on
the sum of all. A case counts where the rules about it find something in the mix that they do not find without the plant.

First: the element is named before all others. Carrier: it is said to carry most. On no element: a fault of the bus is laid on none.
"""

import argparse
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from advisor.app.progress import Quiet
from advisor.app.settings import Settings
from advisor.app.yardstick import yardstick_of
from advisor.judging.finding_history import overlap
from advisor.judging.judge import Card, Judged, judge
from advisor.measuring.measure import measure
from advisor.stems.attributing import attributed
from features.records.file import File
from features.records.hits import Hits
from features.records.spectrum import Spectrum
from features.sound.bands import third_octaves
from features.sound.load import open_source
from features.sound.signal import Signal
from rules.base import Rule, all_rules

KEPT_OUT = ("pingus-3", "song02")
SECONDS, FROM_S = 25, 10
SIZES = ("clear", "just audible")
Sound = NDArray[np.float64]
Change = Callable[[Sound, int, int], Sound]
YARDSTICK = yardstick_of(Settings())


@dataclass(frozen=True, slots=True)
class Fault:
    """A fault, the rules that find it, and its plant: sound, rate and size (0: clear, 1: just audible)."""

    name: str
    rules: frozenset[str]
    change: Change


def _peaking(sound: Sound, rate_hz: int, hz: float, gain_db: float, q: float) -> Sound:
    a, w = 10 ** (gain_db / 40), 2 * np.pi * hz / rate_hz
    alpha, cosine = np.sin(w) / (2 * q), np.cos(w)
    above, below = [1 + alpha * a, -2 * cosine, 1 - alpha * a], [1 + alpha / a, -2 * cosine, 1 - alpha / a]
    return np.asarray(signal.lfilter(above, below, sound, axis=1), np.float64)


def _strongest_hz(sound: Sound, rate_hz: int, low_hz: float, high_hz: float) -> float:
    power = np.abs(np.fft.rfft(sound.mean(axis=0))) ** 2
    hz = np.fft.rfftfreq(sound.shape[1], 1 / rate_hz)
    bands = third_octaves(rate_hz)
    inside = [(float(power[(hz >= low) & (hz < high)].sum()), float(np.sqrt(low * high)))
              for low, high in zip(bands.low_hz, bands.high_hz, strict=True) if low_hz <= low and high <= high_hz]  # fmt: skip
    return max(inside)[1]


def _shelved(sound: Sound, rate_hz: int, hz: float, gain_db: float, *, high: bool) -> Sound:
    passed = signal.butter(1, hz, "highpass" if high else "lowpass", fs=rate_hz, output="sos")
    return np.asarray(sound + (10 ** (gain_db / 20) - 1) * signal.sosfilt(passed, sound, axis=1), np.float64)


def _build_up(sound: Sound, rate_hz: int, size: int) -> Sound:
    return _peaking(sound, rate_hz, _strongest_hz(sound, rate_hz, 150.0, 5000.0), (12.0, 8.0)[size], 1.4)


def _resonance(sound: Sound, rate_hz: int, size: int) -> Sound:
    return _peaking(sound, rate_hz, _strongest_hz(sound, rate_hz, 250.0, 5000.0), (18.0, 12.0)[size], 14.0)


def _leaning(sound: Sound, _rate_hz: int, size: int) -> Sound:
    wide = np.repeat(sound, 2, axis=0) if len(sound) == 1 else sound
    gain = 10 ** (-(20.0, 10.0)[size] / 20)
    return np.stack([wide[0], gain * wide[1]])


def _turned_over(sound: Sound, _rate_hz: int, size: int) -> Sound:
    wide = np.repeat(sound, 2, axis=0) if len(sound) == 1 else sound
    return np.stack([wide[0], -wide[1]]) if size == 0 else np.stack([wide[0], -0.6 * wide[1]])


def _places(sound: Sound, rate_hz: int, count: int) -> list[int]:
    return [round(place) for place in np.linspace(2 * rate_hz, sound.shape[1] - 2 * rate_hz, count)]


def _peaks(sound: Sound, rate_hz: int, size: int) -> Sound:
    made, step = sound.copy(), rate_hz * 3 // 100
    for place in _places(sound, rate_hz, 4):
        near = np.abs(sound[:, place - rate_hz : place + rate_hz]).max(axis=0)
        at = place - rate_hz + int(near.argmax())
        made[:, at - step : at + step] *= 1 + (10 ** ((14.0, 9.0)[size] / 20) - 1) * np.hanning(2 * step)
    return made


def _clicks(sound: Sound, rate_hz: int, size: int) -> Sound:
    made = sound.copy()
    for place in _places(sound, rate_hz, 6):
        made[:, place] += (0.5, 0.2)[size]
    return made


def _hum(sound: Sound, rate_hz: int, size: int) -> Sound:
    time = np.arange(sound.shape[1]) / rate_hz
    wave = sum(np.sin(2 * np.pi * 50.0 * number * time) / number for number in range(1, 9))
    return np.asarray(sound + 10 ** ((-35.0, -50.0)[size] / 20) * wave, np.float64)


def _noise(sound: Sound, _rate_hz: int, size: int) -> Sound:
    return sound + 10 ** ((-38.0, -48.0)[size] / 20) * np.random.default_rng(7).standard_normal(sound.shape)


def _offset(sound: Sound, _rate_hz: int, size: int) -> Sound:
    return sound + (0.04, 0.015)[size]


def _step(sound: Sound, _rate_hz: int, size: int) -> Sound:
    gain = np.ones(sound.shape[1])
    gain[sound.shape[1] // 2 :] = 10 ** ((14.0, 8.0)[size] / 20)
    return sound * gain


def _pumping(sound: Sound, rate_hz: int, size: int) -> Sound:
    beat, depth = rate_hz // 2, (14.0, 8.0)[size]
    since = (np.arange(sound.shape[1]) % beat) / rate_hz
    return np.asarray(sound * 10 ** (-depth * np.exp(-since / 0.12) / 20), np.float64)


WIDTH = frozenset({"mixing/mono_loss", "mixing/polarity_fault", "mixing/band_too_wide", "mixing/low_end_too_wide"})
FAULTS = (
    Fault("build-up", frozenset({"mixing/broad_excess"}), _build_up),
    Fault("resonance", frozenset({"mixing/resonance"}), _resonance),
    Fault("sub", frozenset({"mixing/sub_excess"}), lambda sound, rate, size: _shelved(sound, rate, 60.0, (14.0, 9.0)[size], high=False)),
    Fault("highs", frozenset({"mixing/too_bright", "mixing/ear_band_too_strong", "mixing/harsh_moments"}),
          lambda sound, rate, size: _shelved(sound, rate, 3000.0, (14.0, 9.0)[size], high=True)),
    Fault("lean", frozenset({"mixing/left_right_imbalance"}), _leaning),
    Fault("one side upside down", WIDTH, _turned_over),
    Fault("stray peaks", frozenset({"mixing/stray_peaks"}), _peaks),
    Fault("clicks", frozenset({"delivery/clicks"}), _clicks),
    Fault("hum", frozenset({"delivery/hum"}), _hum),
    Fault("noise", frozenset({"delivery/noise_floor"}), _noise),
    Fault("offset", frozenset({"delivery/dc_offset"}), _offset),
    Fault("level step", frozenset({"mixing/level_step"}), _step),
    Fault("pumping", frozenset({"mixing/pumping"}), _pumping),
)  # fmt: skip


def read_song(folder: Path) -> tuple[int, dict[str, Sound]]:
    """Read an excerpt of every stem, planar."""
    stems = {}
    rate_hz = 0
    for path in sorted((folder / "stems").glob("*.flac")):
        with open_source(path) as opened:
            rate_hz = opened.source.rate_hz
            stems[path.stem] = np.asarray(opened.source.read(FROM_S * rate_hz, SECONDS * rate_hz), np.float64)
    return rate_hz, stems


def summed(stems: Mapping[str, Sound]) -> Sound:
    return np.asarray(sum(np.broadcast_to(sound, (2, sound.shape[1])) for sound in stems.values()), np.float64)


def cards_of(mix: Sound, rate_hz: int, rules: frozenset[str]) -> tuple[Card, ...]:
    """Measure a mix for some rules, and return what they find."""
    asked: tuple[Rule, ...] = tuple(rule for rule in all_rules() if rule.id in rules)
    wanted = tuple(dict.fromkeys(kind for rule in asked for kind in (*rule.looks_at, Hits, Spectrum) if kind is not File))
    source = Signal(mix.astype(np.float32), rate_hz)
    file = File(
        name="mix.wav", sha256="", duration_s=source.duration_s, rate_hz=rate_hz, channels=2, subtype="FLOAT", bits=None, lossy=False
    )
    measured = measure(source, file, lambda: 0, YARDSTICK, Quiet(), wanted)
    return judge(measured, YARDSTICK, asked).cards


def new(cards: Sequence[Card], before: Sequence[Card]) -> list[Card]:
    """Return the findings that are not there without the plant."""
    return [card for card in cards if not any(_same(card, other) for other in before)]


def _same(card: Card, other: Card) -> bool:
    bands = card.finding.band_hz, other.finding.band_hz
    return card.rule.id == other.rule.id and (bands[0] is None or bands[1] is None or overlap(bands[0], bands[1]) > 0.5)


@dataclass(frozen=True, slots=True)
class Row:
    """One case: which element, and who is named."""

    fault: str
    size: str
    element: str | None
    carrier: str
    first: str | None


def cases(folder: Path, faults: Sequence[Fault]) -> Iterator[Row]:
    """Yield every case of a song in which the fault is found."""
    rate_hz, stems = read_song(folder)
    clean = summed(stems)
    for fault in faults:
        before = cards_of(clean, rate_hz, fault.rules)
        for size, words in enumerate(SIZES):
            for element in (*stems, None):
                planted = stems if element is None else {**stems, element: fault.change(stems[element], rate_hz, size)}
                mix = fault.change(clean, rate_hz, size) if element is None else summed(planted)
                yield from _rows(fault, words, element, mix, planted, rate_hz, before)


def _rows(
    fault: Fault, size: str, element: str | None, mix: Sound, stems: Mapping[str, Sound], rate_hz: int, before: Sequence[Card]
) -> Iterator[Row]:
    judged_cards = new(cards_of(mix, rate_hz, fault.rules), before)
    if not judged_cards:
        return
    parts = {name: Signal(sound.astype(np.float32), rate_hz) for name, sound in stems.items()}
    made = attributed(_judged(judged_cards), parts, Signal(mix.astype(np.float32), rate_hz))
    attribution = made.cards[0].attribution
    first = None if attribution is None or not attribution.shares else attribution.shares[0].name
    yield Row(fault.name, size, element, "-" if attribution is None else attribution.carrier, first)


def _judged(cards: Sequence[Card]) -> Judged:
    return Judged(tuple(cards), (), (), ())


def main() -> None:
    """Plant, judge, attribute and count."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--songs", type=Path, required=True)
    parser.add_argument("--only", nargs="*", default=())
    parser.add_argument("--faults", nargs="*", default=())
    given = parser.parse_args()
    folders = [path for path in sorted(given.songs.iterdir()) if (path / "stems").is_dir() and path.name not in KEPT_OUT]
    faults = [fault for fault in FAULTS if not given.faults or fault.name in given.faults]
    rows = []
    for folder in folders:
        if not given.only or folder.name in given.only:
            for row in cases(folder, faults):
                rows.append(row)
                hit = row.first == row.element if row.element else row.carrier in {"left over", "-"}
                if not hit or (row.element and row.carrier != "element"):
                    print(
                        f"{folder.name}: {row.fault}, {row.size}, in {row.element or 'the bus'}: {row.carrier}, first {row.first}",
                        flush=True,
                    )
    table(rows)


def table(rows: Sequence[Row]) -> None:
    """Print how often each fault was laid on its element."""
    print("\n| fault | size | found | element first | said to carry it | on the bus found | on no element |")
    print("|---|---|---:|---:|---:|---:|---:|")
    grouped: dict[tuple[str, str], list[Row]] = defaultdict(list)
    for row in rows:
        grouped[row.fault, row.size].append(row)
        grouped["all", row.size].append(row)
    for (fault, size), its in sorted(grouped.items()):
        on_elements = [row for row in its if row.element]
        bus = [row for row in its if not row.element]
        first, said = (sum(row.first == row.element and row.carrier in kinds for row in on_elements)
                       for kinds in (("element", "several", "sum", "left over"), ("element",)))  # fmt: skip
        none = sum(row.carrier in {"left over", "-"} for row in bus)
        print(f"| {fault} | {size} | {len(on_elements)} | {first} | {said} | {len(bus)} | {none} |")


if __name__ == "__main__":
    main()
