"""Levels over noise: thresholds worked out by hand and heard from real noise; faders, main elements and the lead."""

import math

import numpy as np
import pyloudnorm
import pytest

from features.elements.identity import Identity
from features.elements.levels.level_plan import LEAD_LU, Plans, faders_db, noise_bands, over_noise_db, plan_levels, usual_level
from features.elements.levels.levels import measure_level
from features.elements.masking.masking import audible_shares
from features.elements.meter import ElementTrace, trace_of
from features.records.elements import Role
from features.sound.signal import Samples
from features.tone.target import general_target
from tests import signals

RATE_HZ = signals.RATE_HZ
TARGET = general_target().record


def traced(samples: Samples, rate_hz: int = RATE_HZ) -> ElementTrace:
    return trace_of(signals.signal(samples, rate_hz))


def cam(hz: float) -> float:
    return 21.4 * math.log10(1 + 0.00437 * hz)


def hz(number: float) -> float:
    return (10 ** (number / 21.4) - 1) / 0.00437


def excitation_share(number: int) -> float:
    """Which part of a band's power stays in it: 1 over the sum of what all bands spread there (Schroeder 1979), by hand."""
    place = [26.81 * hz(n) / (1960 + hz(n)) - 0.53 for n in range(1, 42)]
    total = 0.0
    for n in range(41):
        d = place[number - 1] - place[n] + 0.474
        total += 10 ** ((15.81 + 7.5 * d - 17.5 * math.sqrt(1 + d * d)) / 10)
    return 1 / total


@pytest.mark.parametrize("number", [8, 15, 24])
def test_a_tone_over_pink_noise_by_hand(number: int) -> None:
    """Pink noise of -20 dB, 20 Hz-20 kHz: its power in a band is ln(high / low) / ln(1000) of that.

    Spreading leaves noise about as it is and takes from the tone what leaves its band; the threshold lies 4 dB below the noise.
    """
    band_db = -20.0 + 10 * math.log10(math.log(hz(number + 0.5) / hz(number - 0.5)) / math.log(1000.0))
    threshold_db = band_db - 4.0 - 10 * math.log10(excitation_share(number))
    lufs = pink_lufs(-20.0)
    tone = traced(signals.sine(hz(number), 4.0, peak_dbfs=threshold_db + 3.01 + 12.0))
    assert over_noise_db(tone, noise_bands(lufs, RATE_HZ, 2)) == pytest.approx(12.0, abs=0.5)


def pink_lufs(rms_dbfs: float) -> float:
    noise = signals.pink(60.0, rms_dbfs=rms_dbfs)
    return float(pyloudnorm.Meter(RATE_HZ).integrated_loudness(noise.T.astype(np.float64)))


def test_the_noise_has_the_loudness_asked_for() -> None:
    noise = signals.pink(30.0, rms_dbfs=-20.0)
    expected = traced(noise).both()[8:-8].mean(axis=0)
    got = noise_bands(pink_lufs(-20.0), RATE_HZ, 2)
    inside = slice(2, 38)
    assert np.abs(10 * np.log10(got[inside] / expected[inside])).max() < 0.7  # few frames make a low band of noise waver
    assert 10 * np.log10(got.sum() / expected.sum()) == pytest.approx(0.0, abs=0.1)


def test_a_tone_brought_down_by_what_was_found_is_half_heard_in_real_noise() -> None:
    """Its strongest band then stands at the threshold that `features.elements.masking.masking` finds from the noise itself."""
    noise = signals.pink(20.0, rms_dbfs=-20.0)
    tone = traced(signals.sine(1051.0, 20.0, peak_dbfs=-10.0))
    over = over_noise_db(tone, noise_bands(pink_lufs(-20.0), RATE_HZ, 2))
    assert over is not None
    steps = np.arange(-2.0, 2.01, 0.25)
    shares = [audible_shares([tone], traced(noise), [step - over])[0] for step in steps]
    louder = audible_shares([tone], traced(noise), [6.0 - over])[0]
    assert louder is not None
    assert louder > 0.5
    # Of the tone's skirts nothing is heard yet, and noise wavers: its own band is heard half the time.
    assert 0.15 < shares[len(steps) // 2] < 0.6  # type: ignore[operator]
    assert shares == sorted(shares)  # type: ignore[type-var]


def test_a_band_of_noise_over_pink_noise() -> None:
    """3 Cam wide, as strong in each as the pink noise is: 0 dB over it, so 4 dB over just audible; its loud moments some dB more."""
    low, high = hz(14.5), hz(17.5)
    level_db = -20.0 + 10 * math.log10(math.log(high / low) / math.log(1000.0))
    element = traced(signals.mono(signals.pink_wave(20.0, RATE_HZ, level_db, 3, low, high)))
    over_db = over_noise_db(element, noise_bands(pink_lufs(-20.0), RATE_HZ, 2))
    assert over_db is not None
    assert 4.0 < over_db < 8.0


def test_gain_counts_decibel_for_decibel() -> None:
    noise = noise_bands(-16.0, RATE_HZ, 2)
    drums = signals.drums(4.0)
    plain_db, halved_db = over_noise_db(traced(drums), noise), over_noise_db(traced(0.5 * drums), noise)
    assert plain_db is not None
    assert halved_db == pytest.approx(plain_db - 6.02, abs=0.01)
    louder_noise = over_noise_db(traced(drums), noise_bands(-10.0, RATE_HZ, 2))
    assert louder_noise == pytest.approx(plain_db - 6.0, abs=0.01)


def test_over_pink_the_treble_needs_more_than_over_the_target() -> None:
    """Pink noise at equal loudness holds more above 4 kHz than songs do: the method's tilt."""
    pink, shaped = noise_bands(-14.0, RATE_HZ, 2), noise_bands(-14.0, RATE_HZ, 2, TARGET)
    difference = 10 * np.log10(pink / shaped)
    assert difference[32] > 3.0  # 7.8 kHz
    assert difference[32] - difference[9] > 6.0  # against 0.4 kHz


@pytest.mark.parametrize("rate_hz", [44100, 96000])
def test_rates_agree(rate_hz: int) -> None:
    element = traced(signals.mono(0.2 * signals.chord_wave(3.0, rate_hz)), rate_hz)
    other = traced(signals.mono(0.2 * signals.chord_wave(3.0)))
    for target in (None, TARGET):
        over_db = over_noise_db(element, noise_bands(-14.0, rate_hz, 2, target))
        assert over_db == pytest.approx(over_noise_db(other, noise_bands(-14.0, RATE_HZ, 2, target)), abs=0.3)


def test_silence_has_no_level_over_noise() -> None:
    assert over_noise_db(traced(signals.silence(1.0)), noise_bands(-14.0, RATE_HZ, 2)) is None


def test_faders_even_out_and_keep_the_sum() -> None:
    over, energy = [12.0, 3.0, None, 6.0, 20.0], np.array([1.0, 0.2, 0.0, 0.5, 0.1])
    changes = faders_db(over, energy, [True, True, True, True, False])
    after = [level + change for level, change in zip(over, changes, strict=True) if level is not None and change is not None]
    assert np.ptp(after) == pytest.approx(0.0, abs=1e-9)
    assert changes[2] is None
    total = sum(energy[n] * 10 ** (changes[n] / 10) for n in (0, 1, 3))  # type: ignore[operator]
    assert total == pytest.approx(1.7)
    assert faders_db([5.0, None], np.ones(2), [True, True]) == (None, None)


def planned(**elements: tuple[Role, Samples]) -> Plans:
    identities = [Identity(name, role, "music", "name", 2, RATE_HZ) for name, (role, _) in elements.items()]
    traces = [traced(samples) for _, samples in elements.values()]
    mix = traced(np.sum([np.broadcast_to(samples, (2, samples.shape[1])) for _, samples in elements.values()], axis=0, dtype=np.float32))
    levels = [measure_level(trace, mix) for trace in traces]
    return plan_levels(identities, traces, levels, mix, TARGET, {"bass": 1.5})


def steady(rms_dbfs: float, seed: int, low_hz: float = 200.0, high_hz: float = 2000.0) -> Samples:
    return signals.stereo(signals.pink_wave(8.0, RATE_HZ, rms_dbfs, seed, low_hz, high_hz))


def test_main_elements_and_how_close_they_lie() -> None:
    short = steady(-20.0, 4)
    short[:, RATE_HZ:] = 0.0
    plans = planned(
        bass=("bass", steady(-20.0, 1)),
        keys=("keys", steady(-26.0, 2)),
        pad=("pad", steady(-29.0, 3)),
        hit=("percussion", short),
        wind=("effects", steady(-20.0, 5)),
        tick=("hats", steady(-40.0, 7, 6000.0, 9000.0)),
        whisper=("synth", steady(-70.0, 6)),
        nothing=("other", signals.silence(8.0)),
    )
    assert plans.main == ("bass", "keys", "pad")
    assert plans.closeness_db == pytest.approx(9.0, abs=0.3)
    assert [round(plan.stands_out_db or 0.0) for plan in plans.plans[:3]] == [6, 0, -3]
    assert plans.plans[0].since_earlier_db == 1.5
    assert plans.plans[1].since_earlier_db is None
    assert plans.plans[4].pink_fader_db is None
    assert plans.plans[7].over_pink_db is None
    assert plans.plans[7].stands_out_db is None
    bass, pad = plans.plans[0].pink_fader_db, plans.plans[2].pink_fader_db
    assert bass is not None
    assert pad is not None
    assert pad - bass == pytest.approx(9.0, abs=1.0)
    assert plans.lead is None


def test_the_lead_is_the_loudest_vocal_or_else_the_lead() -> None:
    sung = planned(a=("vocal", steady(-30.0, 1)), b=("vocal", steady(-20.0, 2)), c=("lead", steady(-16.0, 3)), d=("pad", steady(-20.0, 4)))
    assert sung.lead == "b"
    played = planned(c=("lead", steady(-20.0, 3)), d=("pad", steady(-20.0, 4)))
    assert played.lead == "c"
    assert played.lead_lu == pytest.approx(-3.0, abs=0.3)
    buried = planned(c=("lead", steady(-60.0, 3)), d=("pad", steady(-20.0, 4)))
    assert buried.lead == "c"  # a lead that is hardly there is what one wants to hear of
    assert LEAD_LU[0] < -3.0 < LEAD_LU[1]


def test_usual_levels() -> None:
    """Medians and spreads of 25 hobby multitracks, docs say which; a role without a row has the wider spread."""
    assert usual_level("bass") == (-5.7, 3.6)
    assert usual_level("strings") == usual_level("other") == (-6.6, 6.7)


def test_a_silent_mix_has_no_plan() -> None:
    plans = planned(a=("bass", signals.silence(2.0)), b=("pad", signals.silence(2.0)))
    assert plans.main == ()
    assert plans.closeness_db is None
    assert all(plan.over_pink_db is None and plan.target_fader_db is None for plan in plans.plans)
