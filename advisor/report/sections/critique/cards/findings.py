"""Writes the findings as cards, by stage and rank."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from advisor.app.words import SURE, after_first_sentence, first_sentence, lowered, sentence, spans
from advisor.report.attribution_words import attribution_words
from advisor.report.filling import filled
from advisor.report.sections.critique.cards.plan import TrialWords, advice_text, front_place, trial_text
from advisor.report_model.findings import FindingCard
from advisor.report_model.master_check import MasterReport
from advisor.report_model.report import Report

PLACE = 50
MOST_CARDS = 7  # on the page; what is less sure or less plain is named in a line, with its card in the details
FEW_WORDS = 6
HEADINGS = {"mixing": "In the mix", "mastering": "In the master", "delivery": "In the file"}


@dataclass(frozen=True, slots=True)
class CardWords:
    """A finding with the words that depend on the report."""

    card: FindingCard
    heard: str
    where: str
    carried: str
    advice: str
    sure: str
    because: str
    fine_if: str
    more: str
    trial: TrialWords | None


def section(report: Report) -> Iterator[str]:
    """Yield the findings by stage, the first moves' first."""
    ordered = sorted(report.findings, key=lambda card: (front_place(card, report) or len(report.findings), card.rank))
    shown, rest = ordered[:MOST_CARDS], ordered[MOST_CARDS:]
    return filled(
        __name__,
        stages=by_stage(shown, report),
        rest=[card_words(card, report) for card in rest],
        rest_titles="; ".join([card.title if place == 0 else lowered(card.title) for place, card in enumerate(rest)]),
    )


def by_stage(cards: Sequence[FindingCard], report: Report | MasterReport) -> list[tuple[str, list[CardWords]]]:
    """Return the cards of each stage under its heading."""
    stages = ((heading, [card for card in cards if card.stage == stage]) for stage, heading in HEADINGS.items())
    return [(heading, [card_words(card, report) for card in of_stage]) for heading, of_stage in stages if of_stage]


def card_words(card: FindingCard, report: Report | MasterReport) -> CardWords:
    """Return one finding in the words of its report."""
    audibility = heard_words(card.message)
    return CardWords(
        card=card,
        heard=audibility,
        where=spans(card.where, most=3),
        carried=attribution_words(card),
        advice=advice_text(card, report),
        sure=SURE[card.confidence],
        because=card.sure_because.rstrip("."),
        fine_if=first_sentence(card.fine_if).rstrip("."),
        more=sentence(card.message).removeprefix(audibility).lstrip(". "),
        trial=trial_text(card, report),
    )


def heard_words(message: str) -> str:
    """Return the first sentence of a message.

    With the second where the first hardly says more than the title.

    >>> heard_words("'pad' is uneven. Notes jump by 9 dB. It is raw"), heard_words("Both sides differ by 3.0 dB over the song. It leans")
    ("'pad' is uneven. Notes jump by 9 dB", 'Both sides differ by 3.0 dB over the song')
    """
    first, rest = first_sentence(message), after_first_sentence(message)
    whole = f"{first} {first_sentence(rest)}" if rest and len(first.split()) < FEW_WORDS else first
    return f"{whole[:1].upper()}{whole[1:]}".rstrip(".")
