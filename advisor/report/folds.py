"""Parts a text into first page and folds.

A template folds lines with ``{% call fold(title) %}``. They leave report.md, are details.md, and stay folded in report.html.
"""

import re
from collections.abc import Callable

OPEN, CLOSE = '<details markdown="1">', "</details>"
FOLD = re.compile(rf"^{OPEN}\n<summary>(?P<title>[^\n]*)</summary>\n(?P<lines>.*?)^{CLOSE}\n\n?", flags=re.MULTILINE | re.DOTALL)


def fold(title: str, caller: Callable[[], str]) -> str:
    """Return lines of a template, folded under a title.

    The template made both safe.
    """
    from markupsafe import Markup  # noqa: PLC0415 - wanted only where a report is written

    lines = caller().strip("\n")
    return Markup(f"{OPEN}\n<summary>{title}</summary>\n\n{lines}\n\n{CLOSE}\n")  # noqa: S704 - the template made both safe


def shown_first(text: str) -> str:
    r"""Return a text without its folds.

    >>> shown_first('a\n<details markdown="1">\n<summary>More</summary>\nb\n</details>\n\nc\n')
    'a\nc\n'
    """
    return FOLD.sub("", text)


def folded(text: str) -> str:
    r"""Return the folds of a text under their headings.

    >>> folded('a\n<details markdown="1">\n<summary>More</summary>\n\nb\n\n</details>\n\nc\n')
    '## More\n\nb\n\n'
    """
    parts = [(part["title"], part["lines"].strip("\n")) for part in FOLD.finditer(text)]
    return "".join(f"## {title}\n\n{lines}\n\n" for title, lines in parts)
