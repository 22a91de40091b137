"""Level changes since an earlier bounce, or since earlier stems."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from advisor.progress import Progress
from advisor.stems.settings import StemSettings
from features.signal import Source


class Named(Protocol):
    """An element with its sound in mix time."""

    @property
    def name(self) -> str:
        """The element's name."""

    @property
    def source(self) -> Source:
        """Its sound."""


@dataclass(frozen=True, slots=True)
class Earlier:
    """Change of each element's level against the earlier bounce in dB, at matched mix level, and how far that can be trusted."""

    changes_db: Mapping[str, float]
    words: str


def compare_earlier(
    settings: StemSettings, stems: Sequence[Named], mix: Source, progress: Progress
) -> tuple[Earlier | None, tuple[str, ...]]:
    """Compare with what stems.toml names as the earlier bounce; None without."""
    if settings.earlier is None:
        return None, ()
    raise NotImplementedError(stems, mix, progress)
