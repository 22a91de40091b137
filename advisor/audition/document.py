"""What there is to listen to, as it stands in the document; paths are relative to the report."""

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from advisor.audition.names import FOLDER
from advisor.audition.records import Audition

Document = dict[str, Any]
NOTHING_TO_HEAR = Audition()


def with_clips(plan: Sequence[Document], audition: Audition) -> list[Document]:
    """Return the plan's steps, each with its clips or None."""
    clips = [*audition.clips, *([None] * len(plan))]
    return [
        {**step, "audition": None if one is None else {**asdict(one), "before": f"{FOLDER}/{one.before}", "after": f"{FOLDER}/{one.after}"}}
        for step, one in zip(plan, clips, strict=False)
    ]


def marked_document(audition: Audition) -> Document | None:
    """Return where the marked copy is and how many markers it has."""
    return None if audition.marked is None else {"marked_mix": f"{FOLDER}/{audition.marked}", "cues": audition.cues}
