"""Every remedy says what to move, where and by how much, with the settings it really has."""

import pytest

from advisor.remedies.discovery import all_kinds
from advisor.remedies.phrases import bandwidth_octaves
from advisor.remedies.wording import remedy_sentence
from rules.remedy import Remedy


def test_every_kind_has_words() -> None:
    for name in all_kinds():
        assert remedy_sentence(Remedy(name)).strip()


@pytest.mark.parametrize(("q", "octaves"), [(1.4142, 1.0), (0.6667, 2.0), (4.318, 1 / 3)])
def test_width_follows_q(q: float, octaves: float) -> None:
    # Q to octaves: the usual conversion, for example 1.41 = one octave, 4.32 = a third (common practice tables)
    assert bandwidth_octaves(q) == pytest.approx(octaves, abs=0.01)


@pytest.mark.parametrize(
    ("remedy", "parts"),
    [
        (Remedy("bell", "sustained", 250.0, -2.5, 1.4), ("Cut 2.5 dB", "250 Hz", "an octave wide", "the sustained sounds")),
        (Remedy("gain", "percussive", gain_db=3.0), ("Turn the drums", "up 3.0 dB")),
        (Remedy("low_shelf", frequency_hz=60.0, gain_db=-4.0), ("Cut 4.0 dB", "below 60 Hz")),
        (Remedy("high_pass", frequency_hz=30.0, order=2), ("30 Hz", "12 dB per octave")),
        (
            Remedy("compressor", "kick", threshold_dbfs=-22.4, ratio=4.0, attack_ms=30.0, release_ms=100.0),
            ("'kick'", "4:1", "-22.4 dBFS", "30 ms", "100 ms"),
        ),
        (Remedy("compressor", threshold_dbfs=-20.0, gain_db=1.5), ("2:1", "30 ms", "100 ms", "knee 6 dB", "+1.5 dB of make-up")),
        (Remedy("dynamic_bell", frequency_hz=3200.0, gain_db=-4.0, threshold_dbfs=-31.6), ("3.2 kHz", "-31.6 dBFS", "4:1", "4.0 dB")),
        (Remedy("parallel", threshold_dbfs=-30.0, ratio=4.0), ("4:1", "10.0 dB under")),
        (Remedy("high_shelf", frequency_hz=4000.0, gain_db=2.0, q=0.7), ("above 4 kHz", "half of it at 4 kHz", "Q 0.7")),
        (Remedy("peak_limiter", ceiling_dbfs=-7.2), ("-7.2 dBFS",)),
        (Remedy("delay", "right", delay_ms=-0.5), ("earlier", "0.50 ms")),
        (Remedy("gain", "pad", gain_db=-3.0), ("Turn 'pad' down 3.0 dB",)),
        (Remedy("pan", "keys", gain_db=6.0), ("Pan 'keys' to the right", "6.0 dB")),
        (Remedy("pan", "keys", gain_db=-6.0), ("Pan 'keys' to the left", "6.0 dB")),
        (Remedy("high_pass", "pad", frequency_hz=90.0, order=2), ("90 Hz", "12 dB per octave", "on 'pad'")),
        (Remedy("polarity", "bass"), ("polarity of 'bass'",)),
        (Remedy("peak_limiter", "drums", ceiling_dbfs=-7.0), ("-7.0 dBFS", "on all of 'drums'")),
        (
            Remedy("dynamic_bell", "bass", 60.0, -4.0, 1.4, key="kick"),
            ("Dip 'bass' 4.0 dB around 60 Hz whenever 'kick' sounds (sidechained dynamic EQ",),
        ),
        (Remedy("none", "snare"), ("Nothing", "earlier state of 'snare'")),
    ],
)
def test_sentence_states_the_settings(remedy: Remedy, parts: tuple[str, ...]) -> None:
    text = remedy_sentence(remedy)
    assert all(part in text for part in parts), text
