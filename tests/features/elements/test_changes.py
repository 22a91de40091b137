"""What was done to an element is read off its fingerprints: to 0.1 dB for a fader, whatever else was done."""

from dataclasses import replace

import numpy as np
import pytest

from features.elements.changes import SoundChange, change_between, lag_steps, match
from features.elements.fingerprint import Fingerprint, fingerprint_of
from features.elements.meter import trace_of
from features.processors.equalisers import eq
from features.processors.placement.pan import pan
from features.sound.signal import Samples, Signal
from tests import signals
from tests.sounds import stem_song

RATE_HZ = stem_song.RATE_HZ
STEMS = stem_song.stems()


def printed(name: str, sound: Samples) -> Fingerprint:
    return fingerprint_of(name, trace_of(Signal(np.ascontiguousarray(sound, np.float32), RATE_HZ)))


PRINTS = [printed(name, sound) for name, sound in STEMS.items()]


def change(name: str, sound: Samples, lag: int = 0) -> SoundChange:
    return change_between(printed(name, STEMS[name]), printed(name, sound), lag)


@pytest.mark.parametrize("name", STEMS)
@pytest.mark.parametrize("gain_db", [-12.0, -6.0, -1.0, 1.0, 3.0, 12.0])
def test_a_fader_is_told_to_a_tenth_of_a_decibel(name: str, gain_db: float) -> None:
    read = change(name, STEMS[name] * np.float32(signals.amplitude(gain_db)))
    assert read.fader_db == pytest.approx(gain_db, abs=0.1)
    assert (read.bands, read.same_performance) == ((), True)
    assert abs(read.pan_db) < 0.1
    assert read.uneven_db < 0.2


@pytest.mark.parametrize("name", STEMS)
def test_what_nobody_touched_is_untouched(name: str) -> None:
    read = change(name, STEMS[name])
    assert (read.fader_db, read.pan_db, read.bands) == (0.0, 0.0, ())


@pytest.mark.parametrize("name", ["snare", "pad", "vox", "pluck"])
@pytest.mark.parametrize("pan_db", [-6.0, 4.0])
def test_a_pan_is_no_fader(name: str, pan_db: float) -> None:
    read = change(name, pan(Signal(STEMS[name], RATE_HZ), pan_db).samples)
    assert read.pan_db == pytest.approx(pan_db, abs=0.1)
    assert read.fader_db == pytest.approx(0.0, abs=0.1)


@pytest.mark.parametrize(("name", "hz"), [("snare", 2000.0), ("hats", 6000.0)])
def test_an_equaliser_is_told_beside_the_fader(name: str, hz: float) -> None:
    bell = eq.bell(Signal(STEMS[name], RATE_HZ), hz, -6.0, 1.0).samples
    read = change(name, bell * np.float32(signals.amplitude(2.0)))
    assert read.fader_db == pytest.approx(2.0, abs=0.35)
    assert read.bands[0].change_db == pytest.approx(-6.0, abs=0.6)
    assert read.bands[0].low_hz < hz < read.bands[0].high_hz


def test_automation_shows_as_uneven() -> None:
    gain = np.where(np.arange(STEMS["pad"].shape[1]) > STEMS["pad"].shape[1] // 2, np.float32(2.0), np.float32(1.0))
    assert change("pad", STEMS["pad"] * gain).uneven_db > 4.0


def test_another_performance_is_not_the_same() -> None:
    assert not change("pluck", STEMS["vox"]).same_performance


def test_renamed_elements_are_known_by_their_sound() -> None:
    names = {"kick": "BD 1", "snare": "Sn", "hats": "HH", "bassline": "low", "pad": "warm", "pluck": "seq", "vox": "lead"}
    later = [replace(element, name=names[element.name]) for element in reversed(PRINTS)]
    pairs = match(PRINTS, later, 0)
    assert {PRINTS[old].name: later[new].name for old, new in pairs} == names


def test_swapped_names_go_by_the_sound() -> None:
    swap = {"pad": "pluck", "pluck": "pad"}
    names = {element.name: swap.get(element.name, element.name) for element in PRINTS}
    later = [replace(element, name=swap.get(element.name, element.name)) for element in PRINTS]
    assert {PRINTS[old].name: later[new].name for old, new in match(PRINTS, later, 0)} == names


def test_a_new_element_is_nobodys_and_a_lost_one_too() -> None:
    assert len(match(PRINTS[:3], PRINTS[3:], 0)) == 0
    assert match([], PRINTS, 0) == ()


def test_a_bounce_that_starts_later_is_lined_up() -> None:
    late = [printed(name, np.pad(sound, ((0, 0), (RATE_HZ, 0)))) for name, sound in STEMS.items()]
    lag = lag_steps(PRINTS, late)
    assert lag == 5
    read = change_between(PRINTS[0], late[0], lag)
    assert read.same_performance
    assert lag_steps(PRINTS, PRINTS) == 0
