"""How much of the hits is heard, and what covers them."""

from math import sqrt

import pytest

from features.records.balance import Balance, Bell
from features.records.base import Absence, Moment, Span
from features.records.hits import Hits
from rules.base import Finding
from rules.mixing.masking import buried_hits
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found, reason

LIMITS = buried_hits.Limits()
LOW_MIDS = (120.0, 400.0)
BELL = Bell(250.0, 5.0, 1.0, 2.2, parts_agree=False, part="sustained", where=())


def covered(**changes: object) -> Hits:
    ordinary: dict[str, object] = {
        "audible_share_median": 0.25,
        "buried_share": 0.75,
        "masking_band_share": 0.55,
        "percussive_share": 0.4,
        "worst": (Moment(50.0, 60.0, 0.4),),
    }
    return records.hits(**{**ordinary, **changes})


def fired(hits: Hits | None = None, balance: Balance | None = None) -> Finding:
    return found(buried_hits.check(hits or covered(), balance or records.balance(), LIMITS))


def test_fires_with_how_many_how_much_and_by_which_band() -> None:
    finding = fired()
    wanted = {"percussive": 0.4, "count": 360, "buried": 0.75, "audible": 0.25, "masker_share": 0.55, "low": "120 Hz", "high": "400 Hz"}
    assert {name: finding.numbers[name] for name in wanted} == wanted
    assert finding.excess == pytest.approx(4.0)  # (0.6 - 0.25) * 33 / 2, at most 4
    assert finding.where == (Span(50.0, 60.0),)


def test_fires_with_the_drums_raised_or_else_a_cut_in_what_covers_them() -> None:
    centre_hz = sqrt(120.0 * 400.0)
    raised = Remedy(kind="gain", part="percussive", gain_db=6.0)
    cut = Remedy(kind="bell", part="sustained", frequency_hz=centre_hz, gain_db=-2.5, q=centre_hz / 280.0)
    finding = fired()
    assert (finding.remedy, finding.others) == (raised, (cut,))
    assert str(finding.numbers["move"]).startswith("Raise the drums")
    piled_up = fired(balance=records.balance(bells=(BELL,)))
    assert (piled_up.remedy, piled_up.others) == (cut, (raised,))
    assert str(piled_up.numbers["move"]).startswith("Cut 2.5 dB around 220 Hz")
    soft = fired(covered(percussive_share=0.34), records.balance(bells=(BELL,)))
    assert soft.remedy == raised, "soft drums let any region stand out"


@pytest.mark.parametrize(("audible", "percussive", "raised_db"), [(0.55, 0.4, 4.6), (0.60, 0.2, 5.6), (0.68, 0.34, 2.0), (0.3, 0.1, 6.0)])
def test_fires_with_what_the_usual_song_has_of_either(audible: float, percussive: float, raised_db: float) -> None:
    """33 dB for each unit of audible share below 0.69; level of what strikes as at 0.35 of the energy, of which 0.6 is reached."""
    assert buried_hits.lift_db(audible, percussive) == pytest.approx(raised_db, abs=0.05)


def test_fires_one_further_for_every_two_decibels_that_the_drums_are_too_soft() -> None:
    assert fired(covered(audible_share_median=0.6 - 4.0 / 33.0, buried_share=0.2)).excess == pytest.approx(2.0)


def test_fires_when_what_strikes_holds_little_of_the_energy() -> None:
    finding = fired(covered(audible_share_median=0.7, buried_share=0.2, percussive_share=0.18))
    assert finding.excess == pytest.approx(1.0)
    assert finding.confidence == "low"


def test_fires_with_the_cause_of_a_build_up_when_the_covering_band_stands_too_high() -> None:
    risen = tuple(4.0 if LOW_MIDS[0] <= hz <= LOW_MIDS[1] else 0.0 for hz in records.BANDS_HZ)
    assert fired().cause == "buried"
    assert fired(balance=records.balance(deviation_db=risen, unusual=tuple(third_db / 3.0 for third_db in risen))).cause == "excess"
    assert fired(balance=records.balance(deviation_db=risen)).cause == "buried", "within what songs do"
    assert fired(balance=records.balance(bells=(BELL,))).cause == "excess"


@pytest.mark.parametrize(
    ("median", "buried", "percussive", "confidence"),
    [(0.1, 0.9, 0.2, "medium"), (0.59, 0.4, 0.2, "medium"), (0.61, 0.7, 0.2, "medium"), (0.1, 0.9, 0.4, "low"), (0.7, 0.2, 0.2, "low")],
)
def test_fires_more_surely_where_two_separate_signs_agree(median: float, buried: float, percussive: float, confidence: str) -> None:
    """How much of the usual hit is heard, and how many hits are covered, are read off the same masking."""
    hits = covered(audible_share_median=median, buried_share=buried, percussive_share=percussive)
    assert fired(hits).confidence == confidence


def test_quiet_at_both_limits() -> None:
    assert buried_hits.check(covered(audible_share_median=0.6, buried_share=0.45, percussive_share=0.22), records.balance(), LIMITS) is None


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"count": 15}, "only 15 hits"),
        ({"times_s": (0.0, 400.0)}, "too seldom"),
        ({"percussive_share": None, "absent": (Absence("percussive_share", "the file is silent"),)}, "silent"),
        (
            {"audible_share_median": None, "absent": (Absence("audible_share_median", "no hits in the dense parts"),)},
            "no hits in the dense",
        ),
        ({"masking_band_hz": None}, "masking_band_hz"),
    ],
)
def test_not_applicable_without_hits(changes: dict[str, object], words: str) -> None:
    assert words in reason(buried_hits.check(covered(**changes), records.balance(), LIMITS))
