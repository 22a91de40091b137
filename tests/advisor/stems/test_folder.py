"""What open_stems makes of folders: good ones, and everything that can be wrong with them."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest
import soundfile

from advisor.app.errors import RequestError
from advisor.app.progress import Quiet
from advisor.stems.folder import OpenedStems, open_stems
from features.sound.load import open_source
from features.sound.signal import Samples
from tests import signals
from tests.sounds import stem_song
from tests.sounds.stem_song import RATE_HZ, mixed, write, write_one

STEMS = stem_song.stems()
MIX = mixed(STEMS)


@contextmanager
def opened(tmp_path: Path, parts: dict[str, Samples], mix: Samples | None = MIX) -> Iterator[OpenedStems]:
    folder = write(tmp_path / "stems", parts)
    if mix is None:
        with open_stems(folder, None, Quiet()) as stems:
            yield stems
        return
    with open_source(write_one(tmp_path / "mix.wav", mix)) as whole, open_stems(folder, whole, Quiet()) as stems:
        yield stems


def sound(stems: OpenedStems, name: str) -> Samples:
    source = next(stem.source for stem in stems.stems if stem.name == name)
    return np.concatenate(list(source.blocks(50_000)), axis=1)


def shifted(wave: Samples, frames: int) -> Samples:
    moved = np.zeros_like(wave)
    if frames >= 0:
        moved[:, frames:] = wave[:, : wave.shape[1] - frames]
    else:
        moved[:, :frames] = wave[:, -frames:]
    return moved


def offsets(stems: OpenedStems) -> dict[str, int]:
    return {stem.name: round(stem.identity.offset_s * RATE_HZ) for stem in stems.stems}


def test_stems_that_sum_to_the_mix(tmp_path: Path) -> None:
    with opened(tmp_path, STEMS) as stems:
        assert [stem.name for stem in stems.stems] == sorted(STEMS)
        assert stems.mixture.residual_db is not None
        assert stems.mixture.residual_db < -100
        assert stems.mixture.meaning.startswith("The stems sum exactly to your mix")
        assert stems.rest is None
        assert stems.notes == ()
        assert stems.groups == {
            "drums": ("hats", "kick", "snare"),
            "bass": ("bassline",),
            "music": ("pad", "pluck"),
            "vocals": ("vox",),
        }
        assert np.allclose(sound(stems, "bassline"), STEMS["bassline"])
        kick = next(stem for stem in stems.stems if stem.name == "kick").identity
        assert (kick.channels, kick.rate_hz, kick.role, kick.role_from, kick.gain_db) == (1, RATE_HZ, "kick", "name", 0.0)


@pytest.mark.parametrize("gain_db", [-9.0, 4.0])
def test_one_gain_for_all(tmp_path: Path, gain_db: float) -> None:
    with opened(tmp_path, STEMS, MIX * np.float32(signals.amplitude(gain_db))) as stems:
        assert stems.mixture.gain_db == pytest.approx(-gain_db, abs=0.01)
        assert all(stem.identity.gain_db == pytest.approx(gain_db, abs=0.01) for stem in stems.stems)
        assert np.allclose(sound(stems, "vox"), STEMS["vox"] * signals.amplitude(gain_db), atol=1e-4)


def test_without_a_mix_the_sum_is_the_mix(tmp_path: Path) -> None:
    with opened(tmp_path, STEMS, None) as stems:
        assert stems.mixture.residual_db is None
        assert np.allclose(stems.sum_source.read(1000, 50_000), MIX[:, 1000:51_000], atol=1e-6)
        assert (stems.sum_file.name, stems.sum_file.rate_hz, stems.sum_file.channels) == ("stems", RATE_HZ, 2)
        assert len(stems.sum_file.sha256) == 64
        first = stems.sum_file.sha256
    (tmp_path / "stems" / "vox.wav").unlink()
    write(tmp_path / "stems", {"vox": STEMS["vox"] * np.float32(0.9)})
    with open_stems(tmp_path / "stems", None, Quiet()) as stems:
        assert stems.sum_file.sha256 != first


def test_a_missing_element_shows_in_the_residual_with_its_band(tmp_path: Path) -> None:
    fewer = {name: samples for name, samples in STEMS.items() if name != "vox"}
    with opened(tmp_path, fewer) as stems:
        truth = 10 * np.log10(2 * np.sum(STEMS["vox"].astype(float) ** 2) / np.sum(MIX.astype(float) ** 2))
        assert stems.mixture.residual_db == pytest.approx(truth, abs=0.2)
        assert stems.mixture.residual_band_hz is not None
        low, high = stems.mixture.residual_band_hz
        assert 250 < low < 500 < high < 5000
        assert "something is missing from" in stems.mixture.meaning
        assert stems.rest is not None
        rest = np.concatenate(list(stems.rest.blocks()), axis=1)
        assert np.sum((rest - STEMS["vox"]) ** 2) < 0.02 * np.sum(rest**2)


def test_a_bus_effect_is_told_from_a_missing_element(tmp_path: Path) -> None:
    with opened(tmp_path, STEMS, np.tanh(0.5 * MIX).astype(np.float32)) as stems:
        assert stems.mixture.residual_db is not None
        assert -60 < stems.mixture.residual_db < -20
        assert "effect on the mix bus" in stems.mixture.meaning


@pytest.mark.parametrize("frames", [1000, 145_530, -777])
def test_all_stems_moved_alike_are_moved_back(tmp_path: Path, frames: int) -> None:
    with opened(tmp_path, STEMS, shifted(MIX, frames)) as stems:
        assert set(offsets(stems).values()) == {frames}
        assert stems.mixture.offset_s == pytest.approx(-frames / RATE_HZ, abs=1e-6)
        assert stems.mixture.residual_db is not None
        assert stems.mixture.residual_db < -35  # what is cut off at an end stays lost
        assert "start" in stems.notes[0]


@pytest.mark.parametrize(("moves", "needed"), [({"vox": 1234}, -60), ({"vox": -97_020}, -20), ({"pad": 5000, "pluck": 300}, -35)])
def test_single_stems_are_moved_back_to_the_sample(tmp_path: Path, moves: dict[str, int], needed: float) -> None:
    parts = {name: shifted(samples, moves.get(name, 0)) for name, samples in STEMS.items()}
    with opened(tmp_path, parts) as stems:
        assert offsets(stems) == {name: -moves.get(name, 0) for name in STEMS}
        assert stems.mixture.residual_db is not None
        assert stems.mixture.residual_db < needed
        assert sum("was moved" in note for note in stems.notes) == len(moves)


def test_a_stem_is_found_though_another_is_missing(tmp_path: Path) -> None:
    parts = {name: shifted(samples, 300 if name == "hats" else 0) for name, samples in STEMS.items() if name != "vox"}
    with opened(tmp_path, parts) as stems:
        assert offsets(stems) == {name: -300 if name == "hats" else 0 for name in parts}


def test_a_fader_that_differs_is_named_and_used(tmp_path: Path) -> None:
    with opened(tmp_path, {**STEMS, "bassline": STEMS["bassline"] * np.float32(signals.amplitude(5.0))}) as stems:
        assert {stem.name: round(stem.identity.gain_db, 2) for stem in stems.stems if stem.identity.gain_db} == {"bassline": -5.0}
        assert "“bassline” stands 5.0 dB lower in your mix" in stems.notes[0]


def test_gains_are_left_alone_where_they_explain_nothing(tmp_path: Path) -> None:
    with opened(tmp_path, STEMS, (MIX + 0.05 * signals.pink(stem_song.SECONDS, RATE_HZ, -6.0)).astype(np.float32)) as stems:
        assert len({stem.identity.gain_db for stem in stems.stems}) == 1


def test_reversed_polarity_and_muted_stems_are_named(tmp_path: Path) -> None:
    with opened(tmp_path, {**STEMS, "snare": -STEMS["snare"]}) as stems:
        assert "polarity reversed" in stems.notes[0]
        assert np.allclose(sound(stems, "snare"), STEMS["snare"], atol=1e-5)
    fewer = {name: samples for name, samples in STEMS.items() if name != "pluck"}
    with opened(tmp_path, STEMS, mixed(fewer)) as stems:
        assert "“pluck” is not heard in your mix" in stems.notes[0]
        assert "pluck" not in {stem.name for stem in stems.stems}


@pytest.mark.parametrize("with_mix", [True, False])
def test_what_would_count_twice_is_left_out(tmp_path: Path, with_mix: bool) -> None:
    mix = MIX if with_mix else None
    whole = {**STEMS, "z mix": MIX}
    with opened(tmp_path / "full", whole, mix) as stems:
        assert {stem.name for stem in stems.stems} == set(STEMS)
        assert "“z mix” is" in stems.notes[0]
    with opened(tmp_path / "limited", {**STEMS, "final": np.tanh(1.5 * MIX).astype(np.float32)}, mix) as stems:
        assert {stem.name for stem in stems.stems} == set(STEMS)
        assert "“final” is nearly the sum of all other stems" in stems.notes[0]
    part = np.broadcast_to(STEMS["kick"], STEMS["snare"].shape) + STEMS["snare"] + STEMS["hats"]
    with opened(tmp_path / "part", {**STEMS, "drum bus": part}, mix) as stems:
        assert {stem.name for stem in stems.stems} == set(STEMS)
        assert "“drum bus” is the sum of “hats”, “kick” and “snare”" in stems.notes[0]


def test_a_copy_is_named_and_kept_only_where_the_mix_has_it(tmp_path: Path) -> None:
    doubled = {**STEMS, "vox two": STEMS["vox"] * np.float32(0.5)}
    with opened(tmp_path / "once", doubled) as stems:
        assert "only once" in stems.notes[0]
        assert {stem.name for stem in stems.stems} == set(STEMS)
    with opened(tmp_path / "twice", doubled, mixed(doubled)) as stems:
        assert {stem.name: stem.identity.copy_of for stem in stems.stems if stem.identity.copy_of} == {"vox two": "vox"}
        assert "“vox two” is a copy of “vox” (the same sound at -6.0 dB)" in stems.notes[0]
    with opened(tmp_path / "twin", {**STEMS, "pad mono": STEMS["pad"].mean(axis=0, keepdims=True)}, None) as stems:
        assert "“pad mono” is the mono twin of “pad”" in stems.notes[0]


def test_elements_that_only_sound_alike_are_no_copies(tmp_path: Path) -> None:
    other = STEMS["vox"] + 0.02 * np.float32(signals.amplitude(-20.0)) * signals.white(stem_song.SECONDS, RATE_HZ)[:1]
    with opened(tmp_path, {**STEMS, "vox two": other.astype(np.float32)}, None) as stems:
        assert not any(stem.identity.copy_of for stem in stems.stems)


def test_silent_long_and_odd_rated_stems(tmp_path: Path) -> None:
    longer = np.concatenate([STEMS["pad"], 0.1 * np.ones((2, 60_000), np.float32)], axis=1)
    folder = write(tmp_path / "stems", {**STEMS, "gtr": np.zeros((1, 100), np.float32), "pad": longer})
    soxr = pytest.importorskip("soxr")
    write_one(folder / "vox.wav", np.ascontiguousarray(soxr.resample(STEMS["vox"].T, RATE_HZ, 48000, "VHQ").T), 48000)
    with open_source(write_one(tmp_path / "mix.wav", MIX)) as mix, open_stems(folder, mix, Quiet()) as stems:
        said = " ".join(stems.notes)
        assert "“vox” is at 48000 Hz and was brought to the 44100 Hz of your mix." in said
        assert "“pad” is longer than your mix" in said
        assert "“gtr” holds no sound." in said
        assert next(stem for stem in stems.stems if stem.name == "gtr").identity.silent
        assert stems.mixture.residual_db is not None
        assert stems.mixture.residual_db < -60
        assert all(stem.source.frames == MIX.shape[1] and stem.source.rate_hz == RATE_HZ for stem in stems.stems)
        assert sound(stems, "pad").shape == MIX.shape


def test_mono_mix_and_mono_stems(tmp_path: Path) -> None:
    with opened(tmp_path, STEMS, MIX.mean(axis=0, keepdims=True)) as stems:
        assert stems.channels == 1
        assert {stem.source.channels for stem in stems.stems} == {1}
        assert stems.mixture.residual_db is not None
        assert stems.mixture.residual_db < -100


def test_a_damaged_stem_is_named_and_the_rest_goes_on(tmp_path: Path) -> None:
    folder = write(tmp_path / "stems", STEMS)
    (folder / "broken.wav").write_bytes(b"RIFF\x00\x00\x00\x00WAVEjunk")
    (folder / "words.mp3").write_text("no sound at all")
    with open_source(write_one(tmp_path / "mix.wav", MIX)) as mix, open_stems(folder, mix, Quiet()) as stems:
        assert len(stems.stems) == len(STEMS)
        assert sum("broken.wav" in note for note in stems.notes) == 1
        assert sum("words.mp3" in note for note in stems.notes) == 1
        assert all(note.count("\n") == 0 for note in stems.notes)


def test_a_stem_that_breaks_off_in_the_middle(tmp_path: Path) -> None:
    folder = write(tmp_path / "stems", {name: samples for name, samples in STEMS.items() if name != "vox"})
    noise = signals.white(stem_song.SECONDS, RATE_HZ)
    soundfile.write(folder / "vox.flac", noise.T, RATE_HZ, "PCM_16")
    data = bytearray((folder / "vox.flac").read_bytes())
    data[len(data) // 2 : len(data) // 2 + 40_000] = bytes(40_000)
    (folder / "vox.flac").write_bytes(data)
    with open_stems(folder, None, Quiet()) as stems:
        assert all(len(stem.source.read(0, stem.source.frames)[0]) == stem.source.frames for stem in stems.stems)
        assert len(stems.stems) == len(STEMS) or any("vox.flac" in note for note in stems.notes)


def test_another_song_is_refused(tmp_path: Path) -> None:
    other = signals.stereo(0.3 * stem_song.riff((100.0, 130.0, 170.0), stem_song.SECONDS, RATE_HZ, 77))
    other = other + signals.pink(stem_song.SECONDS, RATE_HZ, -30.0)
    with pytest.raises(RequestError, match="next to nothing in common"), opened(tmp_path, STEMS, other):
        pass
    with opened(tmp_path / "one", {"hats": STEMS["hats"]}) as stems:  # a single quiet element of the right song is no other song
        assert stems.mixture.residual_db == pytest.approx(0.0, abs=0.5)


def test_folders_that_cannot_serve(tmp_path: Path) -> None:
    with pytest.raises(RequestError, match="no folder"):
        open_stems(tmp_path / "nowhere", None, Quiet())
    path = write_one(tmp_path / "song.wav", MIX[:, :1000])
    with pytest.raises(RequestError, match="is a file, and stems are read from a folder"):
        open_stems(path, None, Quiet())
    empty = tmp_path / "empty"
    empty.mkdir()
    with pytest.raises(RequestError, match="is empty"):
        open_stems(empty, None, Quiet())
    (empty / "notes.txt").write_text("hello")
    (empty / "._kick.wav").write_bytes(b"\x00\x05\x16\x07")
    with pytest.raises(RequestError, match="holds no sound file"):
        open_stems(empty, None, Quiet())
    write(empty / "inside", {"kick": STEMS["kick"]})
    with pytest.raises(RequestError, match="its folder “inside” does"):
        open_stems(empty, None, Quiet())
    (empty / "kick.wav").write_bytes(b"RIFF")
    with pytest.raises(RequestError, match="None of the 1 sound files"):
        open_stems(empty, None, Quiet())


def test_silence_and_the_mix_alone_are_refused(tmp_path: Path) -> None:
    with (
        pytest.raises(RequestError, match="No stem in the folder holds any sound"),
        opened(tmp_path / "a", {"kick": np.zeros((1, 5000), np.float32)}, None),
    ):
        pass
    with pytest.raises(RequestError, match="it is the mix itself"), opened(tmp_path / "b", {"song": MIX}):
        pass


def test_two_hundred_files_are_too_many(tmp_path: Path) -> None:
    folder = tmp_path / "many"
    write(folder, {f"take {number}": STEMS["kick"][:, :100] for number in range(200)})
    with pytest.raises(RequestError, match="holds 200 sound files, and at most 64 elements"):
        open_stems(folder, None, Quiet())


def test_the_mix_file_in_the_folder_is_passed_over(tmp_path: Path) -> None:
    folder = write(tmp_path / "song", STEMS)
    path = write_one(folder / "a mix.wav", MIX)
    (folder / "cover.txt").write_text("x")
    (folder / "take.mid").write_bytes(b"MThd")
    with open_source(path) as mix, open_stems(folder, mix, Quiet(), mix_path=path) as stems:
        assert {stem.name for stem in stems.stems} == set(STEMS)
        assert stems.notes == ("“a mix.wav” is the mix itself and lies among the stems; it was left out.",)


def test_names_that_differ_in_ending_or_case_alone_and_names_of_groups(tmp_path: Path) -> None:
    folder = write(tmp_path / "stems", {"pad": STEMS["pad"], "drums": STEMS["hats"], "bass": STEMS["bassline"], "mix": STEMS["pluck"]})
    write(folder, {"PAD": STEMS["vox"], "kick": STEMS["kick"]}, ending="flac", subtype="PCM_24")
    with open_stems(folder, None, Quiet()) as stems:
        assert {stem.name for stem in stems.stems} == {"pad.wav", "PAD.flac", "drums stem", "bass", "mix stem", "kick"}
        assert stems.groups["bass"] == ("bass",)
        assert stems.groups["drums"] == ("drums stem", "kick")
