"""The yardstick: what a song is held against.

Made once from what the user said, the project and the references.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from advisor.app.finding_key import SetAside
from advisor.app.settings import Settings
from features.tone.target import TargetModel, general_target
from rules.base import Rule


@dataclass(frozen=True, slots=True)
class Yardstick:
    """Target, limits and set-asides of one critique.

    All its measuring and judging shares them.
    """

    target_lufs: float
    ceiling_dbtp: float
    limits: Mapping[str, object]
    disabled: frozenset[str]
    set_asides: tuple[SetAside, ...]  # what the project means to be so
    tone: TargetModel  # made from the references; without them, songs in general

    def limits_of(self, rule: Rule) -> object:
        """Return the rule's limits with the user's changes."""
        return self.limits.get(rule.id, rule.limits())


def yardstick_of(settings: Settings, set_asides: tuple[SetAside, ...] = (), tone: TargetModel | None = None) -> Yardstick:
    """Make the yardstick.

    Without a tone of their own, songs are held against songs in general.
    """
    return Yardstick(settings.target_lufs, settings.ceiling_dbtp, settings.limits, settings.disabled, set_asides, tone or general_target())
