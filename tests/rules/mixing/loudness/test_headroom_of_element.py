"""What a single element costs in loudness."""

import pytest

from features.records.base import Absence
from features.records.elements import Element, Elements
from features.records.outlook import Outlook
from rules.base import Finding
from rules.mixing.loudness import headroom_of_element
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found, reason

LIMITS = headroom_of_element.Limits()
SHORT = records.outlook(clean_lufs=-15.0, margin_lu=-2.0, reaches_target=False)


def costly(won_lu: float | None = 0.4, **level: object) -> Element:
    return records.element("kick", headroom={"lu_per_db": won_lu, "lu_out": 2.5}, level=level)


def fired(element: Element | None = None, outlook: Outlook = SHORT) -> Finding:
    return found(headroom_of_element.check(records.elements(element or costly()), outlook, LIMITS))


def test_fires_with_what_it_wins_and_what_the_next_one_does() -> None:
    finding = fired()
    wanted = {"name": "'kick'", "won_lu": 0.4, "second": "'bass'", "next_lu": 0.1, "move": "Pull 'kick' down about 1.5 dB"}
    assert finding.numbers == wanted
    assert (finding.stem, finding.remedy) == ("kick", Remedy("gain", "kick", gain_db=-1.5))
    assert finding.excess == pytest.approx(1.0)  # (0.4 - 0.25) / 0.15


def test_fires_with_its_peaks_where_they_are_what_costs() -> None:
    finding = fired(costly(crest_db=20.0, sample_peak_dbfs=-4.0))
    assert finding.remedy == Remedy("peak_limiter", "kick", ceiling_dbfs=-7.0)
    assert finding.others == (Remedy("gain", "kick", gain_db=-1.5),)
    assert finding.cause == "peaks"


def test_fires_never_as_if_it_were_a_fault() -> None:
    assert fired(costly(3.0)).excess == 1.5


@pytest.mark.parametrize("won_lu", [0.2499, 0.1, -0.2])
def test_quiet_when_it_wins_little(won_lu: float) -> None:
    assert headroom_of_element.check(records.elements(costly(won_lu)), SHORT, LIMITS) is None


def test_quiet_when_another_one_costs_nearly_as_much() -> None:
    bass = records.element("bass", headroom={"lu_per_db": 0.3, "lu_out": 2.0})
    assert headroom_of_element.check(records.elements(costly(0.4), bass), SHORT, LIMITS) is None


def test_quiet_when_the_mix_reaches_the_loudness_asked_for() -> None:
    assert headroom_of_element.check(records.elements(costly()), records.outlook(), LIMITS) is None


@pytest.mark.parametrize(
    ("song", "outlook", "words"),
    [
        (records.elements(elements=(costly(), records.element("bass", headroom=None))), SHORT, "was not worked out"),
        (records.elements(costly()), records.outlook(reaches_target=None, absent=(Absence("reaches_target", "silent"),)), "silent"),
    ],
)
def test_not_applicable_where_it_was_not_worked_out(song: Elements, outlook: Outlook, words: str) -> None:
    assert words in reason(headroom_of_element.check(song, outlook, LIMITS))


def test_quiet_while_a_fader_lies_off_unless_it_is_this_one_that_is_too_loud() -> None:
    for name, off_db, fires in (("pad", 9.0, False), ("kick", -9.0, False), ("kick", 9.0, True)):
        song = records.elements(costly(), moves=(records.level_move((name,), None, off_db),))
        assert (headroom_of_element.check(song, SHORT, LIMITS) is not None) == fires
