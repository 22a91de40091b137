"""The record of a whole song of elements: complete, finite, with a reason for everything that is missing."""

import math
from dataclasses import fields, is_dataclass
from typing import Any

import numpy as np
import pytest

from features.elements.identity import Identity
from features.elements.measure import measure_elements
from features.elements.meter import trace_of
from features.records.elements import Elements, Mixture
from features.sound.signal import Samples
from features.tone.target import general_target
from tests import signals

RATE_HZ = signals.RATE_HZ
MIXTURE = Mixture(0.0, 0.0, None, None, None, "The stems are the mix.")
TARGET = general_target().record


def measured(stems: dict[str, tuple[Identity, Samples]], rest: Samples | None = None, channels: int = 2) -> Elements:
    total = sum((samples if channels == 2 else samples[:1] for _, samples in stems.values()), np.zeros((channels, 1), np.float32))
    mix = np.asarray(total if rest is None else total + rest, np.float32)
    traces = {name: trace_of(signals.signal(samples)) for name, (_, samples) in stems.items()}
    rest_trace = None if rest is None else trace_of(signals.signal(rest))
    identities = [identity for identity, _ in stems.values()]
    return measure_elements(identities, traces, trace_of(signals.signal(mix)), rest_trace, TARGET, {"pad": -2.0}, mixture=MIXTURE)


def song(duration_s: float = 6.0) -> dict[str, tuple[Identity, Samples]]:
    voice = signals.mono(signals.pink_wave(duration_s, RATE_HZ, -20.0, 3, 300, 3000))
    chord = signals.stereo(0.2 * signals.chord_wave(duration_s))
    return {
        "drums": (Identity("drums", "drums", "drums", "name", 2, RATE_HZ), signals.drums(duration_s)),
        "pad": (Identity("pad", "pad", "music", "sound", 2, RATE_HZ, 0.01, -3.0), chord),
        "pad copy": (Identity("pad copy", "pad", "music", "sound", 2, RATE_HZ, copy_of="pad"), chord),
        "voice": (Identity("voice", "vocal", "vocals", "you", 1, RATE_HZ), voice),
        "empty": (Identity("empty", "synth", "music", "name", 2, RATE_HZ, silent=True), signals.silence(duration_s)),
    }  # fmt: skip


def numbers(record: Any) -> list[float]:  # noqa: ANN401 - walks any record
    if is_dataclass(record):
        return [number for record_field in fields(record) for number in numbers(getattr(record, record_field.name))]
    if isinstance(record, tuple):
        return [number for entry in record for number in numbers(entry)]
    return [record] if isinstance(record, float) else []


def missing(record: Elements) -> set[str]:
    absent = {name for name in ("closeness_db", "lead", "lead_lu") if getattr(record, name) is None}
    for element in record.elements:
        for part in ("level", "masking", "level_plan"):
            for part_field in fields(getattr(element, part)):
                if getattr(getattr(element, part), part_field.name) is None:
                    absent.add(f"elements.{element.name}.{part}.{part_field.name}")
    return absent


def test_a_whole_song() -> None:
    elements = measured(song())
    assert [element.name for element in elements.elements] == list(song())
    assert elements.main == ("drums", "pad", "voice")
    assert elements.lead == "voice"
    assert elements.elements[1].offset_s == 0.01
    assert elements.elements[1].level_plan.since_earlier_db == -2.0
    assert elements.elements[2].copy_of == "pad"
    assert elements.elements[4].silent
    assert elements.named("empty") is elements.elements[4]


@pytest.mark.parametrize("duration_s", [0.0, 0.001, 0.3, 2.0])
@pytest.mark.parametrize("channels", [1, 2])
def test_every_number_is_finite_and_every_gap_has_its_reason(duration_s: float, channels: int) -> None:
    stems = song(3.0)
    count = round(duration_s * RATE_HZ)
    cut = {name: (identity, samples[:channels, :count]) for name, (identity, samples) in stems.items()}
    elements = measured(cut, channels=channels)
    assert all(math.isfinite(number) for number in numbers(elements))
    assert {absence.field for absence in elements.absent} == missing(elements)


@pytest.mark.parametrize("rate_hz", [8000, 192000])
def test_rates_at_both_ends(rate_hz: int) -> None:
    sounds = {"drums": signals.drums(3.0, rate_hz), "pad": signals.stereo(0.2 * signals.chord_wave(3.0, rate_hz))}
    identities = [Identity("drums", "drums", "drums", "name", 2, rate_hz), Identity("pad", "pad", "music", "name", 2, rate_hz)]
    traces = {name: trace_of(signals.signal(samples, rate_hz)) for name, samples in sounds.items()}
    mix = trace_of(signals.signal(sounds["drums"] + sounds["pad"], rate_hz))
    elements = measure_elements(identities, traces, mix, None, TARGET, mixture=MIXTURE)
    reference = measured({name: (identity, samples) for name, (identity, samples) in song(3.0).items() if name in sounds})
    for element, other in zip(elements.elements, reference.elements, strict=True):
        assert all(math.isfinite(number) for number in numbers(element))
        assert element.level.in_mix_lu == pytest.approx(other.level.in_mix_lu, abs=1.0)
        assert element.masking.audible_share == pytest.approx(other.masking.audible_share, abs=0.1)


def test_silence_says_that_it_is_silent() -> None:
    reasons = {absence.field: absence.reason for absence in measured(song()).absent}
    assert reasons["elements.empty.level.integrated_lufs"] == "the stem is silent"
    assert reasons["elements.empty.masking.audible_share"] == "the stem is silent"
    assert reasons["elements.voice.level.pan_db"] == "the stem is mono"


def test_a_copy_is_judged_with_its_original_and_neither_covers_the_other() -> None:
    elements = measured(song())
    pad, copy = elements.elements[1], elements.elements[2]
    assert pad.masking == copy.masking
    assert {cover.by for cover in pad.masking.covered_by} <= {"drums", "voice"}
    stems = song()
    chord = stems["pad"][1]
    single = measured({"pad": (stems["pad"][0], 2 * chord), "voice": stems["voice"]})
    double = measured({"pad": (stems["pad"][0], chord), "pad copy": (stems["pad copy"][0], chord), "voice": stems["voice"]})
    assert double.elements[0].masking.audible_share == pytest.approx(single.elements[0].masking.audible_share, abs=1e-6)


def test_what_the_stems_do_not_hold_masks_too() -> None:
    rest = signals.pink(6.0, rms_dbfs=-6.0, seed=8)
    alone, buried = measured(song()).named("pad"), measured(song(), rest).named("pad")
    assert alone is not None
    assert buried is not None
    assert alone.masking.audible_share is not None
    assert buried.masking.audible_share is not None
    assert buried.masking.audible_share < alone.masking.audible_share - 0.2


def test_no_elements_at_all() -> None:
    mix = trace_of(signals.signal(signals.pink(1.0)))
    elements = measure_elements((), {}, mix, None, TARGET)
    assert elements.elements == ()
    assert {absence.field for absence in elements.absent} == {"closeness_db", "lead", "lead_lu"}
