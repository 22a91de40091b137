"""Groups: two kinds are told apart, one is left whole, and names, order and time change nothing."""

import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest

from advisor.app.errors import RequestError
from advisor.references.grouping import from_json, groups_of, key_of, make_model, name_of, pick, place, shape, song_name, to_json
from advisor.references.groups import k_medoids
from advisor.references.records import Reference
from tests.reference_shelf import GENERAL, reference, song

HZ = np.array(GENERAL.third_octave_hz)


def kind(prefix: str, count: int, tilt: float, percussive: float, seed: int) -> list[Reference]:
    """Return songs of one kind: a common lean of the spectrum and a share of drums, with scatter."""
    chance = np.random.default_rng(seed)
    made = []
    for number in range(count):
        curve = tilt * np.log2(HZ / 1000) + chance.normal(0, 1.0) * np.log2(HZ / 1000) * 0.5 + chance.normal(0, 1.5, HZ.size)
        headline = {"tilt_db_per_octave": -5.5 + tilt + chance.normal(0, 0.4), "width_db": -6.0 + 2 * tilt + chance.normal(0, 1.0)}
        share = float(np.clip(percussive + chance.normal(0, 0.05), 0, 1))
        made.append(reference(f"{prefix} {number:02d}", song(headline, curve, percussive_share=share)))
    return made


TWO = [*kind("bright", 10, 2.0, 0.55, 1), *kind("dark", 8, -2.0, 0.25, 2)]
ONE = kind("plain", 18, 0.0, 0.4, 3)
MODEL = make_model(TWO)


def test_two_kinds_are_told_apart_and_named_by_their_middle_songs() -> None:
    groups = groups_of(MODEL, TWO)
    assert [len(group.songs) for group in groups] == [10, 8]
    assert [{song_name(song)[:4] for song in group.songs} for group in groups] == [{"brig"}, {"dark"}]
    assert [name_of(group)[:4] for group in groups] == ["brig", "dark"]
    assert groups[0].shares[0] in {"brighter", "wider"}
    assert "narrower" in groups[1].shares
    assert MODEL.tried[0].accepted


def test_one_kind_stays_whole_and_says_what_was_tried() -> None:
    model = make_model(ONE)
    assert len(model.medoids) == 1
    assert [split.count for split in model.tried] == [2, 3, 4]
    assert not any(split.accepted for split in model.tried)


def test_below_twelve_songs_nothing_is_split() -> None:
    model = make_model(TWO[:5] + TWO[-6:])
    assert (len(model.medoids), model.tried) == (1, ())
    assert make_model(TWO[:1]).medoids == (TWO[0].sha256,)


def test_three_songs_apart_are_no_group() -> None:
    assert len(make_model([*kind("bright", 12, 2.0, 0.55, 1), *kind("dark", 3, -3.0, 0.2, 2)]).medoids) == 1


def test_names_and_order_change_nothing() -> None:
    renamed = [replace(song, name=f"{number}.flac", path="elsewhere") for number, song in enumerate(TWO)]
    assert make_model(renamed[::-1]) == MODEL


def test_it_comes_back_from_what_was_kept_until_the_shelf_changes() -> None:
    text = to_json(MODEL)
    assert from_json(text, TWO) == MODEL
    assert from_json(text, TWO[1:]) is None
    assert from_json(text, [*TWO, reference("new")]) is None
    assert from_json("no model", TWO) is None
    assert from_json(None, TWO) is None
    assert from_json(to_json(replace(MODEL, key="0")), TWO) is None
    assert key_of(TWO) == key_of(TWO[::-1])


def test_a_kept_model_needs_no_scikit_learn() -> None:
    code = (
        "import sys; import advisor.critique; from advisor.references.grouping import from_json, groups_of, place\n"
        "sys.exit('sklearn' in sys.modules or 'scipy.stats' in sys.modules or 'scipy.signal' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def own(reference: Reference) -> list[float]:
    return shape(reference.song.third_octave_db, reference.song.third_octave_hz, reference.song.percussive_share)


@pytest.mark.parametrize(("prefix", "tilt", "share", "number"), [("x", 2.0, 0.55, 1), ("y", -2.0, 0.25, 2)])
def test_a_mix_lies_in_the_group_of_its_kind(prefix: str, tilt: float, share: float, number: int) -> None:
    where = [place(MODEL, TWO, own(song)) for song in kind(prefix, 6, tilt, share, 9)]
    assert {standing.group.number for standing in where} == {number}
    assert sum(standing.inside for standing in where) >= 4


def test_the_middle_song_lies_in_the_middle_and_a_stranger_outside() -> None:
    middle = groups_of(MODEL, TWO)[0].middle
    where = place(MODEL, TWO, own(middle))
    assert (where.inside, where.nearer_than) == (True, 9)
    stranger = place(MODEL, TWO, own(kind("z", 1, 9.0, 0.95, 4)[0]))
    assert (stranger.inside, stranger.nearer_than) == (False, 0)


def test_a_pinned_group_is_kept_even_when_another_is_nearer() -> None:
    groups = groups_of(MODEL, TWO)
    where = place(MODEL, TWO, own(groups[0].middle), groups[1])
    assert (where.group.number, where.pinned, where.inside) == (2, True, False)


def test_a_group_is_picked_by_number_or_middle_song() -> None:
    groups = groups_of(MODEL, TWO)
    assert pick(groups, "2", "s") == groups[1]
    assert pick(groups, name_of(groups[1]).upper(), "s") == groups[1]
    with pytest.raises(RequestError, match="Did you mean"):
        pick(groups, name_of(groups[1]) + "x", "s")
    with pytest.raises(RequestError, match=r"There are: 1 \("):
        pick(groups, "3", "s")
    with pytest.raises(RequestError, match="one group"):
        pick(groups[:1], "1", "s")


def test_medoids_are_the_best_pair_of_a_small_case() -> None:
    points = np.array([0.0, 1.0, 2.0, 10.0, 11.0, 12.0])
    distances = np.abs(points[:, None] - points[None, :])
    labels, medoids = k_medoids(distances, 2)
    assert (labels.tolist(), medoids) == ([0, 0, 0, 1, 1, 1], [1, 4])


def test_medoids_lower_the_sum_as_far_as_any_choice_does() -> None:
    from itertools import combinations  # noqa: PLC0415

    points = np.random.default_rng(4).normal(size=(11, 2))
    distances = np.linalg.norm(points[:, None] - points[None, :], axis=2)
    _, medoids = k_medoids(distances, 3)
    best = min(distances[:, list(medoids)].min(axis=1).sum() for medoids in combinations(range(11), 3))
    assert distances[:, medoids].min(axis=1).sum() <= 1.02 * best


def test_songs_all_alike_are_one_group() -> None:
    model = make_model([reference(f"{number}") for number in range(14)])
    assert (set(model.labels.values()), len(model.medoids)) == ({0}, 1)


def test_songs_that_end_below_8_khz_are_left_out_of_the_groups_and_harm_nothing() -> None:
    low = reference("low", replace(song(), third_octave_hz=GENERAL.third_octave_hz[:20], third_octave_db=GENERAL.third_octave_db[:20]))
    model = make_model([*TWO, low])
    assert low.sha256 not in model.labels
    assert len(model.medoids) == 2
    assert make_model([low]).medoids == ()
