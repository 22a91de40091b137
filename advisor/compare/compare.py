"""Compares two bounces of one song: align, measure and judge both, match findings, and see whether the change went the advised way."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from advisor.app.progress import Progress
from advisor.app.settings import Settings
from advisor.app.yardstick import yardstick_of
from advisor.compare import differences
from advisor.history.followed import Followed, follow_up
from advisor.history.promised import advised, remedy_of
from advisor.history.reading import all_findings, bounce_findings, total_excess
from advisor.judging.finding_history import distance, follow, through
from advisor.judging.finding_records import FindingChange
from advisor.judging.judge import judge
from advisor.judging.reporting import EXCESS_STEP
from advisor.judging.verdict import verdict
from advisor.measuring.measure import measure
from advisor.remedies.wording import remedy_sentence
from advisor.report.build import build
from advisor.report_model.codec import to_json
from advisor.sources.alignment import Alignment, align
from features.sound.load import Opened, open_source

Document = dict[str, Any]

SCHEMA_VERSION = 1
LENGTH_STEP_S = 1.0


@dataclass(frozen=True, slots=True)
class Pair:
    """The documents of both bounces, and how they lie against each other."""

    earlier: Document
    later: Document
    alignment: Alignment


def measured_pair(earlier: Path, later: Path, settings: Settings, progress: Progress, first_words: str = "") -> Pair:
    """Open, align, measure and judge both."""
    with open_source(earlier) as first, open_source(later) as second:
        if first_words:
            progress.announce(first_words)
        progress.step("Looking for the same music in both")
        alignment = align(first.source, second.source)
        return Pair(_document(first, settings, progress), _document(second, settings, progress), alignment)


def _document(opened: Opened, settings: Settings, progress: Progress) -> Document:
    measured = measure(opened.source, opened.file, lambda: opened.not_finite, yardstick_of(settings), progress)
    judged = judge(measured, yardstick_of(settings))
    found: Document = json.loads(to_json(build(measured, judged, verdict(dict(measured.records), judged), settings, opened.notes)))
    return found


def compare(pair: Pair) -> Document:
    """Return the comparison as a document; a pure function of what was measured."""
    earlier, later, alignment = pair.earlier, pair.later, pair.alignment
    now = bounce_findings(later, 2)
    changes, _ = follow(through([bounce_findings(earlier, 1)]), now)
    return {
        "schema_version": SCHEMA_VERSION,
        "tool": later["tool"],
        "settings": later["settings"],
        "earlier": _bounce(earlier),
        "later": _bounce(later),
        "same_song": alignment.same,
        "same_file": earlier["mix"]["sha256"] == later["mix"]["sha256"],
        "alignment": {
            "offset_s": alignment.offset_s if alignment.same else None,
            "upside_down": alignment.upside_down,
            "stretches_matched": alignment.matched,
            "stretches_tried": alignment.tried,
        },
        "longer_by_s": _longer(earlier, later),
        "louder_by_lu": differences.louder_by(earlier, later),
        "readings": differences.readings(earlier, later),
        "bands": differences.bands(earlier, later),
        "stretches": differences.stretches(earlier, later, alignment.offset_s) if alignment.same else [],
        "excess": [total_excess(earlier), total_excess(later)],
        "findings": [_finding(one) for one in changes],
        "moves": [_move(one) for one in _moves(earlier, later)] if alignment.same else [],
    }


def _bounce(report: Document) -> Document:
    outlook = report["outlook"] or {}
    return {
        **{name: report["mix"][name] for name in ("name", "sha256", "duration_s", "rate_hz", "channels")},
        "notes": report["notes"],
        "verdict": report["verdict"],
        "clean_lufs": outlook.get("clean_lufs"),
        "integrated_lufs": (report["measurements"].get("level") or {}).get("integrated_lufs"),
        "findings": [
            {name: one[name] for name in ("rule", "title", "excess", "confidence", "message", "where")} for one in all_findings(report)
        ],
    }


def _longer(earlier: Document, later: Document) -> float | None:
    longer = later["mix"]["duration_s"] - earlier["mix"]["duration_s"]
    return float(longer) if abs(longer) >= LENGTH_STEP_S else None


def _finding(one: FindingChange) -> Document:
    return {
        "rule": one.key.rule,
        "stem": one.key.stem,
        "band_hz": None if one.key.band_hz is None else list(one.key.band_hz),
        "title": one.title,
        "state": "only later" if one.state == "new" else one.state,
        "before": one.before,
        "after": one.after,
    }


def _moves(earlier: Document, later: Document) -> Sequence[Followed]:
    """Judge what the findings of the earlier bounce ask for; nothing was tried, so the rules' own amounts are what counts."""
    words = {one["title"]: remedy_sentence(remedy_of(one["remedy"])) for one in all_findings(earlier) if one.get("remedy")}
    promised = advised(earlier, words)
    now = bounce_findings(later, 2)
    left = [next((one.excess for one in now.findings if distance(one.key, each.key) is not None), None) for each in promised]
    return follow_up(promised, earlier, later, left, judged=[now.could_see(each.key) for each in promised])


def _move(one: Followed) -> Document:
    found = one.found
    return {
        "rule": one.promise.key.rule,
        "title": one.promise.title,
        "move": one.promise.move,
        "way": way_of(one),
        "verdict": one.verdict,
        "sure": one.sure,
        "sure_because": one.because,
        "share": None if found is None else found.share,
        "reading": None if found is None else found.reading,
        "promised": None if found is None else found.promised,
        "measured": None if found is None else found.measured,
        "unit": None if found is None else found.unit,
    }


def way_of(one: Followed) -> str:
    """Return which way the change went: ``advised``, ``other``, ``neither`` or ``unknown``."""
    if one.found is None:
        return "unknown"
    if one.verdict != "not done":
        return "advised"
    far = -0.3 if one.found.unit else -EXCESS_STEP / max(one.found.promised, EXCESS_STEP)
    return "other" if one.found.share <= far else "neither"
