"""Which finding is which from bounce to bounce, and what became of it: cases worked out by hand."""

from itertools import pairwise

import pytest

from advisor.app.finding_key import Mark, SetAside
from advisor.judging.finding_history import aside_of, distance, follow, overlap, pairs, stays_aside, through
from advisor.judging.finding_records import Looked, Seen, Thread
from rules.shared.bells import bell_edges

RULE = "mixing/one"
ALL = frozenset({RULE, "mixing/two"})


def seen(excess: float = 1.0, band: tuple[float, float] | None = None, rule: str = RULE, **more: object) -> Seen:
    mark = Mark(rule, more.get("stem"), band, more.get("side"))  # type: ignore[arg-type]
    return Seen(mark, "Title", excess, bool(more.get("aside")))


def looked(number: int, *found: Seen, judged: frozenset[str] = ALL, elements: tuple[str, ...] = ()) -> Looked:
    return Looked(number, found, judged, frozenset(elements))


def states(*bounces: Looked) -> list[list[str]]:
    """Return the states told at each bounce, in order."""
    told: list[list[str]] = []
    threads: tuple[Thread, ...] = ()
    for one in bounces:
        became, threads = follow(threads, one)
        told.append([str(each.state) for each in became])
    return told


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
    first = looked(1, *([] if before is None else [seen(before)]))
    second = looked(2, *([] if now is None else [seen(now)]))
    assert states(first, second)[1] == [state]


def test_what_was_solved_and_is_there_again_came_back_and_is_then_compared_again() -> None:
    told = states(looked(1, seen()), looked(2), looked(3), looked(4, seen(0.5)), looked(5, seen(2.0)))
    assert told == [["new"], ["solved"], [], ["came back"], ["worse"]]


def test_a_finding_whose_rule_could_not_judge_is_not_called_solved() -> None:
    blind = looked(2, judged=frozenset())
    assert states(looked(1, seen()), blind, looked(3, seen()), looked(4))[1:] == [["not judged"], ["still there"], ["solved"]]


def test_a_finding_about_an_element_is_not_solved_by_leaving_its_stem_out() -> None:
    about = seen(stem="pad")
    without, with_it = looked(2, elements=("kick",)), looked(2, elements=("kick", "pad"))
    assert states(looked(1, about, elements=("pad",)), without)[1] == ["not judged"]
    assert states(looked(1, about, elements=("pad",)), with_it)[1] == ["solved"]


def test_other_elements_and_other_sides_are_other_findings() -> None:
    assert states(looked(1, seen(side="left")), looked(2, seen(side="right")))[1] == ["new", "solved"]
    both = ("pad", "bass")
    assert states(looked(1, seen(stem="pad"), elements=both), looked(2, seen(stem="bass"), elements=both))[1] == ["new", "solved"]


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
    assert (distance(Mark(RULE, band_hz=first), Mark(RULE, band_hz=second)) is not None) == same
    assert (distance(Mark(RULE, band_hz=second), Mark(RULE, band_hz=first)) is not None) == same


def test_overlap_is_counted_in_octaves_of_the_narrower() -> None:
    assert overlap((100.0, 400.0), (200.0, 400.0)) == pytest.approx(1.0)
    assert overlap((100.0, 400.0), (200.0, 800.0)) == pytest.approx(0.5)
    assert overlap((100.0, 200.0), (200.0, 400.0)) == 0.0


def test_a_narrow_peak_a_third_of_an_octave_away_is_the_same_only_where_nothing_nearer_is() -> None:
    here, near, far = (bell_edges(hz, 8.0) for hz in (1000.0, 1030.0, 1240.0))
    assert states(looked(1, seen(band=here)), looked(2, seen(band=far)))[1] == ["still there"]
    became, _ = follow(through([looked(1, seen(band=here))]), looked(2, seen(band=far), seen(band=near)))
    assert {one.mark.band_hz: one.state for one in became} == {far: "new", near: "still there"}


def test_the_nearest_are_paired_first_and_each_only_once() -> None:
    bands = [bell_edges(hz, 1.0) for hz in (200.0, 260.0, 340.0)]
    threads = [Thread(seen(band=band), 1) for band in bands]
    moved = [seen(band=bell_edges(hz, 1.0)) for hz in (335.0, 205.0, 255.0)]
    assert pairs(threads, moved) == {0: 2, 1: 0, 2: 1}
    assert pairs(threads, moved[::-1]) == {0: 1, 1: 0, 2: 2}


def test_an_open_finding_is_preferred_to_a_solved_one_at_equal_distance() -> None:
    threads = [Thread(seen(), 1, solved=2), Thread(seen(0.5), 3)]
    assert pairs(threads, [seen()]) == {0: 1}


def test_a_drifting_band_is_followed_step_by_step() -> None:
    path = [bell_edges(hz, 8.0) for hz in (1000.0, 1150.0, 1320.0, 1500.0)]
    assert distance(Mark(RULE, band_hz=path[0]), Mark(RULE, band_hz=path[-1])) is None
    told = states(*(looked(number, seen(band=band)) for number, band in enumerate(path, 1)))
    assert told == [["new"], ["still there"], ["still there"], ["still there"]]
    assert all(distance(Mark(RULE, band_hz=one), Mark(RULE, band_hz=other)) is not None for one, other in pairwise(path))


def test_set_aside_stays_so_until_it_clearly_grows_then_it_came_back() -> None:
    kept = [SetAside(Mark(RULE), "Title", 1.5, "the idea", 1)]
    assert stays_aside(Mark(RULE), 2.5, kept)
    assert stays_aside(Mark(RULE), 0.2, kept)
    assert not stays_aside(Mark(RULE), 2.6, kept)
    assert not stays_aside(Mark("mixing/two"), 0.2, kept)
    told = states(looked(1, seen(1.5)), looked(2, seen(1.4, aside=True)), looked(3, seen(2.6)), looked(4, seen(2.6)))
    assert told == [["new"], ["set aside"], ["came back"], ["still there"]]


def test_the_nearest_decision_speaks_for_a_finding() -> None:
    kept = [SetAside(Mark(RULE, band_hz=band), "Title", 1.0, why, 1) for band, why in (((200.0, 400.0), "far"), ((220.0, 440.0), "near"))]
    decision = aside_of(Mark(RULE, band_hz=(225.0, 450.0)), kept)
    assert decision is not None
    assert decision.because == "near"
    assert aside_of(Mark(RULE, band_hz=(2000.0, 4000.0)), kept) is None
