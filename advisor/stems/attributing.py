"""Lays findings about the mix on the elements behind them."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from advisor.judging.judge import Card, Judged
from features.records.elements import Attribution
from features.shares.about import About
from features.shares.attribute import attribute
from features.sound.signal import Source

LACKS = "lack"  # what is missing, no element carries


def attributed(judged: Judged, parts: Mapping[str, Source], mix: Source) -> Judged:
    """Return what was judged, laid on elements."""
    asked = [(place, about) for place, card in enumerate(judged.cards) if (about := about_of(card)) is not None]
    if not asked:
        return judged
    made = attribute(parts, mix, [about for _, about in asked])
    laid = {place: attribution for (place, _), attribution in zip(asked, made, strict=True)}
    return replace(judged, cards=_laid(judged.cards, laid))


def _laid(cards: Sequence[Card], laid: Mapping[int, Attribution | None]) -> tuple[Card, ...]:
    return tuple(replace(card, attribution=laid.get(place)) for place, card in enumerate(cards))


def about_of(card: Card) -> About | None:
    """Return the reading of a card to share out.

    None where single elements cannot carry it.
    """
    finding = card.finding
    if card.rule.shared is None or finding.stem is not None or finding.cause == LACKS:
        return None
    return About(card.rule.shared, finding.where, finding.band_hz)


def without_meant(judged: Judged, meant: frozenset[str]) -> Judged:
    """Return what was judged without what is meant.

    Findings about the elements in ``meant``, or laid on them, are set aside.
    """
    aside = tuple(card for card in judged.cards if card.stem in meant)
    kept = tuple(card for card in judged.cards if card.stem not in meant)
    return replace(judged, cards=kept, set_aside=(*judged.set_aside, *aside)) if aside else judged


def meant_words(judged: Judged, meant: frozenset[str]) -> tuple[str, ...]:
    """Say what was left out since it is meant."""
    titles = [card.finding.title or card.rule.title for card in judged.set_aside if card.stem in meant]
    return (f"Left out, since stems.toml says that it is meant: {'; '.join(titles)}.",) if titles else ()
