"""Scores of the benchmark of the diagnosis: what counts as found, as the right way, and as newly accused."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from advisor.judging.judge import Card, Judged
from rules.base import Confidence, Finding, all_rules
from rules.remedy import Remedy
from tests.benchmarks.diagnosis import faults
from tests.benchmarks.diagnosis import planted_sound as sound
from tests.benchmarks.diagnosis.scoring import New, Score, compared, element_right, new_accusations, right_way, row
from tests.benchmarks.diagnosis.truth import LEVEL, TONE, brought_about, sketch
from tests.benchmarks.plans.planting import Stems, bell, low_shelf

BY_ID = {rule.id: rule for rule in all_rules()}
FAULT = {fault.id: fault for fault in faults.FAULTS}
RATE_HZ = 8000


def finding(
    hz: float | None = None, gain_db: float = -3.0, stem: str | None = None, confidence: Confidence = "medium", kind: str = "bell"
) -> Finding:
    remedy = Remedy(kind=kind, frequency_hz=hz, gain_db=gain_db)
    return Finding(1.0, confidence, "", {}, "excess", remedy=remedy, stem=stem)


def judged(*cards: tuple[str, Finding]) -> Judged:
    return Judged(tuple(Card(BY_ID[name], finding) for name, finding in cards), (), (), ())


def song(**stems: float) -> Stems:
    made = {
        name: level * np.random.default_rng(number).normal(0.0, 0.1, (RATE_HZ, 2)) for number, (name, level) in enumerate(stems.items())
    }
    return Stems("esp", RATE_HZ, made, frozenset({"kick", "snare"} & set(stems)))


@pytest.mark.parametrize(("hz", "wanted"), [(300.0, True), (375.0, True), (390.0, False), (235.0, False)])
def test_a_place_counts_within_a_third_of_an_octave(hz: float, wanted: bool) -> None:
    assert FAULT["low-mid build-up"].hit("broad_excess", finding(hz), frozenset()) is wanted


def test_a_right_place_under_a_wrong_rule_does_not_count() -> None:
    assert not FAULT["low-mid build-up"].hit("broad_lack", finding(300.0), frozenset())


def test_an_element_must_be_the_right_one() -> None:
    lead = FAULT["lead buried, stems"]
    assert lead.hit("element_too_quiet", finding(stem="lead"), frozenset(("lead",)))
    assert not lead.hit("element_too_quiet", finding(stem="pads"), frozenset(("lead",)))


def test_the_first_level_told_names_the_element() -> None:
    lead, pads, tone = (
        Card(BY_ID[f"mixing/{name}"], replace(finding(stem=stem), cause=cause))  # type: ignore[arg-type]
        for name, stem, cause in (
            ("element_too_quiet", "lead", "level"),
            ("element_too_loud", "pads", "level"),
            ("resonance", "lead", "narrow"),
        )
    )
    wanted = frozenset(("lead",))
    assert [element_right(wanted, cards) for cards in ([tone, lead, pads], [pads, lead], [tone], [])] == [True, False, None, None]
    assert element_right(frozenset(), [lead]) is None


def test_the_way_of_the_first_remedy_counts() -> None:
    fault = FAULT["low-mid build-up"]
    assert right_way(fault, [(0, finding(300.0, -3.0))]) is True
    assert right_way(fault, [(0, finding(300.0, 3.0))]) is False
    assert right_way(fault, [(4, finding(300.0, -3.0))]) is None
    assert right_way(FAULT["near mono"], [(0, finding())]) is None


def test_new_is_what_the_song_as_it_is_was_not_accused_of() -> None:
    fault = FAULT["low-mid build-up"]
    before = judged(("mixing/broad_excess", finding(4000.0)))
    after = judged(
        ("mixing/broad_excess", finding(300.0)), ("mixing/broad_excess", finding(4200.0)), ("mixing/broad_excess", finding(80.0)),
        ("mixing/mono_loss", finding(confidence="low")), ("mixing/short_of_target", finding()),
    )  # fmt: skip
    flat = sketch(noise(), RATE_HZ)
    assert new_accusations(fault, frozenset(), before, after, (flat, flat)) == (
        New("broad_excess 80 Hz", sure=True, false=True), New("mono_loss", sure=False, false=True),
    )  # fmt: skip


def noise(side: float = 0.3) -> sound.Floats:
    middle, sides = np.random.default_rng(1).normal(0.0, 0.1, (2, 4 * RATE_HZ))
    return np.stack((middle + side * sides, middle - side * sides), axis=1)


@pytest.mark.parametrize(
    ("rule", "change", "hz", "true"),
    [
        ("broad_excess", lambda x: bell(x, RATE_HZ, 500.0, 6.0, 1.0), 500.0, True),
        ("broad_excess", lambda x: bell(x, RATE_HZ, 500.0, 6.0, 1.0), 2500.0, False),
        ("broad_lack", lambda x: bell(x, RATE_HZ, 500.0, 6.0, 1.0), 500.0, False),
        ("broad_lack", lambda x: bell(x, RATE_HZ, 500.0, -6.0, 1.0), 500.0, True),
        ("resonance", lambda x: bell(x, RATE_HZ, 1000.0, 9.0, 12.0), 1000.0, True),
        ("resonance", lambda x: bell(x, RATE_HZ, 1000.0, 9.0, 0.5), 1000.0, False),
        ("sub_excess", lambda x: low_shelf(x, RATE_HZ, 80.0, 6.0), None, True),
        ("too_dark", lambda x: sound.high_shelf(x, RATE_HZ, 1500.0, -6.0), None, True),
        ("too_bright", lambda x: sound.high_shelf(x, RATE_HZ, 1500.0, -6.0), None, False),
        ("almost_mono", lambda x: sound.narrowed(x, -6.0), None, True),
        ("mono_loss", lambda x: sound.narrowed(x, -6.0), None, False),
        ("left_right_imbalance", lambda x: x * np.array([1.0, 0.8]), None, True),
        ("left_right_imbalance", lambda x: x * 0.8, None, False),
        ("too_dense", lambda x: np.clip(x, -0.15, 0.15), None, True),
        ("stray_peaks", lambda x: np.clip(x, -0.15, 0.15), None, False),
        ("clicks", lambda x: np.clip(x, -0.15, 0.15), None, False),  # nothing says that it is true
    ],
)
def test_what_moved_audibly_is_no_false_accusation(
    rule: str, change: Callable[[sound.Floats], sound.Floats], hz: float | None, true: bool
) -> None:
    assert brought_about(rule, finding(hz), sketch(noise(), RATE_HZ), sketch(change(noise()), RATE_HZ)) is true


def test_a_gain_brings_nothing_about() -> None:
    plain, quieter = sketch(noise(), RATE_HZ), sketch(noise() / 4, RATE_HZ)
    assert not any(brought_about(rule, finding(500.0), plain, quieter) for rule in (*TONE, *LEVEL))


def test_rows_add_up() -> None:
    score = Score("a", 0, "x", False, True, True, False, False, True, (New("b", sure=False, false=True),), "low")  # noqa: FBT003
    two = replace(score, song="y", named=False, already=True, right_way=None, new=())
    got = row([score, two])
    assert (got["songs"], got["found"], got["told at all"], got["already"]) == (2, 1, 2, 1)
    assert (got["right way"], got["with a remedy"], got["new"], got["new, more than a hint"]) == (1, 1, 1, 0)
    assert (got["new, false"], got["new, false, more than a hint"]) == (1, 0)


def test_every_rule_a_fault_names_exists() -> None:
    known = {name.partition("/")[2] for name in BY_ID}
    for fault in faults.FAULTS:
        assert fault.names | fault.follows <= known, fault.id


def test_sizes_grow() -> None:
    for fault in faults.FAULTS:
        steps = np.diff(fault.amounts)
        assert np.all(steps > 0.0) or np.all(steps < 0.0), fault.id


@pytest.mark.parametrize(("name", "plant", "level_lu"), [("lead", faults.lead_buried, -18.0), ("lead", faults.lead_raised, 6.0)])
def test_an_element_is_brought_to_its_level_in_its_stem_and_in_the_mix(name: str, plant: faults.Plant, level_lu: float) -> None:
    plain = song(lead=1.0, pads=1.0)
    planted = plant(plain, abs(level_lu))
    assert planted is not None
    assert planted.stems is not None
    assert planted.elements == {name}
    power = [
        float(np.mean(planted.stems[stem_name] ** 2)) for stem_name in ("lead", "pads")
    ]  # noise of one colour: K-weighting changes both alike
    assert 10 * np.log10(power[0] / power[1]) == pytest.approx(level_lu, abs=0.2)
    np.testing.assert_allclose(planted.mix, planted.stems["lead"] + plain.stems["pads"], atol=1e-12)


def test_all_drums_and_nothing_else_are_buried() -> None:
    plain = song(kick=1.0, snare=1.0, pads=1.0)
    planted = faults.drums_buried(plain, 13.0)
    assert planted is not None
    assert planted.stems is not None
    gain = planted.stems["kick"][0, 0] / plain.stems["kick"][0, 0]
    assert 20 * np.log10(gain) == pytest.approx(-16.0, abs=0.2)  # two drums together began 3 LU above the rest
    np.testing.assert_allclose(planted.mix, plain.rest + plain.drums * gain, atol=1e-12)
    assert faults.drums_buried(song(lead=1.0, pads=1.0), 13.0) is None


def test_what_lies_deep_already_is_not_buried() -> None:
    assert faults.drums_buried(song(kick=0.2, pads=1.0), 9.0) is None


@pytest.mark.parametrize("loss_db", [3.0, 6.0, 12.0])
def test_a_cancelled_kick_loses_its_low_end(loss_db: float) -> None:
    seconds = np.arange(4 * 44100) / 44100
    kick = np.stack([np.sin(2 * np.pi * 60 * seconds)] * 2, axis=1)
    plain = Stems("esp", 44100, {"kick": kick, "bass": np.zeros_like(kick)}, frozenset(("kick",)))
    planted = faults.kick_cancelled(plain, loss_db)
    assert planted is not None
    middle = slice(44100, 3 * 44100)
    assert 10 * np.log10(np.mean(planted.mix[middle] ** 2) / np.mean(kick[middle] ** 2)) == pytest.approx(-loss_db, abs=0.1)


def test_a_mix_is_made_as_narrow_as_is_said_unless_it_is_already() -> None:
    plain = song(lead=1.0)
    wide = Stems("wide", plain.rate_hz, {"lead": plain.mix * np.array([1.0, 0.3])}, frozenset())
    planted = faults.made_narrow(wide, 0.008)
    assert planted is not None
    middle, side = planted.mix.mean(axis=1), (planted.mix[:, 0] - planted.mix[:, 1]) / 2
    assert np.sum(side**2) / np.sum(middle**2 + side**2) == pytest.approx(0.008, rel=1e-6)
    assert faults.made_narrow(Stems("narrow", plain.rate_hz, {"lead": planted.mix}, frozenset()), 0.008) is None


def test_a_side_is_lowered_by_what_is_said() -> None:
    plain = song(lead=1.0)
    planted = faults.leaned(plain, 4.0)
    np.testing.assert_array_equal(planted.mix[:, 0], plain.mix[:, 0])
    np.testing.assert_allclose(planted.mix[:, 1], plain.mix[:, 1] * 10**-0.2)


def test_the_whole_right_channel_is_turned_over_at_a_share_of_one() -> None:
    plain = song(lead=1.0, pads=0.5)
    planted = faults.inverted(plain, 1.0)
    assert planted is not None
    np.testing.assert_allclose(planted.mix[:, 1], -plain.mix[:, 1], atol=1e-12)
    part = faults.inverted(plain, 0.15)
    assert part is not None
    np.testing.assert_allclose(part.mix[:, 1], plain.stems["lead"][:, 1] - plain.stems["pads"][:, 1], atol=1e-12)


def test_another_version_is_told_the_same_or_not() -> None:
    score = Score("hum", 2, "x", False, True, True, False, False, None, (), "low")  # noqa: FBT003
    comparison = compared([score, replace(score, song="y")], [score, replace(score, song="y", named=False), replace(score, song="z")])
    assert (comparison["songs"], comparison["plants"], comparison["same"]) == (["x", "y"], 2, 1)
    assert comparison["differences"] == ["hum, gross, y: found, then missed"]
