"""The trade's own English: rules and their pages, remedies, readings and the report hold no phrase of our own dialect."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from advisor.app.words import STOPPED_BY, TOPICS
from advisor.remedies.careful import NOT_SURE, TOO_DEEP
from advisor.remedies.discovery import all_kinds
from advisor.remedies.parts import WORDS
from advisor.report.filling import TEMPLATES
from features.records.base import Reading, readings_of, record_kinds
from rules.base import HEADINGS, Finding, Rule, all_rules
from rules.remedy import Remedy
from tests.rules.test_registry import fired
from tests.walks import for_every

DROPPED = (
    "unheard", "in the way", "heard of each hit", "of it is heard", "is hollow", "stands out of", "ends at a wall", "one slot",
    "stick out of", "upside down", "hits lose", "what covers what", "hits are covered", "lies far from", "lie far apart", "leans to one",
    "is much lost", "constant offset", "few bits", "evened out", "swings to", "no move to advise", "ready for mastering", "psr", "plr",
    "clean limit here", "jumps in level", "steps all at once", "what sustains", "what strikes", "told", "mended", "is after",
    "mend", "heard of", "of it heard", "hit loss", "goes less loud", "even out loudness", "still in the way", "the energy that strikes",
    "told apart", "midst", "no move to advise", "holds on",
)  # fmt: skip
MOST_TITLE_WORDS = 5
MOST_WORDS = 20
SENTENCE_END = re.compile(r"(?<=[.?]) (?=[A-Z0-9'])")


def dropped_in(text: str) -> list[str]:
    """Return the phrases of the drop list that a text holds."""
    return [phrase for phrase in DROPPED if re.search(rf"\b{re.escape(phrase)}\b", text.lower())]


def said(rule: Rule, finding: Finding) -> Iterator[str]:
    """Yield everything that a rule says about a finding."""
    yield rule.title
    yield finding.title or rule.title
    yield rule.message.format(**finding.numbers)
    yield rule.whole_advice.format(**finding.numbers)
    yield finding.sure_because


def readings() -> Iterator[tuple[str, str, Reading]]:
    """Yield every reading that a text may name, by its record and field."""
    for name, kind in record_kinds().items():
        for field, reading in readings_of(kind).items():
            if reading.name or reading.words:
                yield name, field, reading


def remedy_sentences() -> Iterator[str]:
    """Yield each remedy kind's sentence, on the mix and on an element."""
    for name, kind in all_kinds().items():
        for part in ("mix", "sustained", "side", "lead"):
            yield kind.sentence(Remedy(name, part, 250.0, -2.5, 1.4, threshold_dbfs=-20.0, ceiling_dbfs=-6.0, delay_ms=0.5))


OTHERS = (*STOPPED_BY.values(), *TOPICS.values(), *WORDS.values(), NOT_SURE, TOO_DEEP, *remedy_sentences())


@for_every(all_rules(), name=lambda rule: rule.id)
def test_a_rule_speaks_the_trades_english(rule: Rule) -> None:
    for text in said(rule, fired(rule)):
        assert not dropped_in(text), text


@for_every(all_rules(), name=lambda rule: rule.id)
def test_the_page_of_a_rule_speaks_the_trades_english(rule: Rule) -> None:
    for heading in HEADINGS[:-1]:
        text = " ".join(rule.sections[heading].split())
        assert not dropped_in(text), text


@for_every(readings(), name=lambda pair: f"{pair[0]}.{pair[1]}")
def test_a_reading_speaks_the_trades_english(pair: tuple[str, str, Reading]) -> None:
    for text in (pair[2].name, pair[2].words, pair[2].more, pair[2].less, pair[2].meaning if pair[2].in_table else ""):
        assert not dropped_in(text), text


@for_every(sorted(TEMPLATES[0].rglob("*.md")), name=lambda path: path.stem)
def test_a_template_speaks_the_trades_english(path: Path) -> None:
    words = re.sub(r"{[{%].*?[}%]}", "", path.read_text(encoding="utf-8"))
    assert not dropped_in(words), dropped_in(words)


@pytest.mark.parametrize("text", OTHERS)
def test_kinds_and_small_words_speak_the_trades_english(text: str) -> None:
    assert not dropped_in(text)


@for_every(all_rules(), name=lambda rule: rule.id)
def test_a_title_names_the_fault_in_a_few_words(rule: Rule) -> None:
    for title in (rule.title, fired(rule).title or rule.title):
        assert len(title.split()) <= MOST_TITLE_WORDS, title


@for_every(all_rules(), name=lambda rule: rule.id)
def test_sentences_of_message_and_advice_are_short(rule: Rule) -> None:
    finding = fired(rule)
    for text in (rule.message, rule.whole_advice):
        for sentence in SENTENCE_END.split(text.format(**finding.numbers)):
            assert len(sentence.split()) <= MOST_WORDS, sentence


def test_the_drop_list_is_found_where_it_stands() -> None:
    assert dropped_in("Nothing gets in the way.") == ["in the way"]
    assert dropped_in("Its PSR is low") == ["psr"]
