"""report.html: the same text as report.md in one file that opens anywhere, offline and without scripts."""

import re

from advisor.report import markdown as text
from advisor.report_model.report import Report

STYLE = """
:root { color-scheme: light dark; --ink: #1d2330; --paper: #fcfbf8; --line: #c9c4b8; --quiet: #5a6070; --tint: #f1eee6; }
@media (prefers-color-scheme: dark) {
  :root { --ink: #e7e4dc; --paper: #16181d; --line: #474b55; --quiet: #a9adb8; --tint: #20232a; }
}
body { margin: 0; background: var(--paper); color: var(--ink); font: 1.06rem/1.6 Georgia, "Times New Roman", serif; }
main { max-width: 46rem; margin: 0 auto; padding: 2rem 1.2rem 4rem; overflow-wrap: break-word; }
h1, h2, h3, h4 { line-height: 1.25; font-family: system-ui, sans-serif; }
h1 { font-size: 1.7rem; } h2 { font-size: 1.3rem; margin-top: 2.6rem; border-bottom: 1px solid var(--line); padding-bottom: .3rem; }
h3 { font-size: 1.05rem; color: var(--quiet); margin-top: 2rem; } h4 { font-size: 1.1rem; margin-bottom: .4rem; }
h1 + p { font-size: 1.2rem; } h1 + p + p { color: var(--quiet); }
li { margin: .3rem 0; } ol > li { margin: .6rem 0; }
table { border-collapse: collapse; width: 100%; font: .88rem/1.45 system-ui, sans-serif; }
th, td { border-bottom: 1px solid var(--line); padding: .35rem .5rem; text-align: left; vertical-align: top; }
.wide { overflow-x: auto; }
pre { background: var(--tint); padding: .8rem; overflow-x: auto; line-height: 1.2; font-size: .85rem; }
.clips { display: flex; flex-wrap: wrap; gap: .6rem 1.2rem; margin: .5rem 0 1rem; }
.clips div { flex: 1 1 16rem; font: .88rem/1.45 system-ui, sans-serif; color: var(--quiet); }
.clips audio { display: block; width: 100%; margin-top: .2rem; }
@media print {
  .clips { display: none; }
  body { font-size: 10pt; background: #fff; color: #000; }
  h4, tr { break-after: avoid; }
  main { max-width: none; padding: 0; }
}
"""


CLIP_LINKS = re.compile(r'(?:<a href="audition/step-\d+-(?:before|after)\.(?:flac|wav)"[^>]*>[a-z ]+</a> ?)+')
CLIP_LINK = re.compile(r'<a href="(audition/step-(\d+)-(?:before|after)\.(?:flac|wav))"[^>]*>([a-z ]+)</a>')


def with_players(body: str) -> str:
    """Return the page with players, side by side, in place of the links to clips; only our own names of clips are played."""

    def player(link: re.Match[str]) -> str:
        whole, source, step, words = link[0], link[1], link[2], link[3]
        return f'<div>{words}<audio controls preload="none" src="{source}" aria-label="Step {step}, {words}">{whole}</audio></div>'

    return CLIP_LINKS.sub(lambda links: f'<div class="clips">{CLIP_LINK.sub(player, links[0]).strip()}</div>', body)


def render(report: Report) -> str:
    """Return the report as a page."""
    return page(text.render(report), f"Critique of {report.mix.name}")


def page(written: str, title: str) -> str:
    """Return a text as a page. Everything that came from files is escaped in the text and cleaned once more here."""
    import markdown  # noqa: PLC0415 - slow to import, wanted only here
    import nh3  # noqa: PLC0415

    body = nh3.clean(markdown.markdown(written, extensions=["tables"]))
    body = with_players(body)
    body = body.replace("<table>", '<div class="wide" tabindex="0" role="region" aria-label="Table"><table>').replace(
        "</table>", "</table></div>"
    )
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{nh3.clean_text(title)}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n<main>\n{body}\n</main>\n</body>\n</html>\n"
    )
