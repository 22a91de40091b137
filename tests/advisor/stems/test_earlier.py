"""Level changes since an earlier bounce: planted, and named."""

from pathlib import Path

import numpy as np
import pytest
import soundfile

from advisor.app.progress import Quiet
from advisor.stems.earlier import Earlier, against_the_rest
from advisor.stems.folder import open_stems
from features.sound.load import open_source
from features.sound.signal import Samples
from tests import signals
from tests.sounds import stem_song
from tests.sounds.stem_song import RATE_HZ, mixed, write, write_one

STEMS = stem_song.stems()


def louder(changes_db: dict[str, float], every_db: float = 0.0) -> dict[str, Samples]:
    return {name: samples * np.float32(signals.amplitude(every_db + changes_db.get(name, 0.0))) for name, samples in STEMS.items()}


def compared(tmp_path: Path, earlier: str, *, with_mix: bool = True, mix: Samples | None = None) -> Earlier:
    folder = write(tmp_path / "stems", STEMS)
    (folder / "stems.toml").write_text(f'earlier = "{earlier}"\n')
    if not with_mix:
        with open_stems(folder, None, Quiet()) as stems:
            assert stems.earlier is not None
            return stems.earlier
    whole = write_one(tmp_path / "mix.wav", mixed(STEMS) if mix is None else mix)
    with open_source(whole) as opened, open_stems(folder, opened, Quiet()) as stems:
        assert stems.earlier is not None
        assert stems.earlier.words in stems.notes
        return stems.earlier


def assert_changes(earlier: Earlier, planted_db: dict[str, float], within: float = 0.3) -> None:
    """Check changes of now against the earlier bounce: what was louder there is lower now."""
    assert set(earlier.changes_db) == set(STEMS)
    for name, change in earlier.changes_db.items():
        assert change == pytest.approx(-planted_db.get(name, 0.0), abs=within), name


@pytest.mark.parametrize("every_db", [0.0, -4.0])
@pytest.mark.parametrize("planted", [{"vox": 2.0}, {"hats": -2.0}, {"kick": 2.0, "pad": -3.0}, {}])
def test_against_an_earlier_bounce(tmp_path: Path, planted: dict[str, float], every_db: float) -> None:
    write_one(tmp_path / "bounce 3.wav", mixed(louder(planted, every_db)))
    earlier = compared(tmp_path, "../bounce 3.wav")
    assert_changes(earlier, planted)
    assert "“bounce 3.wav”, which the present stems explain to" in earlier.words


def test_without_a_mix_and_with_another_rate(tmp_path: Path) -> None:
    soxr = pytest.importorskip("soxr")
    bounce = soxr.resample(mixed(louder({"bassline": 2.0})).T, RATE_HZ, 48000).T
    write_one(tmp_path / "old.wav", np.ascontiguousarray(bounce), 48000)
    assert_changes(compared(tmp_path, "../old.wav", with_mix=False), {"bassline": 2.0})


def test_a_lossy_bounce_says_nothing_where_it_keeps_no_waveform(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "old.ogg", 0.5 * mixed(louder({"vox": 2.0})).T, RATE_HZ)
    earlier = compared(tmp_path, "../old.ogg")
    assert set(earlier.changes_db) == set(STEMS) - {"hats"}  # noise high up: the codec keeps its level alone
    for name, change in earlier.changes_db.items():
        assert change == pytest.approx(-2.0 if name == "vox" else 0.0, abs=0.3), name
    assert "For “hats” that is too little to tell" in earlier.words


def test_a_bus_that_limits_both_bounces_falls_out(tmp_path: Path) -> None:
    def bus(sound: Samples) -> Samples:
        return np.asarray(np.tanh(0.8 * sound) / 0.8, np.float32)

    write_one(tmp_path / "old.wav", bus(mixed(louder({"snare": 2.0}))))
    assert_changes(compared(tmp_path, "../old.wav", mix=bus(mixed(STEMS))), {"snare": 2.0})


def test_a_bounce_that_starts_later(tmp_path: Path) -> None:
    late = np.concatenate([np.zeros((2, 22_222), np.float32), mixed(louder({"vox": 2.0}))], axis=1)
    write_one(tmp_path / "old.wav", late)
    assert_changes(compared(tmp_path, "../old.wav"), {"vox": 2.0})


@pytest.mark.parametrize("every_db", [0.0, -4.0])
def test_against_earlier_stems(tmp_path: Path, every_db: float) -> None:
    write(tmp_path / "bounce-3" / "stems", louder({"pluck": 2.0, "hats": -1.0}, every_db), ending="flac", subtype="PCM_24")
    assert_changes(compared(tmp_path, "../bounce-3/stems"), {"pluck": 2.0, "hats": -1.0}, 0.05)


def test_an_element_called_like_a_group_is_found_among_the_earlier_stems(tmp_path: Path) -> None:
    parts = {"drums": STEMS["kick"], "snare": STEMS["snare"], "pad": STEMS["pad"], "vox": STEMS["vox"]}
    write(tmp_path / "old", {**parts, "drums": parts["drums"] * np.float32(signals.amplitude(2.0))})
    folder = write(tmp_path / "stems", parts)
    (folder / "stems.toml").write_text('earlier = "../old"\n')
    with open_stems(folder, None, Quiet()) as stems:
        assert stems.earlier is not None
        assert stems.earlier.changes_db["drums stem"] == pytest.approx(-2.0, abs=0.05)


def test_new_and_different_stems_get_no_number(tmp_path: Path) -> None:
    before = louder({"kick": 2.0})
    del before["pad"]
    before["vox"] = signals.pink(stem_song.SECONDS, RATE_HZ, -20.0)
    write(tmp_path / "old", before)
    earlier = compared(tmp_path, "../old")
    assert set(earlier.changes_db) == set(STEMS) - {"pad", "vox"}
    assert earlier.changes_db["kick"] == pytest.approx(-2.0, abs=0.05)
    assert "“vox” sounds different there" in earlier.words
    assert "“pad” is not among them" in earlier.words


def test_another_song_says_nothing(tmp_path: Path) -> None:
    write_one(tmp_path / "other.wav", signals.pink(stem_song.SECONDS, RATE_HZ, -14.0))
    earlier = compared(tmp_path, "../other.wav")
    assert earlier.changes_db == {}
    assert "too little to say how levels changed" in earlier.words


def test_an_unreadable_bounce_does_not_end_the_rest(tmp_path: Path) -> None:
    (tmp_path / "old.wav").write_bytes(b"RIFF")
    earlier = compared(tmp_path, "../old.wav")
    assert earlier.changes_db == {}
    assert earlier.words.startswith("Nothing is said about changes since the earlier bounce:")


def test_what_most_elements_share_is_the_level_of_the_mix() -> None:
    assert against_the_rest({}) == {}
    two = against_the_rest({"a": 0.0, "b": 2.0})
    assert two == {"a": 0.0, "b": 2.0}
