"""Which finding is which from bounce to bounce, and what became of it: cases worked out by hand."""

from itertools import pairwise

import pytest

from advisor.app.finding_key import FindingKey, SetAside
from advisor.judging.finding_history import aside_of, distance, follow, overlap, pairs, stays_aside, through
from advisor.judging.finding_records import BounceFindings, FindingHistory, PastFinding
from rules.shared.bells import bell_edges

RULE = "mixing/one"
ALL = frozenset({RULE, "mixing/two"})


def finding(excess: float = 1.0, band: tuple[float, float] | None = None, rule: str = RULE, **more: object) -> PastFinding:
    key = FindingKey(rule, more.get("stem"), band, more.get("side"))  # type: ignore[arg-type]
    return PastFinding(key, "Title", excess, bool(more.get("aside")))


def bounce(number: int, *findings: PastFinding, judged: frozenset[str] = ALL, elements: tuple[str, ...] = ()) -> BounceFindings:
    return BounceFindings(number, findings, judged, frozenset(elements))


def states(*bounces: BounceFindings) -> list[list[str]]:
    """Return the states told at each bounce, in order."""
    by_bounce: list[list[str]] = []
    histories: tuple[FindingHistory, ...] = ()
    for findings in bounces:
        changes, histories = follow(histories, findings)
        by_bounce.append([str(change.state) for change in changes])
    return by_bounce


@pytest.mark.parametrize(
    ("before", "now", "state"),
    [
        (None, 1.0, "new"),
        (1.0, 1.2, "still there"),
        (1.0, 0.8, "still there"),
        (1.0, 1.25, "worse"),
        (1.0, 0.75, "better"),
        (1.0, None, "solved"),
    ],
)
def test_one_finding_from_one_bounce_to_the_next(before: float | None, now: float | None, state: str) -> None:
    first = bounce(1, *([] if before is None else [finding(before)]))
    second = bounce(2, *([] if now is None else [finding(now)]))
    assert states(first, second)[1] == [state]


def test_what_was_solved_and_is_there_again_came_back_and_is_then_compared_again() -> None:
    story = states(bounce(1, finding()), bounce(2), bounce(3), bounce(4, finding(0.5)), bounce(5, finding(2.0)))
    assert story == [["new"], ["solved"], [], ["came back"], ["worse"]]


def test_a_finding_whose_rule_could_not_judge_is_not_called_solved() -> None:
    blind = bounce(2, judged=frozenset())
    assert states(bounce(1, finding()), blind, bounce(3, finding()), bounce(4))[1:] == [["not judged"], ["still there"], ["solved"]]


def test_a_finding_about_an_element_is_not_solved_by_leaving_its_stem_out() -> None:
    about = finding(stem="pad")
    without, with_it = bounce(2, elements=("kick",)), bounce(2, elements=("kick", "pad"))
    assert states(bounce(1, about, elements=("pad",)), without)[1] == ["not judged"]
    assert states(bounce(1, about, elements=("pad",)), with_it)[1] == ["solved"]


def test_other_elements_and_other_sides_are_other_findings() -> None:
    assert states(bounce(1, finding(side="left")), bounce(2, finding(side="right")))[1] == ["new", "solved"]
    both = ("pad", "bass")
    assert states(bounce(1, finding(stem="pad"), elements=both), bounce(2, finding(stem="bass"), elements=both))[1] == ["new", "solved"]


@pytest.mark.parametrize(
    ("first", "second", "same"),
    [
        ((200.0, 400.0), (200.0, 400.0), True),
        ((200.0, 400.0), (270.0, 540.0), True),  # 0.57 of an octave in common
        ((200.0, 400.0), (300.0, 600.0), False),  # 0.415 in common, centres 0.585 apart
        ((100.0, 1600.0), (1000.0, 1100.0), True),  # the narrower lies in the wider
        ((980.0, 1020.0), (1080.0, 1120.0), True),  # no overlap, a sixth of an octave apart
        ((980.0, 1020.0), (1300.0, 1340.0), False),  # 0.4 octaves apart
        ((200.0, 400.0), None, False),
        (None, None, True),
    ],
)
def test_bands(first: tuple[float, float] | None, second: tuple[float, float] | None, same: bool) -> None:
    assert (distance(FindingKey(RULE, band_hz=first), FindingKey(RULE, band_hz=second)) is not None) == same
    assert (distance(FindingKey(RULE, band_hz=second), FindingKey(RULE, band_hz=first)) is not None) == same


def test_overlap_is_counted_in_octaves_of_the_narrower() -> None:
    assert overlap((100.0, 400.0), (200.0, 400.0)) == pytest.approx(1.0)
    assert overlap((100.0, 400.0), (200.0, 800.0)) == pytest.approx(0.5)
    assert overlap((100.0, 200.0), (200.0, 400.0)) == 0.0


def test_a_narrow_peak_a_third_of_an_octave_away_is_the_same_only_where_nothing_nearer_is() -> None:
    here, near, far = (bell_edges(hz, 8.0) for hz in (1000.0, 1030.0, 1240.0))
    assert states(bounce(1, finding(band=here)), bounce(2, finding(band=far)))[1] == ["still there"]
    changes, _ = follow(through([bounce(1, finding(band=here))]), bounce(2, finding(band=far), finding(band=near)))
    assert {change.key.band_hz: change.state for change in changes} == {far: "new", near: "still there"}


def test_the_nearest_are_paired_first_and_each_only_once() -> None:
    bands = [bell_edges(hz, 1.0) for hz in (200.0, 260.0, 340.0)]
    histories = [FindingHistory(finding(band=band), 1) for band in bands]
    moved = [finding(band=bell_edges(hz, 1.0)) for hz in (335.0, 205.0, 255.0)]
    assert pairs(histories, moved) == {0: 2, 1: 0, 2: 1}
    assert pairs(histories, moved[::-1]) == {0: 1, 1: 0, 2: 2}


def test_an_open_finding_is_preferred_to_a_solved_one_at_equal_distance() -> None:
    histories = [FindingHistory(finding(), 1, solved=2), FindingHistory(finding(0.5), 3)]
    assert pairs(histories, [finding()]) == {0: 1}


def test_a_drifting_band_is_followed_step_by_step() -> None:
    path = [bell_edges(hz, 8.0) for hz in (1000.0, 1150.0, 1320.0, 1500.0)]
    assert distance(FindingKey(RULE, band_hz=path[0]), FindingKey(RULE, band_hz=path[-1])) is None
    story = states(*(bounce(number, finding(band=band)) for number, band in enumerate(path, 1)))
    assert story == [["new"], ["still there"], ["still there"], ["still there"]]
    assert all(distance(FindingKey(RULE, band_hz=here), FindingKey(RULE, band_hz=there)) is not None for here, there in pairwise(path))


def test_set_aside_stays_so_until_it_clearly_grows_then_it_came_back() -> None:
    set_asides = [SetAside(FindingKey(RULE), "Title", 1.5, "the idea", 1)]
    assert stays_aside(FindingKey(RULE), 2.5, set_asides)
    assert stays_aside(FindingKey(RULE), 0.2, set_asides)
    assert not stays_aside(FindingKey(RULE), 2.6, set_asides)
    assert not stays_aside(FindingKey("mixing/two"), 0.2, set_asides)
    story = states(bounce(1, finding(1.5)), bounce(2, finding(1.4, aside=True)), bounce(3, finding(2.6)), bounce(4, finding(2.6)))
    assert story == [["new"], ["set aside"], ["came back"], ["still there"]]


def test_the_nearest_decision_speaks_for_a_finding() -> None:
    set_asides = [
        SetAside(FindingKey(RULE, band_hz=band), "Title", 1.0, why, 1) for band, why in (((200.0, 400.0), "far"), ((220.0, 440.0), "near"))
    ]
    decision = aside_of(FindingKey(RULE, band_hz=(225.0, 450.0)), set_asides)
    assert decision is not None
    assert decision.because == "near"
    assert aside_of(FindingKey(RULE, band_hz=(2000.0, 4000.0)), set_asides) is None
