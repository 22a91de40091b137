"""Faders moved on paper are the same as stems rendered louder or softer."""

from dataclasses import replace

import numpy as np
import pytest

from features.elements.identity import Identity
from features.elements.levels.at_faders import AtFaders, sounding_as_one, thinned
from features.elements.masking.masking import BLOCK_FRAMES
from features.elements.measure import measure_elements
from features.elements.meter import ElementTrace, trace_of
from features.sound.signal import Samples
from features.tone.target import general_target
from tests import signals

RATE_HZ = signals.RATE_HZ
TARGET = general_target().record
Song = dict[str, tuple[Identity, Samples]]


def song(pad_db: float = 0.0) -> Song:
    chord = signals.stereo(0.2 * 10 ** (pad_db / 20) * signals.chord_wave(6.0))
    voice = signals.mono(signals.pink_wave(6.0, RATE_HZ, -20.0, 3, 300, 3000))
    return {
        "drums": (Identity("drums", "drums", "drums", "name", 2, RATE_HZ), signals.drums(6.0)),
        "pad": (Identity("pad", "pad", "music", "name", 2, RATE_HZ), chord),
        "again": (Identity("again", "pad", "music", "name", 2, RATE_HZ, copy_of="pad"), chord),
        "voice": (Identity("voice", "vocal", "vocals", "name", 1, RATE_HZ), voice),
    }


def traces(made: Song) -> tuple[dict[str, ElementTrace], ElementTrace]:
    mix = np.asarray(sum((samples for _, samples in made.values()), np.zeros((2, 1), np.float32)), np.float32)
    return {name: trace_of(signals.signal(samples)) for name, (_, samples) in made.items()}, trace_of(signals.signal(mix))


@pytest.mark.parametrize("gain_db", [-12.0, 6.0])
def test_a_fader_moved_on_paper_is_a_stem_rendered_so(gain_db: float) -> None:
    made = song()
    identities = [identity for identity, _ in made.values()]
    own, mix = traces(made)
    before = measure_elements(identities, own, mix, None, TARGET).elements
    on_paper = ([element.level for element in before], [element.masking for element in before], [element.level_plan for element in before])
    stand = AtFaders(identities, own, mix, None, on_paper)((0.0, gain_db, 0.0, 0.0))
    rendered = measure_elements(identities, *traces(song(gain_db)), None, TARGET).elements
    for number, element in enumerate(rendered):
        assert stand.shares[number] == pytest.approx(element.masking.audible_share, abs=0.01)
        assert stand.playing_lu[number] == pytest.approx(element.level.while_playing_lu, abs=0.3)  # the sounds are not quite unrelated


def test_with_nothing_moved_all_is_as_it_was_measured() -> None:
    made = song()
    identities = [identity for identity, _ in made.values()]
    own, mix = traces(made)
    before = measure_elements(identities, own, mix, None, TARGET).elements
    stand = AtFaders(identities, own, mix, None, ([element.level for element in before], [element.masking for element in before],
                                                  [element.level_plan for element in before]))((0.0,) * 4)  # fmt: skip
    assert stand.shares == tuple(element.masking.audible_share for element in before)
    assert stand.positions[2] is None, "a copy has no place of its own"


def test_copies_add_up_with_their_original() -> None:
    made = song()
    owner, gains_db = sounding_as_one([identity for identity, _ in made.values()], traces(made)[0])
    assert owner["again"] == "pad"
    assert gains_db["pad"] == pytest.approx(20 * np.log10(2), abs=1e-6)
    assert gains_db["voice"] == pytest.approx(0.0, abs=1e-9)


def test_a_long_song_is_thinned_to_whole_blocks_of_it() -> None:
    trace = traces(song())[0]["pad"]
    frames = np.arange(BLOCK_FRAMES * 90, dtype=np.float32)[:, None]
    short = thinned(replace(trace, left=frames, right=frames))
    assert short.left is short.right
    assert len(short.left) == BLOCK_FRAMES * 30
    assert set((short.left[:, 0] // BLOCK_FRAMES).astype(int)) == set(range(0, 90, 3))
    assert thinned(trace) is trace
