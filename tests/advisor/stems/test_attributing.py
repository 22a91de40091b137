"""Findings about the mix are laid on the elements that carry them, and the report says so."""

from dataclasses import replace
from typing import get_args

import numpy as np
import pytest

from advisor.app.settings import Settings
from advisor.history.reading import key_of
from advisor.judging.judge import Card, Judged
from advisor.measuring.measured import Measured
from advisor.report.attribution_words import attribution_words
from advisor.report.build import build
from advisor.report_model.parts import Verdict
from advisor.report_model.report import Report
from advisor.stems.attributing import about_of, attributed, meant_words, without_meant
from features.records.elements import Attribution, ElementShare, Sharing
from features.sound.signal import Signal
from rules.base import Finding, all_rules
from tests.advisor.samples import all_records, finding, rule_that, written
from tests.sounds import stem_song

RATE_HZ = 44100


def card(sharing: Sharing | None, about_mix: Finding | None = None) -> Card:
    """Return a card about the mix."""
    about_mix = about_mix or finding(1.0)
    return Card(replace(rule_that(about_mix), shared=sharing), about_mix)


def judged(*cards: Card) -> Judged:
    return Judged(cards, (), (), ())


def carried_by(*shares: tuple[str, float], left: float = 0.0) -> Attribution:
    return Attribution("element", tuple(ElementShare(*share) for share in shares), left)


def test_only_what_elements_can_carry_is_shared_out() -> None:
    assert about_of(card("offset")) is not None
    assert about_of(card(None)) is None
    assert about_of(card("power", replace(finding(1.0), stem="pad"))) is None
    assert about_of(card("power", finding(1.0, cause="lack"))) is None


def test_the_cards_stay_in_their_order_and_the_offset_is_the_basses() -> None:
    stems = stem_song.stems()
    stems = {**stems, "bassline": stems["bassline"] + np.float32(0.03)}
    parts = {name: Signal(np.ascontiguousarray(sound), RATE_HZ) for name, sound in stems.items()}
    mix = Signal(stem_song.mixed(stems), RATE_HZ)
    first, second, third = attributed(judged(card(None), card("offset"), card("end")), parts, mix).cards
    assert first.attribution is None
    assert second.stem == "bassline"
    assert third.attribution is not None


def test_no_finding_about_the_mix_costs_no_reading() -> None:
    before = judged(card(None))
    assert attributed(before, {}, Signal(np.zeros((2, 1), np.float32), RATE_HZ)) is before


def test_the_report_speaks_of_the_element_and_the_history_of_the_mix() -> None:
    laid_card = replace(card("offset"), attribution=carried_by(("bass", 0.8), ("kick", 0.15)))
    report = build_of(laid_card)
    (reported,) = report.findings
    assert reported.stem == "bass"
    assert key_of(reported).stem is None
    assert attribution_words(reported) == "'bass' carries 80% of it, 'kick' 15%"
    document = written(report)["findings"][0]
    assert document["attribution"] == {
        "carrier": "element", "shares": [{"name": "bass", "share": 0.8}, {"name": "kick", "share": 0.15}], "left_over": 0.0,
    }  # fmt: skip


def build_of(laid_card: Card) -> Report:
    """Return the report with one card."""
    return build(Measured(all_records(), ()), judged(laid_card), Verdict(ready=False, sentence="So."), Settings(), ())


@pytest.mark.parametrize(
    ("attribution", "words"),
    [
        (None, ""),
        (carried_by(("bass", 0.97)), "'bass' carries nearly all of it"),
        (replace(carried_by(("a", 0.4), ("b", 0.3)), carrier="several"), "'a' carries 40% of it, 'b' 30%"),
        (Attribution("sum", (), 0.1), "No single element carries much of it: it arises where they add up"),
        (
            Attribution("left over", (), 0.9),
            "It is not in your stems: it comes from the mix bus, or from a track that is missing among them",
        ),
    ],
)
def test_words(attribution: Attribution | None, words: str) -> None:
    assert attribution_words(build_of(replace(card("offset"), attribution=attribution)).findings[0]) == words


def test_rules_about_the_mix_say_how_they_are_shared_out() -> None:
    shared = {rule.id: rule.shared for rule in all_rules() if rule.shared is not None}
    assert set(shared.values()) <= set(get_args(Sharing))
    assert shared["delivery/dc_offset"] == "offset"


def test_what_is_meant_is_set_aside_and_said_to_be() -> None:
    crackle = replace(card("breaks"), attribution=carried_by(("crackle", 0.9)))
    before = judged(crackle, card("offset"))
    after = without_meant(before, frozenset({"crackle"}))
    assert (after.cards, after.set_aside) == (before.cards[1:], (crackle,))
    assert meant_words(after, frozenset({"crackle"})) == ("Left out, since stems.toml says that it is meant: Title of one.",)
    assert without_meant(before, frozenset({"pad"})) is before
    assert meant_words(before, frozenset()) == ()
