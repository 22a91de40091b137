"""Who hides whom: pads that overlap, a bass beside a kick, and what must hold for any sounds."""

from itertools import pairwise

import numpy as np
import pytest

from features.elements.masking.covers import measure_masking
from features.elements.masking.masking import audible_shares, mask
from features.elements.meter import ElementTrace, trace_of
from features.records.elements import ElementMasking
from features.sound.signal import Samples
from tests import signals

RATE_HZ = signals.RATE_HZ
SECONDS = 8.0


def traced(samples: Samples, rate_hz: int = RATE_HZ) -> ElementTrace:
    return trace_of(signals.signal(samples, rate_hz))


def band(low_hz: float, high_hz: float, rms_dbfs: float, seed: int, rate_hz: int = RATE_HZ) -> Samples:
    return signals.mono(signals.pink_wave(SECONDS, rate_hz, rms_dbfs, seed, low_hz, high_hz, 0.0))


def judged(**elements: ElementTrace) -> dict[str, ElementMasking]:
    names = tuple(elements)
    return dict(zip(names, measure_masking(mask(list(elements.values())), names), strict=True))


def test_of_two_pads_that_overlap_the_softer_is_covered_in_the_shared_band() -> None:
    maskings = judged(
        soft=traced(band(300, 1200, -32, 1)),
        loud=traced(band(700, 3000, -16, 2)),
        far=traced(band(7000, 10000, -20, 3)),
    )
    cover = maskings["soft"].covered_by[0]
    assert cover.by == "loud"
    assert 600 < cover.band_hz[0] < 850
    assert 1000 < cover.band_hz[1] < 1500
    assert cover.excess_db > 6
    # Free are 5 of its 9 Cam (300-700 Hz), less one into which the loud one spreads, and the upper ones are louder: somewhat under 0.45.
    assert maskings["soft"].audible_share == pytest.approx(0.42, abs=0.08)
    assert all(cover.by != "far" or cover.share < 0.05 for cover in maskings["soft"].covered_by)
    assert maskings["loud"].audible_share == pytest.approx(1.0, abs=0.05)
    assert maskings["far"].audible_share == pytest.approx(1.0, abs=0.02)


@pytest.mark.parametrize("essential", [True, False])
def test_a_band_is_essential_when_it_carries_the_cover(*, essential: bool) -> None:
    main, other = (-14, -26) if essential else (-26, -14)
    loud = band(700, 1400, main, 2) + band(2500, 6000, other, 3)
    cover = judged(soft=traced(band(700, 1400, -38, 1)), loud=traced(loud))["soft"].covered_by[0]
    assert cover.essential == essential


def test_excess_is_the_difference_of_the_levels() -> None:
    maskings = judged(soft=traced(band(500, 2000, -40, 1)), loud=traced(band(500, 2000, -20, 2)))
    assert maskings["soft"].covered_by[0].excess_db == pytest.approx(20.0, abs=1.0)
    assert maskings["soft"].audible_share == pytest.approx(0.0, abs=0.01)


def test_a_bass_away_from_the_kick_is_not_accused() -> None:
    times = signals.beat_times(SECONDS)
    kick = signals.placed(signals.kick_wave(), times, SECONDS)
    near, away = band(40, 110, -18, 4), band(250, 700, -18, 4)
    free = judged(kick=traced(signals.mono(kick)), bass=traced(away))
    assert free["kick"].audible_share is not None
    assert free["kick"].audible_share > 0.85
    assert free["bass"].audible_share is not None
    assert free["bass"].audible_share > 0.95
    fight = judged(kick=traced(signals.mono(0.2 * kick)), bass=traced(near))
    assert fight["kick"].covered_by[0].by == "bass"
    assert fight["kick"].covered_by[0].band_hz[1] < 250


def test_a_third_element_is_not_blamed_for_what_another_hides() -> None:
    maskings = judged(a=traced(band(400, 900, -40, 1)), b=traced(band(400, 900, -20, 2)), c=traced(band(4000, 9000, -14, 3)))
    assert [cover.by for cover in maskings["a"].covered_by] == ["b"]


def test_blame_is_shared_by_what_each_contributes() -> None:
    maskings = judged(a=traced(band(400, 900, -40, 1)), b=traced(band(400, 900, -20, 2)), c=traced(band(400, 900, -26, 3)))
    first, second = maskings["a"].covered_by
    assert (first.by, second.by) == ("b", "c")
    assert first.share / second.share == pytest.approx(10**0.6, rel=0.25)  # 6 dB of power


def test_a_quieter_element_is_heard_less_and_the_others_more() -> None:
    tracks = [
        traced(signals.mono(0.3 * signals.chord_wave(SECONDS))),
        traced(signals.pink(SECONDS, rms_dbfs=-24.0)),
        traced(signals.drums(SECONDS)),
        traced(band(200, 4000, -26, 9)),
    ]
    for element in range(len(tracks)):
        gains = [[gain if number == element else 0.0 for number in range(len(tracks))] for gain in (-12.0, -9.0, -6.0, -3.0, 0.0, 3.0, 6.0)]
        shares = np.array([audible_shares(tracks, None, gain) for gain in gains])
        assert (np.diff(shares[:, element]) > 0).all()
        assert (np.diff(np.delete(shares, element, axis=1), axis=0) <= 1e-12).all()


def test_equal_unrelated_noises_are_both_heard() -> None:
    """The sum of the others stands 0 dB over each, and the threshold lies 4 dB below it."""
    shares = audible_shares([traced(band(500, 3000, -20, 1)), traced(band(500, 3000, -20, 2))])
    for share in shares:
        assert share is not None
        assert 0.9 < share <= 1.0


@pytest.mark.parametrize(("over_db", "share"), [(4.0, 1.0), (-4.0, 0.5), (-12.0, 0.0)])
def test_the_threshold_lies_4_db_below_the_others(over_db: float, share: float) -> None:
    """Half is heard 4 dB below (`features.hearing.masking`); noise wavers from frame to frame, which blurs the step a little."""
    audible = audible_shares([traced(band(300, 6000, -30 + over_db, 1)), traced(band(300, 6000, -30, 2))])
    assert audible[0] == pytest.approx(share, abs=0.08)


def test_what_has_just_sounded_still_masks() -> None:
    burst = np.zeros(round(SECONDS * RATE_HZ))
    soft = np.zeros_like(burst)
    noise = signals.white_wave(SECONDS, RATE_HZ, -12.0)
    for second in range(1, 7):
        at = second * RATE_HZ
        burst[at : at + 9600] = noise[at : at + 9600]
        soft[at + 14400 : at + 15400] = 0.02 * noise[:1000]  # 100 ms after the burst's end
        soft[at + 33600 : at + 34600] = 0.02 * noise[:1000]  # half a second after it
    masked = mask([traced(signals.mono(soft)), traced(signals.mono(burst))])
    half = masked.audible_loudness[:, 0].sum() / masked.loudness[:, 0].sum()
    assert 0.4 < half < 0.9


def test_in_the_pauses_of_the_others_only_what_clears_the_quiet_of_a_room_is_heard() -> None:
    """That lies 55 dB below the loud moments in each band: 25 dB below them is heard between the bursts, 65 dB below is not."""
    loud, steady = band(500, 4000, -14, 1), band(500, 4000, -14, 2)
    loud[:, 2 * RATE_HZ : 6 * RATE_HZ] = 0.0
    others = traced(loud)
    near, far = (audible_shares([traced(steady), others], None, [gain, 0.0])[0] for gain in (-25.0, -65.0))
    assert near == pytest.approx(0.5, abs=0.1)
    assert far is not None
    assert far < 0.05


def test_the_rest_masks_and_is_not_named() -> None:
    soft, rest = traced(band(500, 2000, -40, 1)), traced(band(500, 2000, -20, 2))
    masked = mask([soft], rest)
    assert measure_masking(masked, ("soft",))[0].covered_by == ()
    assert masked.shares()[0] == pytest.approx(0.0, abs=0.01)


def test_sounds_on_opposite_sides_hide_each_other_less() -> None:
    soft, loud = band(500, 2000, -27, 1)[0], band(500, 2000, -20, 2)[0]
    nothing = np.zeros_like(soft)
    middle = audible_shares([traced(signals.stereo(soft)), traced(signals.stereo(loud))])[0]
    apart = audible_shares([traced(signals.stereo(2**0.5 * soft, nothing)), traced(signals.stereo(nothing, 2**0.5 * loud))])[0]
    swapped = audible_shares([traced(signals.stereo(nothing, 2**0.5 * soft)), traced(signals.stereo(2**0.5 * loud, nothing))])[0]
    assert middle is not None
    assert apart is not None
    assert apart > middle + 0.3
    assert swapped == apart


def test_mono_and_the_same_in_both_channels_are_one() -> None:
    soft, loud = band(500, 2000, -24, 1), band(700, 3000, -20, 2)
    mono = audible_shares([traced(soft), traced(loud)])
    mixed = audible_shares([traced(soft), traced(signals.stereo(loud[0]))])
    assert mono == mixed


def test_the_gain_of_the_whole_plays_no_role() -> None:
    soft, loud = band(500, 2000, -24, 1), band(700, 3000, -20, 2)
    element_maskings = measure_masking(mask([traced(soft), traced(loud)]), ("soft", "loud"))
    other = measure_masking(mask([traced(soft), traced(loud)], None, [-20.0, -20.0]), ("soft", "loud"))
    quiet = measure_masking(mask([traced(0.1 * soft), traced(0.1 * loud)]), ("soft", "loud"))
    for again in (other, quiet):
        assert again[0].audible_share == pytest.approx(element_maskings[0].audible_share, abs=1e-4)
        assert again[0].covered_by[0].band_hz == element_maskings[0].covered_by[0].band_hz
        assert again[0].covered_by[0].excess_db == pytest.approx(element_maskings[0].covered_by[0].excess_db, abs=0.01)


def test_rates_agree() -> None:
    shares = []
    for rate_hz in (44100, 48000, 96000):
        chord = signals.mono(0.1 * signals.chord_wave(SECONDS, rate_hz))
        shares.append(audible_shares([traced(chord, rate_hz), traced(signals.drums(SECONDS, rate_hz)[:1], rate_hz)]))
    for share, other in pairwise(shares):
        assert share == pytest.approx(other, abs=0.03)


def test_buried_moments_are_where_the_cover_plays() -> None:
    duration_s = 30.0
    soft = signals.mono(signals.pink_wave(duration_s, RATE_HZ, -34, 1, 400, 1600, 0.0))
    loud = signals.mono(signals.pink_wave(duration_s, RATE_HZ, -16, 2, 400, 1600, 0.0))
    loud[:, : 10 * RATE_HZ] = 0.0
    loud[:, 20 * RATE_HZ :] = 0.0
    masking = measure_masking(mask([traced(soft), traced(loud)]), ("soft", "loud"))[0]
    first = masking.buried[0]
    assert first.start_s > 9.0
    assert first.end_s < 21.0
    assert first.value < 0.1
    assert 8.0 < masking.covered_by[0].where.start_s < 18.0
    assert all(8.0 < moment.start_s < 20.0 for moment in masking.buried)


@pytest.mark.parametrize("frames", [0, 1, 500])
def test_silence_and_very_short_sounds(frames: int) -> None:
    traces = [traced(np.zeros((1, frames), np.float32)), traced(np.full((2, frames), 0.5, np.float32))]
    silent, short = measure_masking(mask(traces), ("silent", "short"))
    assert silent == ElementMasking(None, (), ())
    assert short.audible_share == (None if frames == 0 else pytest.approx(1.0))
    assert short.covered_by == ()


def test_only_elements_give_an_excerpt_its_loud_moments() -> None:
    """Judged by the whole song's loud moments, a quiet excerpt of an element weighs little and is still judged."""
    soft, loud = traced(band(500, 2000, -40, 1)), traced(band(500, 2000, -20, 2))
    masked = mask([soft, loud], None, None, [10**-2.5, 10**-2.0])
    assert masked.loudness[:, 0].sum() < mask([soft, loud]).loudness[:, 0].sum()
