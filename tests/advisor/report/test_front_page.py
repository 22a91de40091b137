"""The page that is read first: what can be said, at most three moves, what is right, what next; all of it short."""

from dataclasses import replace

import pytest

from advisor.report import markdown
from advisor.report.folds import folded, shown_first
from advisor.report.sections.critique.cards.plan import advice_text
from advisor.report.sections.critique.front.ahead import next_steps
from advisor.report.sections.critique.front.good import strengths
from advisor.report.sections.critique.front.moves import MOST_MOVES, brings, front_moves, no_fix, no_move
from advisor.report.unusual_tone import Unusual, share_as_far, unusual_tone
from advisor.report_model.findings import FindingCard, RemedyTrial
from advisor.report_model.plan import StepOutcomes
from advisor.report_model.report import Report
from features.records.balance import Balance, Target
from features.records.base import Measurement
from features.records.elements import Elements
from features.records.outlook import Outlook
from rules.base import Confidence
from rules.remedy import Remedy
from tests import records
from tests.advisor.report.test_plan_text import READINGS, card_of, report_with, step_of
from tests.advisor.samples import report

FRONT = ("head", "moves", "good", "ahead")
ALL = ("mixing/kick_against_bass", "mixing/buried_hits", "mixing/mono_loss", "mixing/polarity_fault", "mixing/left_right_imbalance")


def front(written: Report) -> str:
    """Return the front page of a report."""
    return "".join(part.text for part in markdown.parts(written) if part.name in FRONT)


def file_card(title: str, advice: str = "Bounce it again. Stop when it is.", confidence: Confidence = "high") -> FindingCard:
    """Return a finding about the file."""
    return card_of(f"delivery/{title}", advice, stage="delivery", title=title, stop="stop when it is", confidence=confidence)


def with_records(written: Report, **changed: Measurement) -> Report:
    """Return a report with some records changed or added, by their kinds' names."""
    known = {type(record): record for record in changed.values()}
    return replace(written, measurements=type(written.measurements)({**written.measurements.records, **known}))


def test_the_front_page_is_one_page_whatever_was_found() -> None:
    steps = tuple(
        step_of(place, f"mixing/{place}", move="Cut 2.0 dB around 250 Hz, an octave wide (Q 1.4), on 'keys'") for place in range(1, 6)
    )
    cards = tuple(card_of(f"mixing/{place}", "Cut it", rank=place, title="Boomy low mids (290 Hz)") for place in range(1, 12))
    gains = StepOutcomes(0.6, 2.2, 1.2, 0.7, 0.6, 1.0)
    steps_with_gains = tuple(
        replace(step, outcomes=gains, title=cards[0].title, stop="stop when what it masked comes through") for step in steps
    )
    of_file = tuple(file_card(f"Clicks {place}") for place in range(4))
    words = front(replace(toned(-9.0, 0), findings=(*cards, *of_file), plan=steps_with_gains, passed=ALL, tried_on=()))
    assert len(words.split()) <= 250
    assert words.count("Brings:") <= MOST_MOVES
    assert words.count("- **") == 3, "three sentences"


def test_steps_come_first_and_what_is_sure_of_the_file_after_them() -> None:
    written = replace(
        report_with(
            card_of("mixing/a", "Cut it"), file_card("Clicks", confidence="low"), file_card("Start"), plan=(step_of(1, "mixing/a"),)
        ),
        tried_on=(),
    )
    assert [move.title for move in front_moves(written)] == ["T", "Start"]
    assert front_moves(written)[1].words == "bounce it again"
    assert "**File.** 1 thing to put right (move 2); possible: clicks." in front(written)
    both = replace(written, findings=(*written.findings, file_card("Tail", "Let it ring. Stop when it is silent.")))
    assert (front_moves(both)[1].title, front_moves(both)[1].words) == ("Bounce again", "bounce it again; let it ring")
    assert advice_text(both.findings[-1], both) == "Move 2 above; stop when it is"


def test_a_clear_fault_without_a_fix_is_named_and_left_to_the_ear() -> None:
    vain = RemedyTrial(Remedy("gain", gain_db=-2.0), "Turn it down", READINGS, READINGS, 0.0, helps=False)
    loud, hint = (
        card_of("mixing/a", "Cut it", title="'snare' too loud", trial=vain),
        card_of("mixing/b", "Cut it", confidence="low", trial=vain),
    )
    assert no_fix(report_with(loud, hint)) == "No move helped here: 'snare' too loud. Decide by ear, with the checks below."
    assert no_fix(report_with(loud, plan=(step_of(1, "mixing/a"),))) == ""


def test_without_a_step_the_plan_is_short_and_honest() -> None:
    alone = replace(report(), tried_on=())
    assert no_move(alone) == "Leave the mix as it is: nothing in it calls for a move."
    assert list(next_steps(alone)) == ["The mix is done; master it."]
    assert no_move(report_with(plan=(step_of(1, "mixing/a"),))) == ""


@pytest.mark.parametrize(
    ("outcomes", "words"),
    [
        (StepOutcomes(0.5, None, 2.5, 0.0, 0.0, 1.0), "tone clearly closer to your references, 0.5 LU more clean loudness"),
        (
            StepOutcomes(-0.4, 1.2, 0.1, 0.6, 0.0, 1.0),
            "drum hits noticeably more audible, 0.4 LU less clean loudness",
        ),
        (StepOutcomes(0.1, None, None, 0.2, -0.3, 1.0), ""),
    ],
)  # fmt: skip
def test_a_move_says_what_it_brings_and_what_it_costs(outcomes: StepOutcomes, words: str) -> None:
    assert brings(replace(step_of(1, "mixing/a"), outcomes=outcomes), report()) == words


def test_a_side_turned_down_brings_both_sides_level() -> None:
    outcomes = StepOutcomes(0.0, None, None, 2.4, 0.0, 1.0)
    step = replace(step_of(1, "mixing/a"), outcomes=outcomes, remedy=Remedy("gain", "left", gain_db=-2.8))
    assert brings(step, report()) == "left and right clearly more even"


def test_what_is_right_needs_its_rule_passed_and_its_number_good() -> None:
    stems = with_records(
        replace(report(), passed=("mixing/kick_against_bass", "mixing/kick_and_bass_in_one_slot")), elements=records.elements()
    )
    pair = records.kick_and_bass()
    for gain, sentences in ((0.4, ["kick and bass add up (+0.4 dB)"]), (-0.4, []), (2.5, [])):
        elements = replace(records.elements(), kick_and_bass=replace(pair, sum_gain_db=gain))
        assert [words for words in strengths(with_records(stems, elements=elements)) if "kick" in words] == sentences
    assert [words for words in strengths(replace(stems, passed=())) if "kick" in words] == []


def test_without_stems_the_balance_is_said_not_to_be_judged() -> None:
    assert "From the stereo file alone the balance between elements was not judged: give --stems" in front(report())
    elements = records.elements()
    assert isinstance(elements, Elements)
    assert "not judged" not in front(replace(report(), stems=elements.elements))


def toned(deviation_db: float, songs: int, at_hz: float = 250.0) -> Report:
    """Return a report on a song that differs at one third octave."""
    balance, target = records.balance(), records.target()
    off = tuple(deviation_db if abs(hz / at_hz - 1.0) < 0.1 else 0.0 for hz in balance.third_octave_hz)
    spread = tuple(4.0 for _ in balance.third_octave_hz)
    assert isinstance(balance, Balance)
    assert isinstance(target, Target)
    return with_records(report(), balance=replace(balance, deviation_db=off), target=replace(target, spread_db=spread, songs=songs))


def test_the_rarest_region_is_shown_with_how_few_songs_have_it() -> None:
    (region,) = unusual_tone(toned(8.0, 0))
    assert region.words == "250 Hz, 8 dB more than songs in general"
    assert region.rarity == "about 1 in 50 has as much"
    assert "most unusual in tone: 250 Hz, 8 dB more than songs in general (about 1 in 50)" in front(toned(8.0, 0))
    (few,) = unusual_tone(toned(-8.0, 8))
    assert (few.words, few.rarity) == ("250 Hz, 8 dB less than your references", "about 1 in 20 has as little")
    assert unusual_tone(toned(2.0, 0)) == ()


def test_how_rare_is_bounded_by_what_the_spread_can_tell() -> None:
    assert Unusual(250.0, 20.0, 1e-12, "songs in general").rarity == "fewer than 1 in 100 have as much"
    assert share_as_far(0.0, 4.0, 0) == share_as_far(0.0, 4.0, 8) == 0.5


def test_a_region_that_a_finding_names_is_not_told_again() -> None:
    card = card_of("mixing/broad_excess", "Cut it", band_hz=(200.0, 300.0))
    assert unusual_tone(replace(toned(8.0, 0), findings=(card,))) == ()


def test_the_details_say_how_probable_a_finding_is() -> None:
    details = markdown.details(report_with(card_of("mixing/a", "Cut it", probability=0.72)))
    assert "Of songs that read so, about 72 % have the fault." in details
    assert "have the fault" not in markdown.details(report_with(card_of("mixing/a", "Cut it")))


def test_folds_leave_the_page_and_are_the_details() -> None:
    text = markdown.whole(report())
    assert "<details" not in shown_first(text)
    assert text.count("<summary>") == folded(text).count("\n## ") + 1
    assert isinstance(report().outlook, Outlook)


def test_the_card_of_the_first_move_comes_first() -> None:
    cards = tuple(card_of(f"mixing/{place}", "Cut it", rank=place, title=f"Fault {place}", message="it is") for place in range(1, 11))
    page = markdown.render(report_with(*cards, plan=(step_of(1, "mixing/9"),)))
    assert page.index("#### Fault 9") < page.index("#### Fault 1\n")
    assert "- **Hear it:** It is." in page


def test_less_plain_findings_are_named_and_their_cards_folded() -> None:
    cards = tuple(card_of(f"mixing/{place}", "Cut it", rank=place, title=f"Fault {place}") for place in range(1, 11))
    written = report_with(*cards)
    page, details = markdown.render(written), markdown.details(written)
    assert page.count("#### Fault") == 7
    assert "Also found, less plainly: Fault 8; fault 9; fault 10." in page
    assert "## Fault 9" in details
