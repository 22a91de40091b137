"""Elements with remedies in place sum as a console would: elements, then groups, then the mix."""

from pathlib import Path

import numpy as np
import pytest
import soundfile

from advisor.app.progress import Quiet
from advisor.remedies import apply as apply_module
from advisor.remedies.apply import apply
from advisor.stems import stack as stack_module
from advisor.stems.folder import open_stems
from advisor.stems.stack import SignalCache, Stack, StackSource, read_stack
from features.records.base import Span
from features.sound.load import open_source
from features.sound.signal import Signal
from rules.remedy import Remedy
from tests import signals

RATE_HZ = 22050
SECONDS = 3.0
GROUPS = {"drums": ("kick", "hats"), "bass": ("bass",)}
BELL = Remedy("bell", "bass", frequency_hz=100.0, gain_db=-4.0, q=1.0)
GLUE = Remedy("compressor", "drums", threshold_dbfs=-24.0, ratio=4.0, attack_ms=10.0, release_ms=100.0)
DIP = Remedy("dynamic_bell", "bass", frequency_hz=60.0, gain_db=-6.0, q=0.7, key="kick", threshold_dbfs=-30.0)


def noise(seed: int, channels: int = 2, seconds: float = SECONDS) -> Signal:
    generator = np.random.default_rng(seed)
    swell = 0.1 + 0.08 * np.sin(2 * np.pi * 1.5 * np.arange(int(seconds * RATE_HZ)) / RATE_HZ)
    return Signal((swell * generator.normal(size=(channels, swell.size))).astype(np.float32), RATE_HZ)


@pytest.fixture
def stack() -> Stack:
    return Stack({"kick": noise(1), "hats": noise(2, 1), "bass": noise(3)}, GROUPS, noise(4))


def test_without_remedies_it_is_the_plain_sum(stack: Stack) -> None:
    assert stack.rest is not None
    parts = [sound.samples for sound in stack.parts.values()]
    assert np.allclose(stack.mixdown().samples, sum(parts) + stack.rest.samples, atol=1e-6)


def test_an_element_remedy_works_on_the_element_alone(stack: Stack) -> None:
    moved = stack.with_remedy(BELL)
    assert np.array_equal(moved.element("bass").samples, apply(BELL, stack.parts["bass"]).samples)
    assert moved.element("kick") is stack.parts["kick"]
    change = moved.mixdown().samples - stack.mixdown().samples
    assert np.allclose(change, moved.element("bass").samples - stack.parts["bass"].samples, atol=1e-6)


def test_a_group_is_treated_as_one_sound(stack: Stack) -> None:
    louder = Remedy("gain", "kick", gain_db=3.0)
    moved = stack.with_remedy(GLUE).with_remedy(louder)
    together = Signal(moved.element("kick").samples + moved.element("hats").samples, RATE_HZ)
    assert np.allclose(moved.group("drums").samples, apply(GLUE, together).samples, atol=1e-6)
    assert moved.element("kick").samples == pytest.approx(stack.parts["kick"].samples * 10 ** (3 / 20), rel=1e-5)
    assert stack.rest is not None
    whole = moved.group("drums").samples + stack.parts["bass"].samples + stack.rest.samples
    assert np.allclose(moved.mixdown().samples, whole, atol=1e-6)


def test_a_groups_fader_moves_its_elements_and_nothing_twice(stack: Stack) -> None:
    softer = Remedy("gain", "drums", gain_db=-6.0)
    moved = stack.with_remedy(softer).with_remedy(GLUE)
    assert np.array_equal(moved.in_group("kick").samples, apply(softer, stack.parts["kick"]).samples)
    assert moved.in_group("kick") is moved.in_group("kick"), "kept"
    assert moved.in_group("bass") is stack.parts["bass"]
    gone = stack.mixdown().samples - stack.with_remedy(softer).mixdown().samples
    assert np.allclose(gone, stack.group("drums").samples * (1 - 10 ** (-6 / 20)), atol=1e-6)


def test_a_group_of_one_element_called_alike_is_treated_once(stack: Stack) -> None:
    softer = Remedy("gain", "bass", gain_db=-6.0)
    gone = stack.mixdown().samples - stack.with_remedy(softer).mixdown().samples
    assert np.allclose(gone, stack.parts["bass"].samples * (1 - 10 ** (-6 / 20)), atol=1e-6)


def test_what_names_no_element_works_on_the_whole_mix(stack: Stack) -> None:
    steps = (Remedy("high_pass", frequency_hz=40.0, order=2), Remedy("side_gain", "side", gain_db=-3.0))
    whole = stack.mixdown()
    for step in steps:
        whole = apply(step, whole)
    assert np.array_equal(stack.with_remedy(steps[0]).with_remedy(steps[1]).mixdown().samples, whole.samples)


def test_an_unknown_element_is_refused(stack: Stack) -> None:
    with pytest.raises(ValueError, match="no such element or group"):
        stack.with_remedy(Remedy("gain", "basss", gain_db=1.0)).mixdown()
    with pytest.raises(ValueError, match="keyed by “kik”"):
        stack.with_remedy(Remedy("dynamic_bell", "bass", frequency_hz=60.0, gain_db=-3.0, key="kik")).mixdown()


def test_a_dip_hears_its_key_as_it_is_in_the_mix(stack: Stack) -> None:
    softer = Remedy("gain", "kick", gain_db=-40.0)
    under = stack.with_remedy(DIP)
    assert np.array_equal(under.element("bass").samples, apply(DIP, stack.parts["bass"], stack.parts["kick"]).samples)
    less = under.with_remedy(softer).element("bass").samples
    assert np.array_equal(less, apply(DIP, stack.parts["bass"], under.with_remedy(softer).element("kick")).samples)
    assert float(np.abs(less - stack.parts["bass"].samples).max()) < float(
        np.abs(under.element("bass").samples - stack.parts["bass"].samples).max()
    )


def test_two_elements_may_dip_under_each_other(stack: Stack) -> None:
    back = Remedy("dynamic_bell", "kick", frequency_hz=60.0, gain_db=-6.0, q=0.7, key="bass", threshold_dbfs=-30.0)
    both = stack.with_remedy(DIP).with_remedy(back)
    assert np.array_equal(both.element("kick").samples, apply(back, stack.parts["kick"], stack.parts["bass"]).samples)


def test_a_pan_widens_a_mono_element(stack: Stack) -> None:
    moved = stack.with_remedy(Remedy("pan", "hats", gain_db=6.0)).mixdown().samples - stack.mixdown().samples
    assert float(np.abs(moved[0] - moved[1]).max()) > 0.1


def test_tries_on_one_element_leave_the_others_processed(stack: Stack, monkeypatch: pytest.MonkeyPatch) -> None:
    calls: list[str] = []

    def counted(remedy: Remedy, sound: Signal, key: Signal | None = None) -> Signal:
        calls.append(remedy.part)
        return apply_module.apply(remedy, sound, key)

    monkeypatch.setattr(stack_module, "apply", counted)
    base = stack.with_remedy(GLUE).with_remedy(Remedy("gain", "hats", gain_db=1.0))
    base.mixdown()
    calls.clear()
    for amount in range(1, 6):
        base.with_remedy(Remedy("gain", "bass", gain_db=-float(amount))).mixdown()
    assert calls == ["bass"] * 5
    base.mixdown()
    assert calls == ["bass"] * 5


def test_what_is_kept_stays_within_its_size() -> None:
    cache = SignalCache(3 * noise(1).samples.nbytes)
    for number in range(10):
        cache.put(number, noise(1))
        assert cache.get(number) is not None
    assert len(cache) == 3
    assert cache.get(0) is None


def test_a_song_read_in_chunks_is_the_stack_of_the_whole(tmp_path: Path) -> None:
    seconds = 40.0
    folder = tmp_path / "stems"
    folder.mkdir()
    sounds = {name: noise(seed, channels, seconds) for name, seed, channels in (("kick", 1, 2), ("hats", 2, 1), ("bassline", 3, 2))}
    for name, sound in sounds.items():
        soundfile.write(folder / f"{name}.wav", sound.samples.T, RATE_HZ, "FLOAT")
    hiss = 0.01 * signals.white(seconds, RATE_HZ)[:, : sounds["kick"].frames]
    mix = np.asarray(sum(sound.samples for sound in sounds.values()) + hiss, np.float32)
    soundfile.write(tmp_path / "mix.wav", mix.T, RATE_HZ, "FLOAT")
    remedies = (
        Remedy("bell", "bassline", frequency_hz=100.0, gain_db=-4.0, q=1.0),
        Remedy("compressor", "drums", threshold_dbfs=-24.0, ratio=4.0, attack_ms=10.0, release_ms=100.0),
        Remedy("dynamic_bell", "bassline", frequency_hz=60.0, gain_db=-6.0, q=0.7, key="kick", threshold_dbfs=-30.0),
        Remedy("high_pass", frequency_hz=30.0, order=2),
    )
    with open_source(tmp_path / "mix.wav") as opened, open_stems(folder, opened, Quiet()) as stems:
        whole = read_stack(stems, (Span(0.0, seconds),))
        assert np.allclose(whole.mixdown().samples, mix, atol=1e-6)
        for remedy in remedies:
            whole = whole.with_remedy(remedy)
        source = StackSource(stems, remedies)
        pieces = np.concatenate(list(source.blocks(100_000)), axis=1)
        assert pieces.shape == mix.shape
        assert float(np.abs(pieces - whole.mixdown().samples).max()) < 1e-4
        untouched = np.concatenate(list(StackSource(stems, ()).blocks()), axis=1)
        assert np.allclose(untouched, mix, atol=1e-6)
