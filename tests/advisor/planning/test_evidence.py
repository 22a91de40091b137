"""As much as the evidence carries: caps from a song's curve and from its elements' levels, on made-up readings."""

from dataclasses import replace

import numpy as np
import pytest

from advisor.judging.judge import Card
from advisor.planning.evidence import LEAST_DB, MOST_ON_THE_MIX_DB, UNTIL_HEARD_DB, Evidence
from features.outcomes.tone_faults import ToneFaults
from rules.base import Cause
from rules.remedy import Remedy
from tests import records
from tests.advisor.samples import finding, rule_that

BANDS_HZ = np.array([50.0, 100.0, 200.0, 400.0, 800.0])


def carried(evidence: Evidence, remedy: Remedy, cause: Cause = "excess") -> float | None:
    """Return the gain that is left of a remedy, and of the same as one of several."""
    with_remedy = replace(finding(), remedy=remedy, others=(remedy,), cause=cause)
    after = evidence.carried(Card(rule_that(with_remedy), with_remedy)).finding
    assert after.remedy is not None
    assert after.others == (after.remedy,)
    return after.remedy.gain_db


def bell(gain_db: float, part: str = "mix") -> Remedy:
    return Remedy("bell", part, frequency_hz=200.0, gain_db=gain_db, q=1.0)


def tone(*expected_db: float) -> Evidence:
    return Evidence(ToneFaults(BANDS_HZ, np.array(expected_db)))


def test_a_tone_move_takes_off_no_more_than_is_likely_a_fault() -> None:
    assert carried(tone(0.0, 0.0, 2.0, 0.0, 0.0), bell(-6.0)) == -2.0
    assert carried(tone(0.0, 0.0, 2.0, 0.0, 0.0), bell(-1.0)) == -1.0
    assert carried(tone(0.0, 0.0, -2.0, 0.0, 0.0), bell(6.0)) == 2.0
    assert carried(tone(0.0, 0.0, -2.0, 0.0, 0.0), bell(-6.0)) == -LEAST_DB, "the curve says the opposite"


def test_the_whole_mix_is_moved_by_at_most_3_db() -> None:
    assert carried(tone(0.0, 0.0, 9.0, 0.0, 0.0), bell(-8.0)) == -MOST_ON_THE_MIX_DB
    assert carried(Evidence(), bell(-8.0)) == -MOST_ON_THE_MIX_DB
    assert carried(tone(0.0, 0.0, 0.0, 0.0, 0.0), bell(-8.0), cause="narrow") == -MOST_ON_THE_MIX_DB, "third octaves do not show it"


def test_what_is_no_tone_is_left_as_it_was_read() -> None:
    for remedy in (Remedy("gain", "left", gain_db=-2.4), Remedy("polarity", "left"), Remedy("compressor", threshold_dbfs=-20.0)):
        assert carried(tone(0.0, 0.0, 0.0, 0.0, 0.0), remedy) == remedy.gain_db


FADERS = Evidence(
    None,
    (records.level_move(("kick", "snare"), "drums", -6.0, 0.5), records.level_move(("lead",), None, 5.0, 0.5)),
    (("drums", ("kick", "snare")),),
)


@pytest.mark.parametrize(
    ("part", "gain_db", "left_db"),
    [
        ("lead", -6.0, -2.5),
        ("lead", -1.0, -1.0),
        ("lead", 6.0, LEAST_DB),  # it lies too high, not too low
        ("pad", -6.0, -LEAST_DB),  # where such elements usually stand
        ("drums", 6.0, 3.0),  # as a group
        ("kick", 6.0, 3.0),  # as one of it
    ],
)
def test_an_elements_fader_moves_no_further_than_the_levels_carry(part: str, gain_db: float, left_db: float) -> None:
    assert carried(FADERS, Remedy("gain", part, gain_db=gain_db), cause="level") == left_db


def test_what_is_hardly_heard_may_be_raised_until_it_is() -> None:
    hidden = replace(FADERS, hardly_heard=frozenset({"pad"}))
    assert carried(hidden, Remedy("gain", "pad", gain_db=6.0), cause="level") == UNTIL_HEARD_DB
    assert carried(hidden, Remedy("gain", "pad", gain_db=-6.0), cause="level") == -LEAST_DB


def test_what_hides_others_may_be_lowered_until_they_are_heard() -> None:
    loud = replace(FADERS, hiding=frozenset({"pad"}))
    assert carried(loud, Remedy("gain", "pad", gain_db=-6.0), cause="level") == -UNTIL_HEARD_DB
    assert carried(loud, Remedy("gain", "pad", gain_db=6.0), cause="level") == LEAST_DB
