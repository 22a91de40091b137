"""Settings: default, file, command line; what is unknown or out of range is refused with the way out."""

from pathlib import Path

import pytest

from advisor.app.errors import RequestError
from advisor.app.settings import READERS, find_rule, load_settings

RULE = '[rules."delivery/dc_offset"]\n'


def settings_from(folder: Path, text: str, **options: float) -> object:
    (folder / "mixproof.toml").write_text(text, encoding="utf-8")
    return load_settings([folder], options)


def test_defaults_are_the_common_practice_numbers() -> None:
    settings = load_settings([], {})
    assert (settings.target_lufs, settings.ceiling_dbtp) == (-13.0, -1.0)  # common practice; EBU R 128 and AES77 for the ceiling


def test_command_line_wins_over_file(tmp_path: Path) -> None:
    (tmp_path / "mixproof.toml").write_text("target_lufs = -14\nceiling_dbtp = -2\n", encoding="utf-8")
    settings = load_settings([tmp_path], {"target_lufs": -11.0})
    assert (settings.target_lufs, settings.ceiling_dbtp) == (-11.0, -2.0)


def test_a_later_folder_wins(tmp_path: Path) -> None:
    for name, target in (("user", -14), ("project", -10)):
        (tmp_path / name).mkdir()
        (tmp_path / name / "mixproof.toml").write_text(f"target_lufs = {target}\n", encoding="utf-8")
    assert load_settings([tmp_path / "user", tmp_path / "project"], {}).target_lufs == -10.0


def test_limit_is_changed_and_remembered(tmp_path: Path) -> None:
    (tmp_path / "mixproof.toml").write_text(RULE + "offset_dbfs = -50\n", encoding="utf-8")
    settings = load_settings([tmp_path], {})
    limits = settings.limits_of(find_rule("delivery/dc_offset"))
    assert limits.offset_dbfs == -50.0  # type: ignore[attr-defined]
    assert [(change.rule, change.value, change.default) for change in settings.changes] == [
        ("delivery/dc_offset", -50.0, find_rule("delivery/dc_offset").limits().offset_dbfs)
    ]


def test_rule_is_switched_off(tmp_path: Path) -> None:
    (tmp_path / "mixproof.toml").write_text(RULE + "enabled = false\n", encoding="utf-8")
    assert load_settings([tmp_path], {}).disabled == {"delivery/dc_offset"}


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("target_luf = -13\n", "did you mean 'target_lufs'"),
        ("target_lufs = 'loud'\n", "must be a number"),
        ("target_lufs = 3\n", "outside -30 to -4"),
        ('[rules."delivery/dc_ofset"]\n', "did you mean 'delivery/dc_offset'"),
        (RULE + "offset_db = -50\n", "did you mean 'offset_dbfs'"),
        (RULE + "offset_dbfs = 0\n", "outside -90 to -20"),
        (RULE + "offset_dbfs = true\n", "must be a number"),
        ("rules = 3\n", "set by tables"),
        ("target_lufs = = 3\n", "cannot be read"),
        (f"target_lufs = -{'1' * 400}\n", "outside -30 to -4"),
        (f"target_lufs = -{'1' * 5000}\n", "cannot be read"),
        (f"a = {'[' * 5000}{']' * 5000}\n", "too deep"),
        (f"target_lufs = '{'x' * 1_000_000}'\n", "must be a number"),
        (f"a = '{'x' * 3_000_000}'\n", "fit into one"),
        (f"{'x' * 1_000_000} = 1\n", "no setting called"),
        (RULE + 'enabled = "no"\n', "must be true or false"),
        (RULE + "enabled = 0\n", "must be true or false"),
    ],
)
def test_bad_settings_are_refused_in_one_sentence_with_a_way_out(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(RequestError, match=f"(?i){words}") as refused:
        settings_from(tmp_path, text)
    assert len(str(refused.value)) < 1000


def test_a_byte_order_mark_is_no_setting(tmp_path: Path) -> None:
    (tmp_path / "mixproof.toml").write_bytes(b"\xef\xbb\xbftarget_lufs = -12\n")
    assert load_settings([tmp_path], {}).target_lufs == -12.0


def test_settings_that_are_no_file(tmp_path: Path) -> None:
    (tmp_path / "mixproof.toml").mkdir()
    with pytest.raises(RequestError, match="no ordinary file"):
        load_settings([tmp_path], {})


def test_every_setting_says_how_it_is_read() -> None:
    assert set(READERS) == {"target_lufs", "ceiling_dbtp", "quick", "audition", "render", "single_file", "streaming_lufs"}


def test_rule_is_found_by_its_short_name() -> None:
    assert find_rule("dc_offset").id == "delivery/dc_offset"
