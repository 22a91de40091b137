"""A folder of stems.

Which files it holds, each opened, fitted to the mix, and named.
"""

from collections.abc import Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field, replace
from pathlib import Path
from types import TracebackType
from typing import Self

from advisor.app.errors import RequestError
from advisor.app.progress import Progress
from advisor.sources.aligned import Aligned, Summed
from advisor.stems.doubts import Doubt, doubt_of
from advisor.stems.earlier import Earlier, compare_earlier
from advisor.stems.files import StemFiles, StemListing, find_files, open_files
from advisor.stems.fitting import Fitted, fit_stems
from advisor.stems.roles import GROUP_OF, GROUPS, guess, role_by_name, traits
from advisor.stems.settings import StemSettings, near
from features.elements.identity import Identity
from features.mixture.fit import EXACT_DB, gain_db
from features.mixture.stem_products import Sketch
from features.records.elements import Mixture, Role, RoleFrom
from features.records.file import File
from features.sound.load import Opened
from features.sound.signal import Source


@dataclass(frozen=True, slots=True)
class Stem:
    """One element with its sound in mix time."""

    name: str
    source: Source
    identity: Identity


@dataclass(slots=True)
class OpenedStems:
    """All elements of a song.

    Close it, or use it in a ``with`` statement, so that nothing temporary stays behind.

    Attributes
    ----------
    stems
        In the order of their names; left-out files are not among them.
    groups
        The elements of each group that has any.
    mixture
        How well they sum to the mix.
    notes
        What the reader should know, in plain sentences.
    sum_source, sum_file
        The sum of the stems in mix time, and what stands for its file where there is no mix.
    rest
        The mix minus the sum; None when that is negligible, or without a mix.
    channels
        Of the mix, or of the sum without one.
    settings
        What stems.toml says.
    earlier
        Level changes since an earlier bounce, where stems.toml names one.
    """

    stems: tuple[Stem, ...]
    groups: Mapping[str, tuple[str, ...]]
    mixture: Mixture
    notes: tuple[str, ...]
    sum_source: Source
    sum_file: File
    rest: Source | None
    channels: int
    settings: StemSettings
    earlier: Earlier | None
    _stack: ExitStack = field(repr=False)

    def close(self) -> None:
        """Close all files."""
        self._stack.close()

    def __enter__(self) -> Self:
        """Return itself."""
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        """Close, also after an error."""
        self.close()


def open_stems(
    folder: Path, mix: Opened | None, progress: Progress, *, mix_path: Path | None = None, front: tuple[str, ...] = ()
) -> OpenedStems:
    """Open a folder of stems fitted to the mix.

    Without a mix their sum is the mix. It is said who each of them is.

    ``front`` is the order that the user states, which goes before that of stems.toml. ``mix_path`` keeps the mix itself out when it lies
    in the folder; without it, the mix is known by its sound.
    """
    with ExitStack() as stack:
        progress.step(f"Opening the stems in {folder.name}")
        files = open_files(_in_order(find_files(folder, mix_path), front), stack, hashed=mix is None)
        progress.step("Fitting the stems to the mix" if mix is not None else "Listening through the stems")
        fitted = fit_stems(files, None if mix is None else mix.source, progress)
        files = fitted.files
        doubts = _doubts(files, fitted)
        stems, settings = _named_apart_from_groups(_stems(files, fitted, doubts)), files.settings
        groups = _groups(stems)
        total = Summed([stem.source for stem in stems], fitted.channels)
        rest = None
        if mix is not None and (fitted.mixture.residual_db or 0.0) > EXACT_DB:
            rest = Summed([mix.source, *(stem.source for stem in stems)], fitted.channels, [1.0] + [-1.0] * len(stems))
        earlier = compare_earlier(settings.earlier, stems, None if mix is None else mix.source, progress)
        notes = (*files.notes, *fitted.notes, *(doubt.question for doubt in doubts), *(() if earlier is None else (earlier.words,)))
        return OpenedStems(
            stems, groups, fitted.mixture, notes, total, _file(folder, files, total), rest, fitted.channels, settings, earlier,
            stack.pop_all(),
        )  # fmt: skip


def _stems(files: StemFiles, fitted: Fitted, doubts: Sequence[Doubt]) -> tuple[Stem, ...]:
    settings = files.settings
    made = []
    for number in fitted.used:
        name, sound = files.names[number], files.opened[number]
        placed: Aligned = fitted.sources[number]
        role, role_from = _role(name, settings, fitted.sketches[number])
        group = settings.groups.get(name, GROUP_OF[role])
        if any(doubt.name == name for doubt in doubts):
            role, role_from = "other", "open"
        copied = fitted.copy_of[number]
        identity = Identity(
            name=name, role=role, group=group, role_from=role_from, channels=sound.source.channels,
            rate_hz=sound.source.rate_hz, offset_s=placed.offset_frames / placed.rate_hz, gain_db=gain_db(placed.gain),
            silent=bool(fitted.silent[number]), copy_of=None if copied is None else files.names[copied],
        )  # fmt: skip
        made.append(Stem(name, placed, identity))
    return tuple(made)


def _in_order(listing: StemListing, front: tuple[str, ...]) -> StemListing:
    """Return the listing with the stated order in its settings."""
    for name in front:
        if name not in listing.names:
            raise RequestError(f"--front names “{name}”, and no stem is called that.{near(name, list(listing.names))}")
    return replace(listing, settings=replace(listing.settings, front=front)) if front else listing


def _doubts(files: StemFiles, fitted: Fitted) -> tuple[Doubt, ...]:
    """Return the names that their sounds speak against, but those that the user has set."""
    guessed = [(files.names[number], fitted.sketches[number]) for number in fitted.used if files.names[number] not in files.settings.roles]
    named = [(name, role_by_name(name), sketch) for name, sketch in guessed]
    doubts = (doubt_of(name, role, traits(sketch)) for name, role, sketch in named if role is not None)
    return tuple(doubt for doubt in doubts if doubt is not None)


def _role(name: str, settings: StemSettings, sketch: Sketch) -> tuple[Role, RoleFrom]:
    return (settings.roles[name], "you") if name in settings.roles else guess(name, sketch)


def _named_apart_from_groups(stems: tuple[Stem, ...]) -> tuple[Stem, ...]:
    """Rename elements called like a group that they are not."""
    groups = _groups(stems)
    clashes = [stem.name for stem in stems if stem.name in GROUPS and groups.get(stem.name) != (stem.name,)]

    def own_name(name: str) -> str:
        return f"{name} stem" if name in clashes else name

    def renamed(stem: Stem) -> Stem:
        copied = stem.identity.copy_of
        identity = replace(stem.identity, name=own_name(stem.name), copy_of=None if copied is None else own_name(copied))
        return Stem(identity.name, stem.source, identity)

    return tuple(renamed(stem) for stem in stems)


def _groups(stems: Sequence[Stem]) -> dict[str, tuple[str, ...]]:
    members: dict[str, tuple[str, ...]] = {group: tuple(stem.name for stem in stems if stem.identity.group == group) for group in GROUPS}
    return {group: names for group, names in members.items() if names}


def _file(folder: Path, files: StemFiles, total: Source) -> File:
    return File(
        name=folder.resolve().name, sha256=files.sha256(), duration_s=total.frames / total.rate_hz, rate_hz=total.rate_hz,
        channels=total.channels, subtype="FLOAT", bits=32, lossy=any(sound.file.lossy for sound in files.opened),
    )  # fmt: skip
