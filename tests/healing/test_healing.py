"""The maths of the healing benchmark: what counts as closed, as moved, as a step back."""

from dataclasses import asdict, replace

import numpy as np
import pytest

from rules.remedy import Remedy
from tests.benchmarks.healing import plants
from tests.benchmarks.healing.distance import Basis, apart, element_levels, read
from tests.benchmarks.healing.following import BESIDE, Desk, remedies_of
from tests.benchmarks.healing.scoring import AS_IT_IS, Row, closed, from_text, pooled, steps_back, tables, worst_way
from tests.benchmarks.plans.planting import Floats, Stems

RATE_HZ = 44100
SECONDS = 4


def noise(seed: int, low_hz: float, high_hz: float) -> Floats:
    """Return stereo noise between two frequencies, half of it in the middle."""
    random = np.random.default_rng(seed)
    samples = random.normal(0.0, 0.1, (RATE_HZ * SECONDS, 2)) + random.normal(0.0, 0.1, (RATE_HZ * SECONDS, 1))
    spectrum, hz = np.fft.rfft(samples, axis=0), np.fft.rfftfreq(len(samples), 1 / RATE_HZ)
    spectrum[(hz < low_hz) | (hz > high_hz)] = 0.0
    return np.fft.irfft(spectrum, len(samples), axis=0)


def song() -> Stems:
    stems = {"bass": noise(1, 40, 400), "lead": noise(2, 300, 5000), "hats": noise(3, 2000, 15000)}
    return Stems("made", RATE_HZ, stems, frozenset(("hats",)))


def test_nothing_moved_is_no_distance_at_any_level() -> None:
    stems = song().stems
    mix = song().mix
    before = read(mix, RATE_HZ, element_levels(stems, mix, RATE_HZ))
    softer = {name: samples * 0.3 for name, samples in stems.items()}
    after = read(mix * 0.3, RATE_HZ, element_levels(softer, mix * 0.3, RATE_HZ))
    assert apart(before, after).total(peaks=True) == pytest.approx(0.0, abs=1e-6)


def test_a_side_that_is_down_moves_the_picture_alone() -> None:
    mix = song().mix
    leaned = mix * np.array([1.0, 10 ** (-4.0 / 20)])
    far = apart(read(mix, RATE_HZ, {}), read(leaned, RATE_HZ, {}))
    assert far.picture_db == pytest.approx(4.0, abs=0.1)
    assert far.tone_db < 0.3


def test_a_turned_channel_is_far_in_the_picture() -> None:
    mix = song().mix
    turned = mix * np.array([1.0, -1.0])
    far = apart(read(mix, RATE_HZ, {}), read(turned, RATE_HZ, {}))
    assert far.picture_db > 3.0
    assert far.tone_db == pytest.approx(0.0, abs=0.01)


def test_levels_of_elements_are_read_off_a_mix_that_was_changed_as_a_whole() -> None:
    planted = {**song().stems, "lead": song().stems["lead"] * 2.0}
    mix = np.sum(list(planted.values()), axis=0)
    exact = element_levels(planted, mix, RATE_HZ)
    projected = Basis.of(song().stems, RATE_HZ).levels(mix, RATE_HZ)
    assert projected == {name: pytest.approx(level, abs=0.3) for name, level in exact.items()}


@pytest.mark.parametrize(("before", "after", "share"), [(4.0, 1.0, 0.75), (4.0, 5.0, -0.25), (4.0, 20.0, -1.0), (0.4, 0.0, None)])
def test_closed_is_a_share_of_the_distance(before: float, after: float, share: float | None) -> None:
    assert closed(before, after) == share


def row(way: str, before: float, after: float, song_name: str = "made", fault: str = "hump") -> Row:
    return Row(song_name, fault, way, "stems", before=before, after=after, clean_planted=-12.0, clean_followed=-12.0 - 0.2 * after)


def test_worst_way_is_that_of_which_least_is_closed() -> None:
    rows = [row("own", 4.0, 1.0), row("ffmpeg", 4.0, 3.0), row("other", 4.0, 2.0)]
    assert worst_way(rows) == ("ffmpeg", 0.25)
    assert pooled(rows) == 0.5


def test_worse_and_room_lost_are_counted() -> None:
    assert row("own", 1.0, 2.5).worse
    assert not row("own", 1.0, 1.9).worse
    assert row("own", 1.0, 2.0).lost_room
    assert not row("own", 1.0, 1.0).lost_room


def test_tables_keep_songs_apart_and_name_what_failed() -> None:
    rows = [
        row("own", 4.0, 1.0), row("own", 4.0, 4.0, "song02"), row("-", 0.0, 0.0, fault=AS_IT_IS),
        Row("made", "dark", "own", "stereo", error="broke"),
    ]  # fmt: skip
    lines = tables(rows, ("own",))
    worked_on = lines.index("songs worked on: share of the distance closed")
    kept_out = lines.index("songs kept out: share of the distance closed")
    assert "75%" in lines[worked_on + 2]
    assert "  0%" in lines[kept_out + 2]
    assert any("not moved at all: 1 of 1" in line for line in lines)
    assert "failed: made dark own stereo: broke" in lines


def test_steps_back_undo_the_first_plan() -> None:
    first = [Remedy("gain", part="lead", gain_db=-3.0), Remedy("bell", frequency_hz=300.0, gain_db=-3.0)]
    back = Remedy("gain", part="lead", gain_db=2.0)
    second = [
        back,
        Remedy("gain", part="bass", gain_db=2.0),
        Remedy("bell", frequency_hz=3000.0, gain_db=2.0),
        Remedy("gain", part="lead", gain_db=-1.0),
    ]
    assert steps_back(first, second) == [back]


def test_moves_are_those_of_the_mixing_stage_whatever_else_a_report_holds() -> None:
    gain = {"kind": "gain", "part": "lead", "gain_db": -3.0, "new_key": 1}
    report = {"plan": [{"stage": "mixing", "remedy": gain}, {"stage": "mastering", "remedy": gain}, {"stage": "mixing", "remedy": None}]}
    assert remedies_of(report) == [Remedy("gain", part="lead", gain_db=-3.0)]


def test_a_fader_moves_one_element_and_a_shelf_on_the_mix_all() -> None:
    desk = Desk.of(song().stems, RATE_HZ, {"drums": ["hats"]})
    assert desk.follow(Remedy("gain", part="lead", gain_db=-6.0)) == "ffmpeg"
    assert desk.follow(Remedy("gain", part="drums", gain_db=6.0)) == "ffmpeg"
    assert desk.follow(Remedy("gain", part="left", gain_db=-3.0)) == "ffmpeg"
    assert desk.follow(Remedy("gain", part="nobody", gain_db=-3.0)) == "not done"
    after, left = desk.samples(), 10 ** (-3.0 / 20)
    for name, gain_db in (("bass", 0.0), ("lead", -6.0), ("hats", 6.0)):
        wanted = song().stems[name] * 10 ** (gain_db / 20) * np.array([left, 1.0])
        np.testing.assert_allclose(after[name], wanted, atol=1e-5)


def test_a_limiter_on_the_mix_leaves_the_elements_and_changes_the_sum() -> None:
    desk = Desk.of(song().stems, RATE_HZ, {})
    before = float(np.abs(desk.mix.samples).max())
    ceiling_dbfs = 20 * float(np.log10(before)) - 6.0
    assert desk.follow(Remedy("peak_limiter", ceiling_dbfs=ceiling_dbfs)) == "ffmpeg"
    assert BESIDE in desk.parts
    np.testing.assert_allclose(desk.samples()["lead"], song().stems["lead"], atol=1e-6)
    assert 20 * np.log10(np.abs(desk.mix.samples).max()) == pytest.approx(ceiling_dbfs, abs=0.5)


@pytest.mark.parametrize("fault", ["side-lean", "wide-lows", "polarity", "delay", "hump", "bright", "dark"])
@pytest.mark.parametrize("way", plants.WAYS)
def test_a_fault_of_the_whole_mix_changes_every_stem_alike(fault: str, way: plants.Way) -> None:
    planted = plants.FAULTS[fault][way](song())
    assert planted is not None
    again = plants.FAULTS[fault][way](Stems("made", RATE_HZ, {"mix": song().mix}, frozenset()))
    assert again is not None
    total = np.sum(list(planted.values()), axis=0)
    np.testing.assert_allclose(total, again["mix"], atol=1e-4)
    far = apart(read(song().mix, RATE_HZ, {}), read(total, RATE_HZ, {}))
    assert far.total(peaks=False) > 1.0


def test_a_row_comes_back_from_a_table() -> None:
    written = replace(row("own", 4.0, 1.0), steps=2, clean_promised=None, moves="gain lead -3.0 dB")
    columns = {name: "" if value is None else str(value) for name, value in asdict(written).items()}
    assert from_text({**columns, "closed": "0.75"}) == written
