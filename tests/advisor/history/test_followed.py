"""Steps of a plan judged by what was measured: made by half, whole, twice, not at all, and with the rest of the mix changed too."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import freqz

from advisor.history.followed import FollowedMove, follow_up, verdict_of
from advisor.history.promised import advised, curve_db, promises
from advisor.history.spectral import shares
from advisor.report_model.report import Report
from features.processors.equalisers import eq
from features.records.elements import Element
from rules.remedy import Remedy
from tests import records
from tests.advisor.history.bounces import bounce, found, planned

Floats = NDArray[np.float64]

HZ = np.array(records.BANDS_HZ)
RULE = "mixing/one"
BELL = Remedy("bell", frequency_hz=300.0, gain_db=-4.0, q=1.0)
SHELF = Remedy("low_shelf", frequency_hz=60.0, gain_db=-5.0, q=0.7)
NARROW = Remedy("bell", frequency_hz=1200.0, gain_db=-6.0, q=8.0)


def drawn(remedy: Remedy) -> Floats:
    """Return a remedy's curve over the third octaves, by scipy, independent of the code under test."""
    rate_hz, hz, gain_db = 96000.0, remedy.frequency_hz or 0.0, remedy.gain_db or 0.0
    make = {"bell": eq.bell_sections, "low_shelf": eq.low_shelf_sections}[remedy.kind]
    b0, b1, b2, a1, a2 = make(rate_hz, hz, gain_db, remedy.q or 1.0)[0]
    fine = HZ[:, None] * 10.0 ** np.linspace(-0.05, 0.05, 41)[None, :]
    _, response = freqz([b0, b1, b2], [1.0, a1, a2], worN=fine.ravel(), fs=rate_hz)
    return np.asarray(10.0 * np.log10((np.abs(response.reshape(fine.shape)) ** 2).mean(axis=1)))


def faders(size_db: float, seed: int) -> Floats:
    """Return what faders of other elements do to a spectrum: smooth humps and hollows of about that size."""
    noise = np.random.default_rng(seed).normal(0.0, size_db * np.sqrt(3.0), len(HZ) + 2)
    return np.asarray(np.convolve(noise, np.ones(3) / 3.0, "valid"))


def with_tone(take: int, change_db: Floats, *rules: tuple[str, object]) -> Report:
    curve = tuple(float(level_db) for level_db in np.array(records.CURVE_DB) + change_db)
    return bounce(take, *rules, spectrum=records.spectrum(third_octave_db=curve))  # type: ignore[arg-type]


def pad(third_octave_db: Sequence[float] | Floats = (), in_mix_lu: float | None = None) -> Element:
    """Return a pad's stem with this spectrum or loudness in the mix."""
    levels = tuple(float(level) for level in third_octave_db)
    return records.element("pad", level={"third_octave_hz": records.BANDS_HZ, "third_octave_db": levels, "in_mix_lu": in_mix_lu})


def judged(change_db: Floats, *remedies: Remedy) -> list[FollowedMove]:
    """Return what became of steps with these remedies when the tone changed like that."""
    earlier = with_tone(1, np.zeros(len(HZ)), ("one", found(2.0)))
    for remedy in remedies:
        earlier = planned(earlier, RULE, remedy)
    promised = promises(earlier)
    return list(follow_up(promised, earlier, with_tone(2, change_db), [None] * len(promised), judged=[False] * len(promised)))


@pytest.mark.parametrize("remedy", [BELL, SHELF, NARROW])
@pytest.mark.parametrize(("share", "verdict"), [(0.0, "not done"), (0.5, "partly"), (1.0, "done"), (2.0, "overdone")])
@pytest.mark.parametrize("louder_db", [0.0, 3.0, -6.0])
def test_an_equaliser_is_found_by_the_share_of_it_whatever_the_level(remedy: Remedy, share: float, verdict: str, louder_db: float) -> None:
    (move,) = judged(share * drawn(remedy) + louder_db, remedy)
    assert move.verdict == verdict
    assert move.change is not None
    assert move.change.share == pytest.approx(share, abs=0.08)


@pytest.mark.parametrize(
    "change",
    [
        np.where(HZ > 3000.0, 3.0, 0.0),  # brighter
        np.where(HZ > 5000.0, -4.0, 0.0),  # darker
        -4.0 * np.exp(-(np.log2(HZ / 2500.0) ** 2)),  # a cut elsewhere
        np.random.default_rng(5).normal(0.0, 0.3, len(HZ)),  # faders here and there
    ],
    ids=["brighter", "darker", "cut elsewhere", "faders"],
)
@pytest.mark.parametrize(("share", "verdict"), [(0.0, "not done"), (1.0, "done")])
def test_what_else_was_changed_is_told_apart(change: Floats, share: float, verdict: str) -> None:
    (move,) = judged(change + share * drawn(BELL), BELL)
    assert move.verdict == verdict


def test_two_moves_are_told_apart_and_each_is_seen_without_the_other() -> None:
    near = Remedy("bell", frequency_hz=600.0, gain_db=-4.0, q=1.4)
    for first, second in ((1.0, 0.0), (0.0, 1.0), (1.0, 1.0), (0.5, 1.0)):
        move, other = judged(first * drawn(BELL) + second * drawn(near), BELL, near)
        assert move.verdict == verdict_of(first)
        assert other.verdict == verdict_of(second)


def test_a_large_change_right_there_makes_it_unsure() -> None:
    (clear,) = judged(drawn(BELL), BELL)
    (half_covered,) = judged(drawn(BELL) + faders(0.7, 2), BELL)
    (covered,) = judged(drawn(BELL) + faders(4.0, 2), BELL)
    assert clear.sure == "high"
    assert half_covered.sure in ("medium", "low")
    assert (covered.verdict, covered.sure) == ("not measurable", "low")


def test_it_says_when_it_went_the_other_way() -> None:
    (move,) = judged(-drawn(BELL), BELL)
    assert move.verdict == "not done"
    assert "the other way" in move.because


def test_a_move_on_one_part_is_held_against_what_its_trial_changed_in_the_mix() -> None:
    """The trial on what sustains changed the mix by half of the bell: half of the bell in the mix is all of what was promised."""
    octaves = 0.5 * drawn(BELL)[1:31].reshape(10, 3).mean(axis=1)
    earlier = planned(with_tone(1, np.zeros(len(HZ)), ("one", found(2.0))), RULE, BELL, [float(octave_db) for octave_db in octaves])
    (promise,) = promises(earlier)
    (move,) = follow_up([promise], earlier, with_tone(2, 0.5 * drawn(BELL)), [None], judged=[False])
    assert move.verdict == "done"
    assert move.change is not None
    assert move.change.share == pytest.approx(1.0, abs=0.1)


def test_a_move_on_an_element_is_read_from_its_stem_where_both_bounces_have_it() -> None:
    """In the mix the element's cut hardly shows; in its stem it is plain."""
    little = [-0.02] * 10
    on_pad = Remedy("bell", part="pad", frequency_hz=300.0, gain_db=-4.0, q=1.0)
    earlier = planned(bounce(1, ("one", found(1.0, stem="pad"))), RULE, on_pad, little)
    later = bounce(2)
    curve = np.full(len(HZ), -40.0)
    for share, verdict in ((1.0, "done"), (0.5, "partly"), (0.0, "not done")):
        before, after = replace(earlier, stems=(pad(curve),)), replace(later, stems=(pad(curve + share * drawn(BELL)),))
        (move,) = follow_up(promises(before), before, after, [None], judged=[False])
        assert move.verdict == verdict
    earlier = replace(earlier, stems=(pad(curve),))
    (move,) = follow_up(promises(earlier), earlier, later, [None], judged=[False])
    assert move.verdict == "not measurable"


def test_our_curves_are_those_of_the_processors() -> None:
    earlier = planned(planned(bounce(1, ("one", found())), RULE, BELL), RULE, SHELF)
    for promise, remedy in zip(promises(earlier), (BELL, SHELF), strict=True):
        curve = curve_db(promise, records.BANDS_HZ)
        assert curve is not None
        assert np.abs(curve - drawn(remedy))[HZ < 8000.0].max() < 0.06


@pytest.mark.parametrize("remedy", [BELL, SHELF, NARROW])
@pytest.mark.parametrize("size_db", [0.3, 1.0, 2.0])
def test_the_stated_error_is_about_the_error_made(remedy: Remedy, size_db: float) -> None:
    """Two standard errors must hold the truth in nearly all mixes in which other faders were moved too, and not be idle talk."""
    curve, within, errors = drawn(remedy), 0, []
    for seed in range(40):
        ((share, error),) = shares(0.5 * curve + faders(size_db, seed), [curve])
        within += abs(share - 0.5) < 2.0 * error
        errors.append(error / max(abs(share - 0.5), 0.02))
    assert within >= 36
    assert np.median(errors) < 8.0


def test_shares_of_alike_curves_are_shared_out() -> None:
    other = Remedy("bell", frequency_hz=310.0, gain_db=-4.0, q=1.0)
    both = shares(drawn(BELL) + drawn(other), [drawn(BELL), drawn(other)])
    assert all(share == pytest.approx(1.0, abs=0.1) for share, _ in both)


def moved(earlier: Report, later: Report, remedy: Remedy, left: float | None = None, *, could_tell: bool = True) -> FollowedMove:
    before = planned(earlier, RULE, remedy)
    (move,) = follow_up(promises(before), before, later, [left], judged=[could_tell])
    return move


@pytest.mark.parametrize(("balance_db", "verdict"), [(2.0, "not done"), (1.0, "partly"), (0.1, "done"), (-2.0, "overdone")])
def test_a_side_turned_down_is_read_from_the_balance(balance_db: float, verdict: str) -> None:
    earlier = bounce(1, ("one", found(1.0)), stereo=records.stereo(balance_db=2.0))
    later = bounce(2, stereo=records.stereo(balance_db=balance_db))
    assert moved(earlier, later, Remedy("gain", part="left", gain_db=-2.0)).verdict == verdict


def test_the_right_side_is_read_the_other_way_round() -> None:
    earlier = bounce(1, ("one", found(1.0)), stereo=records.stereo(balance_db=-2.0))
    later = bounce(2, stereo=records.stereo(balance_db=0.0))
    assert moved(earlier, later, Remedy("gain", part="right", gain_db=-2.0)).verdict == "done"


@pytest.mark.parametrize(("side_db", "verdict"), [(-3.0, "not done"), (-40.0, "done"), (-5.5, "partly")])
def test_a_low_end_made_mono_is_read_from_its_sides(side_db: float, verdict: str) -> None:
    earlier = bounce(1, ("one", found(1.0)), low_end=records.low_end(side_level_db=-3.0))
    later = bounce(2, low_end=records.low_end(side_level_db=side_db))
    assert moved(earlier, later, Remedy("mono_below", part="side", frequency_hz=120.0)).verdict == verdict


def test_sides_turned_down_are_read_from_their_share() -> None:
    earlier = bounce(1, ("one", found(1.0)), stereo=records.stereo(side_share=0.4))
    ratio = 0.4 / 0.6 * 10 ** (-0.3)  # 3 dB less side against the middle
    later = bounce(2, stereo=records.stereo(side_share=ratio / (1.0 + ratio)))
    move = moved(earlier, later, Remedy("side_gain", part="side", gain_db=-3.0))
    assert move.verdict == "done"
    assert move.change is not None
    assert move.change.measured == pytest.approx(-3.0)


@pytest.mark.parametrize(("audible_share", "verdict"), [(0.5, "not done"), (0.54, "partly"), (0.58, "done")])
def test_a_lift_of_the_drums_is_read_from_what_is_heard_of_them_as_its_trial_was(audible_share: float, verdict: str) -> None:
    earlier = planned(
        bounce(1, ("one", found(1.0)), hits=records.hits(audible_share_median=0.5)),
        RULE, Remedy("gain", part="percussive", gain_db=5.0), hits=0.08,
    )  # fmt: skip
    later = bounce(2, hits=records.hits(audible_share_median=audible_share))
    (move,) = follow_up(promises(earlier), earlier, later, [None], judged=[False])
    assert move.verdict == verdict


def test_more_than_the_plan_but_no_more_than_the_rule_asked_for_is_not_overdone() -> None:
    asked = Remedy("gain", part="left", gain_db=-3.0)
    earlier = bounce(1, ("one", found(1.0, remedy=asked)), stereo=records.stereo(balance_db=3.0))
    planned_less = planned(earlier, RULE, Remedy("gain", part="left", gain_db=-1.5))
    for balance_db, verdict in ((0.0, "done"), (-2.0, "overdone")):
        later = bounce(2, stereo=records.stereo(balance_db=balance_db))
        (move,) = follow_up(promises(planned_less), planned_less, later, [None], judged=[True])
        assert move.verdict == verdict


def test_what_other_moves_do_to_the_hits_is_taken_off_first() -> None:
    earlier = bounce(1, ("one", found(1.0)), hits=records.hits(audible_share_median=0.5), stereo=records.stereo(balance_db=2.0))
    earlier = planned(earlier, RULE, Remedy("gain", part="left", gain_db=-2.0), hits=0.06)
    earlier = planned(earlier, RULE, Remedy("gain", part="percussive", gain_db=5.0), hits=0.08)
    for balance_db, audible_share, verdict in ((0.0, 0.56, "not done"), (0.0, 0.64, "done"), (2.0, 0.58, "done")):
        later = bounce(2, hits=records.hits(audible_share_median=audible_share), stereo=records.stereo(balance_db=balance_db))
        _, drums = follow_up(promises(earlier), earlier, later, [None, None], judged=[False, False])
        assert drums.verdict == verdict


def test_an_element_is_read_from_its_stem() -> None:
    earlier = replace(bounce(1, ("one", found(1.0, stem="pad"))), stems=(pad(in_mix_lu=-8.0),))
    later = replace(bounce(2), stems=(pad(in_mix_lu=-10.9),))
    assert moved(earlier, later, Remedy("gain", part="pad", gain_db=-3.0)).verdict == "done"
    assert moved(earlier, later, Remedy("gain", part="music", gain_db=-3.0)).verdict == "done"
    assert (
        moved(earlier, replace(later, stems=None), Remedy("gain", part="pad", gain_db=-3.0), could_tell=False).verdict == "not measurable"
    )


@pytest.mark.parametrize(("left", "verdict"), [(None, "done"), (0.5, "done"), (1.0, "partly"), (2.0, "not done"), (3.0, "not done")])
def test_what_has_no_reading_is_judged_by_its_finding_and_never_high(left: float | None, verdict: str) -> None:
    move = moved(bounce(1, ("one", found(2.0))), bounce(2), Remedy("compressor", threshold_dbfs=-20.0), left)
    assert move.verdict == verdict
    assert move.sure == ("medium" if left is None else "low")


def test_it_is_less_sure_where_the_finding_says_otherwise() -> None:
    earlier = bounce(1, ("one", found(2.0)), stereo=records.stereo(balance_db=2.0))
    made, idle = (bounce(2, stereo=records.stereo(balance_db=balance_db)) for balance_db in (0.0, 2.0))
    remedy = Remedy("gain", part="left", gain_db=-2.0)
    assert moved(earlier, made, remedy, None).sure == "high"
    assert moved(earlier, made, remedy, 2.0).sure == "medium"
    assert "not gone" in moved(earlier, made, remedy, 2.0).because
    assert "something else" in moved(earlier, idle, remedy, None).because


def test_nothing_to_measure_is_said_so() -> None:
    mono = bounce(2, stereo=records.stereo(balance_db=None))
    move = moved(bounce(1, ("one", found(1.0))), mono, Remedy("gain", part="left", gain_db=-2.0), could_tell=False)
    assert move.verdict == "not measurable"
    assert move.change is None


def test_advised_moves_are_one_for_each_cause_and_leave_out_what_no_tool_mends() -> None:
    report = bounce(1, ("one", found(2.0, remedy=BELL)), ("two", found(1.0)), ("three", found(1.0, remedy=Remedy("none"))))
    assert [promise.key.rule for promise in advised(report)] == [RULE]
