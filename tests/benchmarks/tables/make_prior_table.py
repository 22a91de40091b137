"""Measure features/comparison/prior_spread_table.json, and the table in docs/references.md, from folders of finished songs.

    python -m tests.benchmarks.tables.make_prior_table SONGS          SONGS holds one folder per collection

Only statistics over all songs are written; nothing of any song is kept.
"""

import json
import re
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from advisor.references.adding import ENDINGS
from advisor.references.measuring import measure_song
from features.comparison.prior_spread import TABLE, Prior
from features.records.headline import FEATURES, Headline
from features.tone.target import robust_spread, weighted_quantile

ROOT = Path(__file__).parents[3]


def headlines(folder: Path) -> Iterator[tuple[str, Headline]]:
    """Measure every song; yield its collection and its readings."""
    for path in sorted(folder.rglob("*")):
        if path.suffix.lower() in ENDINGS:
            yield path.parent.name, measure_song(path).headline


def tabulate(measured: list[tuple[str, Headline]]) -> dict[str, Prior]:
    """Return median and spread of each reading; a collection of n songs weighs as sqrt(n), as in docs/target.md.

    The spread is the standard deviation, or the robust one where that is larger: a prior that is too small cries wolf.
    """
    groups = [group for group, _ in measured]
    rows = {}
    for feature in FEATURES:
        known = [(group, getattr(headline, feature.name)) for group, headline in measured if getattr(headline, feature.name) is not None]
        values = np.array([value for _, value in known])
        weights = np.array([groups.count(group) ** -0.5 for group, _ in known])
        mean = float(np.average(values, weights=weights))
        deviation = float(np.sqrt(np.average((values - mean) ** 2, weights=weights)))
        median = weighted_quantile(values, weights, 0.5)
        rows[feature.name] = Prior(len(values), round(median, 4), round(max(deviation, robust_spread(values, weights)), 4))
    return rows


def page_table(table: dict[str, Prior]) -> str:
    """Return the table of docs/references.md."""
    lines = ["| reading | unit | reported from | median of the songs | spread between them (prior) |", "|---|---|---:|---:|---:|"]
    for feature in FEATURES:
        prior, scale = table[feature.name], 100.0 if feature.unit == "%" else 1.0
        name = f"{feature.words} (`{feature.name}`)"
        lines.append(f"| {name} | {feature.unit} | {feature.step * scale:g} | {prior.median * scale:.1f} | {prior.spread * scale:.1f} |")
    return "\n".join(lines)


def main() -> None:
    """Write both files."""
    table = tabulate(list(headlines(Path(sys.argv[1]))))
    rows = ",\n".join(
        f' "{name}": {json.dumps({"songs": prior.songs, "median": prior.median, "spread": prior.spread})}' for name, prior in table.items()
    )
    (ROOT / "features" / "comparison" / TABLE).write_text("{\n" + rows + "\n}\n", encoding="utf-8")
    page = ROOT / "docs" / "references.md"
    marks = "<!-- table -->\n", "\n<!-- end of table -->"
    text = re.sub(f"{marks[0]}.*{marks[1]}", lambda _: marks[0] + page_table(table) + marks[1], page.read_text("utf-8"), flags=re.DOTALL)
    page.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
