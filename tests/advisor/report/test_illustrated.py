"""Pictures stand in report.html at their sections, those of the front page before everything else, and nowhere in report.md."""

from dataclasses import replace

from advisor.app.settings import Settings
from advisor.pictures import critique, master
from advisor.pictures.discovery import kinds_in
from advisor.pictures.picture import Picture
from advisor.report import html, markdown
from advisor.report.illustrated import ELSEWHERE, FRONT_END, at_sections, text_with_places
from advisor.report.markdown import Part, sections_in
from advisor.report.sections import critique as critique_sections
from advisor.report.sections import master as master_sections
from tests.advisor.pictures.drawings import with_stems
from tests.advisor.pictures.test_others import master_report
from tests.advisor.samples import finding, report, rule_that
from tests.mastering_records import mastered


def test_every_picture_belongs_to_a_section_that_there_is() -> None:
    for pictures, sections in ((critique, critique_sections), (master, master_sections)):
        names = {section.name for section in sections_in(sections)}
        assert {kind.section for kind in kinds_in(pictures).values()} <= names
    assert {ELSEWHERE, FRONT_END} < {section.name for section in sections_in(critique_sections)}


def test_pictures_stand_at_their_sections() -> None:
    page = html.render(with_stems(findings=report(rule_that(finding(1.0))).findings))
    assert page.count("<figure") == page.count("</figure>") == page.count('role="img"')
    assert page.index("</h1>") < page.index("What a limiter adds") < page.index("Loudness over time")
    assert page.index("<summary>Your elements</summary>") < page.index("Elements, loudest first") < page.index("<h3>Setting levels</h3>")
    assert "pictures-of-" not in page


def test_a_picture_whose_section_says_nothing_stands_at_the_numbers() -> None:
    lonely = Picture("name", "since", "<svg></svg>", "See.", "Said.")
    parts = (Part("head", "# Head\n"), Part("numbers", "## Numbers\n\nMany.\n"))
    (placed,) = at_sections([lonely], parts)
    page = html.page(text_with_places(parts, [placed]), "Title", [placed])
    assert page.index("<h2>Numbers</h2>") < page.index("<svg>") < page.index("Many.")


def test_text_has_no_pictures() -> None:
    written = markdown.render(with_stems())
    assert "<svg" not in written
    assert "pictures-of" not in written


def test_a_name_cannot_make_a_place_for_a_picture() -> None:
    plain = with_stems()
    evil = replace(plain, mix=replace(plain.mix, name='<div class="pictures-of-front"></div>'))
    page = html.render(evil)
    assert page.index("What a limiter adds") > page.index("</h1>")
    assert page.count('<figure class="picture">') == html.render(plain).count('<figure class="picture">')


def test_a_master_check_has_its_picture() -> None:
    page = html.illustrated_page(master_report(mastered()), "Master check")
    assert page.index("<h2>Tone at matched loudness</h2>") < page.index("<figure")


def test_no_pictures_no_style_for_them() -> None:
    assert "--picture-ink" in html.render(report())
    assert "picture" not in html.render(report(settings=Settings(quick=True, audition=False))).partition("</style>")[2]
    assert "--picture-ink" not in html.page("# Words\n", "Words")
