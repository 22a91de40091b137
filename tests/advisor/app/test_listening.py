"""Choosing listening conditions, and the user's own."""

from math import inf
from pathlib import Path

import pytest

from advisor.app.errors import RequestError
from advisor.app.settings import Settings, load_settings
from features.elsewhere.conditions import CONDITIONS


def keys(settings: Settings) -> list[str]:
    return [condition.key for condition in settings.listening_conditions()]


def written(folder: Path, text: str) -> list[Path]:
    (folder / "mixproof.toml").write_text(text, encoding="utf-8")
    return [folder]


def test_all_are_looked_at_unless_some_are_chosen() -> None:
    assert keys(Settings()) == [condition.key for condition in CONDITIONS]
    assert keys(load_settings([], {"elsewhere": "car, phone"})) == ["car", "phone"]
    assert keys(load_settings([], {"elsewhere": "none"})) == []


def test_an_unknown_one_is_refused_with_the_nearest() -> None:
    with pytest.raises(RequestError, match="Did you mean 'phone'"):
        load_settings([], {"elsewhere": "fone"})


def test_the_users_own_joins_the_others_and_may_be_chosen(tmp_path: Path) -> None:
    text = "[condition.van]\ntransfer = [[100, -12], [300, 0]]\n"
    text += 'noise = [[100, 80], [1000, 60]]\nmono = true\nlevel = 75\nplace = "in my van"\n'
    settings = load_settings(written(tmp_path, text), {})
    van = settings.listening_conditions()[-1]
    assert (van.key, van.place, van.transfer, van.level_db) == ("van", "in my van", ((100.0, -12.0), (300.0, 0.0)), 75.0)
    assert van.noise == ((100.0, 80.0), (1000.0, 60.0))
    assert van.mono_below_hz == inf
    assert keys(load_settings(written(tmp_path, f'elsewhere = ["van"]\n{text}'), {})) == ["van"]
    assert keys(load_settings(written(tmp_path, text), {"elsewhere": "van,phone"})) == ["van", "phone"]


def test_mono_may_begin_below_a_frequency(tmp_path: Path) -> None:
    assert load_settings(written(tmp_path, "[condition.hall]\nmono = 90\n"), {}).listening_conditions()[-1].mono_below_hz == 90.0


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("condition = 3", "are set by tables"),
        ("[condition]\nvan = 3", "must be a table"),
        ("[condition.van]\ntransfer = 3", "list of frequency and dB"),
        ("[condition.van]\ntransfer = [[300, 0], [100, 0]]", "frequencies rising"),
        ("[condition.van]\ntransfer = [[300, 900]]", "from -120 to 40"),
        ("[condition.van]\nmono = 'yes'", "must be a number"),
        ("[condition.van]\nplace = ''", "must be words"),
        ("[condition.van]\ncurve = 3", "no value called 'curve'"),
        ("elsewhere = 3", "must be a list of listening conditions"),
    ],
)
def test_what_cannot_be_meant_is_refused_in_one_sentence(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(RequestError, match=words):
        load_settings(written(tmp_path, text), {})
