"""Roles from names in several languages and spellings, and from the sound where the name says nothing."""

import numpy as np
import pytest

from advisor.stems.roles import GROUP_OF, GROUPS, guess, role_by_name, role_by_sound, traits, words_of
from features.mixture.stem_products import Sketch, StemProductsMeter
from features.records.elements import Role
from features.sound.signal import Samples
from tests import signals
from tests.sounds import stem_song

RATE_HZ = stem_song.RATE_HZ


def sketch(sound: Samples, rate_hz: int = RATE_HZ) -> Sketch:
    meter = StemProductsMeter(rate_hz, [sound.shape[0]])
    meter.push([sound])
    return meter.finish().sketches[0]


@pytest.mark.parametrize(
    ("name", "role"),
    [
        ("kick", "kick"), ("01 Kick In", "kick"), ("BD_909", "kick"), ("bass drum", "kick"), ("BassDrum", "kick"), ("KickDrum-dry", "kick"),
        ("snareclap", "snare"), ("SN top", "snare"), ("Claps 2", "snare"), ("hihat", "hats"), ("Hi-Hat", "hats"), ("HH_closed", "hats"),
        ("Crash+Ride", "hats"), ("hats-perc", "hats"), ("cymbals", "hats"), ("conga L", "percussion"),
        ("PercLoop", "percussion"), ("toms", "percussion"),
        ("Drums", "drums"), ("drum_loop", "drums"), ("Schlagzeug", "drums"), ("top loop 3", "drums"),
        ("bass", "bass"), ("Sub", "bass"), ("808", "bass"), ("TR808bass", "bass"), ("synthBass", "bass"),
        ("E-Bass", "bass"), ("basse", "bass"),
        ("vox", "vocal"), ("LeadVox_comp", "vocal"), ("Lead Vocal", "vocal"), ("Gesang", "vocal"), ("voz principal", "vocal"),
        ("BV stack", "backing vocal"), ("choir", "backing vocal"), ("bgv 1", "backing vocal"), ("Backing Vox", "backing vocal"),
        ("lead", "lead"), ("Synth Lead", "lead"), ("flute", "lead"), ("Lead Guitar", "guitar"),
        ("GTR_L", "guitar"), ("ac.gitarre", "guitar"),
        ("Rhodes", "keys"), ("Piano 1", "keys"), ("Klavier", "keys"), ("organ", "keys"), ("violins", "strings"), ("Streicher", "strings"),
        ("pad", "pad"), ("pads-keys", "pad"), ("synths", "synth"), ("Arp 2", "synth"), ("pluck", "synth"),
        ("fx", "effects"), ("Riser_8bar", "effects"), ("noise sweep", "effects"), ("SFX impact", "effects"),
    ],
)  # fmt: skip
def test_names(name: str, role: Role) -> None:
    assert role_by_name(name) == role


@pytest.mark.parametrize("name", ["inst3", "Track 07", "i4-til-today", "audio_0012", "untitled", "", "Sandra", "absolute", "hello"])
def test_names_that_say_nothing(name: str) -> None:
    assert role_by_name(name) is None


def test_words() -> None:
    assert words_of("03-KickIN_v2 (808)") == ["kick", "in", "v", "808"]
    assert words_of("BVStack") == ["bv", "stack"]


def test_every_role_has_a_group() -> None:
    assert set(GROUP_OF.values()) == set(GROUPS)


@pytest.mark.parametrize(
    ("element", "role"),
    [("kick", "kick"), ("snare", "drums"), ("hats", "hats"), ("bassline", "bass"), ("pad", "other"), ("vox", "other"), ("pluck", "other")],
)
@pytest.mark.parametrize("rate_hz", [44100, 48000, 96000])
def test_sounds(element: str, role: Role, rate_hz: int) -> None:
    assert role_by_sound(sketch(stem_song.stems(rate_hz=rate_hz)[element], rate_hz)) == role


def test_a_whole_kit_is_drums() -> None:
    assert role_by_sound(sketch(signals.drums(8.0, RATE_HZ))) == "drums"


def test_the_level_does_not_matter_and_silence_is_nothing() -> None:
    kick = stem_song.stems()["kick"]
    loud, soft = traits(sketch(kick)), traits(sketch(kick * np.float32(0.01)))
    assert loud is not None
    assert soft is not None
    assert soft.fall_db == pytest.approx(loud.fall_db, abs=0.01)
    assert traits(sketch(signals.silence(1.0))) is None
    assert role_by_sound(sketch(signals.silence(1.0))) == "other"


def test_the_name_goes_first() -> None:
    kick = sketch(stem_song.stems()["kick"])
    assert guess("inst3", kick) == ("kick", "sound")
    assert guess("my pad", kick) == ("pad", "name")
