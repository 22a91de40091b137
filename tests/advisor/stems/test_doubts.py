"""A name that the sound speaks against is asked about, and judged as neither."""

from pathlib import Path

import numpy as np
import pytest

from advisor.app.progress import Quiet
from advisor.stems.doubts import EXPECTED, doubt_of
from advisor.stems.folder import OpenedStems, open_stems
from advisor.stems.measuring import elements_of, trace_song
from advisor.stems.roles import ROLES, Traits
from features.records.elements import Role
from features.sound.signal import Samples
from tests.sounds import stem_song
from tests.sounds.stem_song import write

LOW = Traits(0.95, 0.0, 0.0, 2.0, 30.0, 10.0, 0.8)
HIGH = Traits(0.0, 0.97, 0.9, 6.0, 40.0, 40.0, 0.3)
MIDDLE = Traits(0.07, 0.05, 0.0, 0.5, 10.0, 1.0, 0.9)


@pytest.mark.parametrize(
    ("role", "fits", "does_not"),
    [
        ("bass", LOW, MIDDLE),
        ("kick", LOW, HIGH),
        ("hats", HIGH, LOW),
        ("snare", HIGH, MIDDLE),
        ("pad", MIDDLE, HIGH),
        ("vocal", MIDDLE, HIGH),
    ],
)
def test_what_fits_and_what_does_not(role: Role, fits: Traits, does_not: Traits) -> None:
    assert doubt_of("it", role, fits) is None
    doubt = doubt_of("it", role, does_not)
    assert doubt is not None
    assert doubt.probability <= 0.1
    assert f'"it" = "{role}"' in doubt.question


def test_silence_and_roles_without_a_sound_of_their_own_are_never_asked_about() -> None:
    assert doubt_of("it", "bass", None) is None
    assert {role for expected in EXPECTED for role in expected.roles} == set(ROLES) - {"effects", "other"}
    assert doubt_of("it", "effects", HIGH) is None


def opened(folder: Path, **named: Samples) -> OpenedStems:
    return open_stems(write(folder / "stems", named), None, Quiet())


def test_a_bass_without_low_end_is_judged_as_neither_and_asked_about(tmp_path: Path) -> None:
    song = stem_song.stems()
    with opened(tmp_path, bass=song["hats"], kick=song["kick"], pad=song["pad"]) as stems:
        assert [(stem.name, stem.identity.role) for stem in stems.stems] == [("bass", "other"), ("kick", "kick"), ("pad", "pad")]
        (question,) = [note for note in stems.notes if "is it one?" in note]
        assert question.startswith("“bass” has ")


def test_what_is_asked_about_has_no_usual_level_and_is_never_too_loud_or_quiet(tmp_path: Path) -> None:
    song = stem_song.stems()
    with opened(tmp_path, bass=0.02 * song["hats"], kick=song["kick"], pad=song["pad"], lead=song["pluck"]) as stems:
        measured = elements_of(stems, trace_song(stems, stems.sum_source, Quiet()), {}, lambda _: None)
    asked = measured.named("bass")
    assert asked is not None
    assert (asked.role_from, asked.level_plan.usual_lu, asked.level_plan.off_db) == ("open", None, None)
    assert not any("bass" in move.names for move in measured.moves)
    assert "disagree" in next(absence.reason for absence in measured.absent if absence.field == "elements.bass.level_plan.off_db")


def test_what_the_user_says_is_no_question(tmp_path: Path) -> None:
    folder = write(tmp_path / "stems", {"bass": stem_song.stems()["hats"], "kick": stem_song.stems()["kick"]})
    (folder / "stems.toml").write_text('[roles]\nbass = "bass"\n', encoding="utf-8")
    with open_stems(folder, None, Quiet()) as stems:
        assert [stem.identity.role for stem in stems.stems] == ["bass", "kick"]
        assert not any("is it one?" in note for note in stems.notes)


def test_the_songs_own_names_are_not_asked_about(tmp_path: Path) -> None:
    song = {name: np.asarray(sound) for name, sound in stem_song.stems().items()}
    with opened(tmp_path, **song) as stems:
        assert not any("is it one?" in note for note in stems.notes)
