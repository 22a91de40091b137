"""One fact about an element is one card, whichever rules noticed it."""

from dataclasses import replace

import pytest

from advisor.app.settings import Settings
from advisor.app.yardstick import yardstick_of
from advisor.judging.judge import Card, judge
from advisor.measuring.measured import Measured
from advisor.report.markdown import details
from advisor.report.sections.critique.song.elements import RAW, _in_vain
from advisor.report_model.findings import FindingCard, RemedyTrial
from advisor.report_model.measurements import Measurements
from features.records.elements import Element, ElementDynamics, Elements
from rules.base import all_rules
from tests import records
from tests.advisor.report.test_plan_text import CUT, READINGS, card_of, report_with, step_of
from tests.rule_cases import healthy_song

RULES = tuple(rule for rule in all_rules() if Elements in rule.looks_at)


def cards(*changed: Element, **changes: object) -> list[Card]:
    song = {**healthy_song(), Elements: records.elements(*changed, **changes)}
    result = judge(Measured(song, ()), yardstick_of(Settings()), RULES)
    assert not result.failed
    return list(result.cards)


def test_a_song_without_stems_is_not_judged_by_them() -> None:
    song = healthy_song()
    del song[Elements]
    result = judge(Measured(song, ()), yardstick_of(Settings()), RULES)
    assert len(result.not_applicable) == len(RULES)


def test_an_element_that_is_gone_is_one_card_though_three_rules_might_speak() -> None:
    gone = records.element(
        "snare", masking={"audible_share": 0.02, "covered_by": (records.cover("pad", share=0.8, essential=False),)},
        level={"in_mix_lu": -26.0, "while_playing_lu": -25.0},
        level_plan={"stands_out_db": -19.0, "since_earlier_db": -15.0, "off_db": -18.0},
    )  # fmt: skip
    judged_cards = cards(gone, closeness_db=21.5)
    assert [(card.rule.id, card.finding.stem) for card in judged_cards] == [("mixing/element_changed", "snare")]
    assert {rule.id for rule, _ in judged_cards[0].also} == {"mixing/element_inaudible"}


def test_an_element_that_drowns_the_others_is_one_card_and_not_one_for_each_of_them() -> None:
    loud = records.element("pad", level={"in_mix_lu": 2.0}, level_plan={"off_db": 11.0})
    hidden = [
        records.element(name, masking={"covered_by": (records.cover("pad", share=0.6, excess_db=9.0, essential=False),)})
        for name in ("lead", "snare", "hats")
    ]
    judged_cards = cards(loud, *hidden, moves=(records.level_move(("pad",), None, 11.0),))
    assert [(card.rule.id, card.finding.stem) for card in judged_cards] == [("mixing/element_too_loud", "pad")]


def test_a_kick_under_the_bass_is_one_card() -> None:
    kick = records.element("kick", masking={"covered_by": (records.cover("bass", share=0.7, band_hz=(40.0, 100.0), essential=False),)})
    judged_cards = cards(kick, kick_and_bass=records.kick_and_bass(kick_audible_share=0.1))
    assert [(card.rule.id, card.finding.stem) for card in judged_cards] == [("mixing/bass_hides_kick", "kick")]


def test_a_lead_that_is_too_quiet_by_two_rules_is_one_card() -> None:
    lead = records.element("lead", masking={"audible_share": 0.2}, level_plan={"off_db": -9.0})
    judged_cards = cards(lead, lead_lu=-8.0, moves=(records.level_move(("lead",), None, -9.0),))
    assert len(judged_cards) == 1
    assert {judged_cards[0].rule.id, *(rule.id for rule, _ in judged_cards[0].also)} == {"mixing/element_too_quiet", "mixing/lead_level"}


@pytest.mark.parametrize("covers", [("bass", "pad"), ("pad", "bass")])
def test_one_element_covered_by_two_in_one_band_is_one_card(covers: tuple[str, str]) -> None:
    lead = records.element("lead", masking={"covered_by": tuple(records.cover(by, share=0.45, essential=False) for by in covers)})
    judged_cards = cards(lead)
    assert [card.finding.stem for card in judged_cards] == ["lead"]
    assert len(judged_cards[0].also) == 1


def test_what_did_not_help_is_not_offered_again_among_the_elements() -> None:
    def about(stem: str, *, helps: bool | None) -> FindingCard:
        trial = None if helps is None else RemedyTrial(CUT, "Less", READINGS, READINGS, 0.5, helps)
        return card_of(RAW, "Compress it", stem=stem, trial=trial)

    trials = (about("pad", helps=False), about("lead", helps=True), about("keys", helps=False), about("bass", helps=None))
    shown = report_with(*trials, plan=(step_of(1, RAW, "keys"),))
    assert _in_vain(shown) == {"pad"}
    dynamics = ElementDynamics("raw", (), 0, None, None, None, -20.0, 4.0, 20.0, 200.0, 6.0, ())
    stems = tuple(replace(records.element(name), dynamics=dynamics) for name in ("pad", "lead"))
    measured = Measurements.of_records([records.elements(*stems)])
    _, _, text = details(replace(shown, stems=stems, measurements=measured)).partition("### Does it need compression?")
    lines = [line for line in text.partition("###")[0].splitlines() if line.startswith("- ")]
    assert ["did not help" in line for line in lines] == [True, False]
