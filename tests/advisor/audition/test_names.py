"""File names are safe whatever a song is called."""

import doctest
import re

import pytest

from advisor.audition import names

EVIL = [
    '"><script>alert(1)</script>.wav', "../../etc/passwd", "..", ".", "", "a/b\\c.flac", "🎛🎚.wav", "x" * 300 + ".wav", "-rf.wav",
    "mix](javascript:alert(1)).wav", "a\nb\0c.wav", "été & co.mp3", "con.wav", "song.with.dots.aiff", "%2e%2e%2f.wav",
]  # fmt: skip


@pytest.mark.parametrize("song", EVIL)
def test_the_marked_copy_has_a_safe_name(song: str) -> None:
    made = names.marked_name(song)
    assert names.MARKED.fullmatch(made)
    assert re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9._-]{0,75}", made)


def test_ordinary_names_stay_readable() -> None:
    assert names.marked_name("My song v2.wav") == "My-song-v2-marked.wav"
    assert names.marked_name("song.with.dots.aiff") == "song.with.dots-marked.wav"


def test_only_our_own_clips_are_taken_for_clips() -> None:
    assert names.CLIP.fullmatch(names.clip_name(12, "after", "flac"))
    for other in ("step-1-before.flac.bak", "my-step-1-before.flac", "step--1-before.flac", "step-1-before.mp3", "Step-1-before.flac"):
        assert not names.CLIP.fullmatch(other)


def test_examples() -> None:
    assert doctest.testmod(names).failed == 0
    assert doctest.testmod(names).attempted > 1
