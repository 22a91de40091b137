"""Pictures of the elements: what they show of each, and when there is nothing to show."""

from advisor.pictures.colours import MARK, SONG
from advisor.pictures.critique.elements import covers, levels, levels_over_parts, places
from tests import records
from tests.advisor.pictures.drawings import drawing, seen, with_stems
from tests.advisor.samples import report


def test_levels_come_loudest_first_with_their_usual_range() -> None:
    there = seen(levels, with_stems())
    assert there.alternative.startswith("Elements, loudest first. lead: -3.5 LU, usually -16.3 to -3.5 LU, 80% audible. kick: -4.3 LU")
    assert there.marks[MARK] == 0


def test_an_element_outside_its_usual_range_is_marked() -> None:
    there = seen(levels, with_stems(records.element("kick"), records.element("bass", level={"while_playing_lu": -15.0})))
    assert there.marks[MARK] == 1
    assert "the diamond stands outside it" in there.caption


def test_levels_need_two_elements() -> None:
    assert drawing(levels, with_stems(records.element("kick"))) is None
    assert drawing(levels, report()) is None


def test_covers_are_listed_strongest_first() -> None:
    quiet = records.element("pad", masking={"covered_by": (records.cover("lead", share=0.4), records.cover("hats", share=0.01))})
    loud = records.element("kick", masking={"covered_by": (records.cover("bass", share=0.2),)})
    there = seen(covers, with_stems(quiet, loud))
    assert there.alternative == "Which element masks which. lead masks 40% of pad. bass masks 20% of kick."
    assert "'lead' masks 40% of 'pad'" in there.caption
    assert sum(element.tag == "use" for element in there.root.iter()) >= 2


def test_nobody_covered_no_picture() -> None:
    assert drawing(covers, with_stems(records.element("kick", masking={"covered_by": ()}))) is None
    assert drawing(covers, report()) is None


def test_places_run_from_left_to_right() -> None:
    stems = [records.element(name, level={"pan_db": pan}) for name, pan in (("hats", 6.0), ("pad", -3.0), ("kick", 0.2))]
    there = seen(places, with_stems(*stems))
    assert there.alternative == "Elements from left to right: pad 3.0 dB to the left, hats 6.0 dB to the right. In the middle: kick."
    assert there.marks[SONG] >= 2


def test_all_in_the_middle_no_picture() -> None:
    assert drawing(places, with_stems()) is None


def height_of(path: list[str]) -> float:
    """Return how far a path of lines reaches from top to bottom."""
    ups = [float(part) for part in path if part not in {"M", "L", "z"}][1::2]
    return max(ups) - min(ups)


def test_levels_over_the_parts_show_who_rests() -> None:
    parts = {"kick": (-30.0, -4.0, -4.5, -4.0, None), "pad": (-8.0, -12.0, None, -11.0, -6.0)}
    there = seen(levels_over_parts, with_stems(*(records.element(name, level={"parts_lu": levels}) for name, levels in parts.items())))
    assert "kick: -30.0, -4.0, -4.5, -4.0, rests." in there.alternative
    assert "in the parts from 0:00, 0:20, 1:10, 2:00, 3:00" in there.alternative
    kick, pad = (path.get("d", "").split() for path in there.root.iter("path") if path.get("fill") == SONG.variable)
    assert height_of(kick) > height_of(pad) > 0.0


def test_levels_of_a_report_without_parts_are_not_drawn() -> None:
    assert drawing(levels_over_parts, with_stems()) is None


def test_names_from_files_are_shown_as_they_are() -> None:
    name = "<b>$x_1$</b>"
    there = seen(levels, with_stems(records.element(name), records.element("kick")))
    assert name in there.words
    assert name in there.root.get("aria-label", "")


def test_a_name_that_no_font_has_is_drawn_without_a_warning() -> None:
    there = seen(levels, with_stems(records.element("音の壁\u202e\x07"), records.element("kick")))
    assert any(words.startswith("音の壁") for words in there.words)
