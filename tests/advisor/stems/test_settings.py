"""stems.toml: what it sets, and how it complains."""

from pathlib import Path

import pytest

from advisor.app.errors import RequestError
from advisor.app.progress import Quiet
from advisor.stems.folder import open_stems
from advisor.stems.settings import StemSettings, read_settings
from tests.sounds import stem_song
from tests.sounds.stem_song import write

FILES = {"inst3.wav": "inst3", "pad.wav": "pad", "old bounce.wav": "old bounce", "kick.flac": "kick"}
GOOD = """
leave_out = ["old bounce.wav"]
bus_gain_db = -3.0
earlier = "../bounce-3"

[roles]
inst3 = "bass"
"pad.wav" = "Strings"

[groups]
inst3 = "music"
"""


def read(tmp_path: Path, text: str) -> StemSettings:
    folder = tmp_path / "stems"
    folder.mkdir(exist_ok=True)
    (folder / "stems.toml").write_text(text, encoding="utf-8")
    return read_settings(folder, FILES)


def test_everything_is_read(tmp_path: Path) -> None:
    (tmp_path / "bounce-3").mkdir()
    settings = read(tmp_path, GOOD)
    assert settings.roles == {"inst3": "bass", "pad": "strings"}
    assert settings.groups == {"inst3": "music"}
    assert settings.leave_out == {"old bounce"}
    assert settings.bus_gain_db == -3.0
    assert settings.earlier == (tmp_path / "bounce-3").resolve()


def test_no_file_says_nothing(tmp_path: Path) -> None:
    assert read_settings(tmp_path, FILES) == StemSettings()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[rolls]\ninst3 = 'bass'", "no setting “rolls”.*Did you mean “roles”"),
        ("[roles]\ninst4 = 'bass'", "names “inst4”, and no stem is called that. Did you mean “inst3”"),
        ("[roles]\ninst3 = 'bas'", "none of the roles. Did you mean “bass”"),
        ("[roles]\ninst3 = 3", "none of the roles"),
        ("[groups]\ninst3 = 'drum'", "none of the groups. Did you mean “drums”"),
        ("roles = 'bass'", "roles in .* must be a table"),
        ("leave_out = 'old bounce.wav'", "must be a list of file names"),
        ("leave_out = ['nothing.wav']", "leave_out in .* names “nothing.wav”"),
        ("bus_gain_db = 'loud'", "must be a number of dB"),
        ("bus_gain_db = 70", "must be a number of dB"),
        ("earlier = '../gone'", "is not there"),
        ("earlier = 3", "must be the path"),
        ("[roles\n", "cannot be read"),
    ],
)
def test_mistakes_are_named_in_one_sentence(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(RequestError, match=words) as caught:
        read(tmp_path, text)
    assert "\n" not in str(caught.value)


def test_the_user_decides(tmp_path: Path) -> None:
    folder = write(tmp_path / "stems", stem_song.stems(2.0))
    (folder / "stems.toml").write_text('leave_out = ["pad"]\n[roles]\npluck = "lead"\nhats = "vocal"\n[groups]\nsnare = "music"\n')
    with open_stems(folder, None, Quiet()) as stems:
        who = {stem.name: stem.identity for stem in stems.stems}
    assert "pad" not in who
    assert (who["pluck"].role, who["pluck"].role_from, who["pluck"].group) == ("lead", "you", "music")
    assert (who["hats"].role, who["hats"].group) == ("vocal", "vocals")
    assert (who["snare"].role, who["snare"].role_from, who["snare"].group) == ("snare", "name", "music")


def test_order_and_what_is_meant_are_read_by_name_or_file(tmp_path: Path) -> None:
    settings = read(tmp_path, 'front = ["kick", "pad.wav"]\nmeant = ["inst3"]\n')
    assert (settings.front, settings.meant) == (("kick", "pad"), frozenset({"inst3"}))
    with pytest.raises(RequestError, match=r"front in .* names “kik”"):
        read(tmp_path, 'front = ["kik"]')
    with pytest.raises(RequestError, match=r"meant in .* must be a list"):
        read(tmp_path, 'meant = "inst3"')


def test_the_order_of_the_command_line_goes_first(tmp_path: Path) -> None:
    song = stem_song.stems()
    folder = write(tmp_path / "stems", {name: song[name] for name in ("kick", "pad", "vox")})
    (folder / "stems.toml").write_text('front = ["kick", "pad"]\n', encoding="utf-8")
    with open_stems(folder, None, Quiet()) as stems:
        assert stems.settings.front == ("kick", "pad")
    with open_stems(folder, None, Quiet(), front=("vox", "kick")) as stems:
        assert stems.settings.front == ("vox", "kick")
    with pytest.raises(RequestError, match=r"--front names “kik”, and no stem is called that\. Did you mean “kick”"):
        open_stems(folder, None, Quiet(), front=("kik",))
