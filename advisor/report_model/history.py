"""The earlier bounces: what became of findings and advice."""

from dataclasses import dataclass
from typing import Annotated, Literal

from advisor.report_model.findings import AsideFinding
from advisor.report_model.parts import Count, Text
from advisor.report_model.shapes import stated
from rules.base import Confidence

FindingState = Literal["new", "still there", "better", "worse", "solved", "came back", "set aside", "not judged"]
ElementState = Literal["untouched", "moved", "replaced", "new", "gone"]
StepVerdict = Literal["done", "partly", "not done", "overdone", "not measurable"]


@dataclass(frozen=True, slots=True)
class EarlierBounce:
    """The bounce that this one is compared with."""

    number: int
    name: str
    recorded: Annotated[str, stated(format="date-time")]


@dataclass(frozen=True, slots=True)
class CoursePoint:
    """One bounce in the project's course."""

    number: int
    clean_lufs: float | None
    margin_lu: float | None
    excess: float


@dataclass(frozen=True, slots=True)
class HistoryFinding:
    """What became of one finding.

    None where there was, or is, no finding.
    """

    rule: str
    stem: str | None
    band_hz: tuple[float, float] | None
    side: str | None
    title: str
    state: FindingState
    before: float | None
    after: float | None
    first: int
    solved: int | None = None
    because: str | None = None


@dataclass(frozen=True, slots=True)
class FollowedStep:
    """What became of one plan step, judged by measuring."""

    step: int
    rule: str
    title: str
    move: str
    verdict: StepVerdict
    sure: Confidence
    sure_because: str
    share: float | None
    reading: str | None
    promised: float | None
    measured: float | None
    unit: str | None


@dataclass(frozen=True, slots=True)
class ReadingChange:
    """One reading that changed beyond its reporting step."""

    family: str
    field: str
    name: str
    unit: str
    digits: int
    before: float
    after: float


@dataclass(frozen=True, slots=True)
class Warned:
    """What got worse, and the move behind it."""

    kind: Literal["finding", "loudness"]
    step: int | None
    move: str | None
    title: str | None
    before: float | None
    after: float | None


@dataclass(frozen=True, slots=True)
class ElementBand:
    """A stretch of an element's spectrum that was changed."""

    low_hz: float
    high_hz: float
    change_db: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ElementChange:
    """What was done to one element since the bounce before.

    `was` is its name then; None where it is new, as `name` is where it is gone. Faders are against what most elements share.
    """

    name: str | None
    was: str | None
    state: ElementState
    fader_db: float | None = None
    pan_db: float | None = None
    bands: tuple[ElementBand, ...] = ()
    uneven_db: float | None = None
    heard_before: float | None = None
    heard_after: float | None = None
    since: str | None = None  # the element whose fader explains what is heard now


@dataclass(frozen=True, slots=True)
class UndoneStep:
    """A step that was made once, and taken back since."""

    bounce: int
    step: int
    move: str
    element: str
    since_db: float


@dataclass(frozen=True, slots=True, kw_only=True)
class HistorySection:
    """The bounce in its project, and the one before."""

    project: Text
    number: Count
    repeat: bool
    replaces: bool = False
    previous: EarlierBounce | None
    same_file_as: int | None
    settings_changed: tuple[str, ...]
    course: tuple[CoursePoint, ...]
    findings: tuple[HistoryFinding, ...]
    steps: tuple[FollowedStep, ...]
    readings: tuple[ReadingChange, ...]
    excess: tuple[float | None, float | None]
    warnings: tuple[Warned, ...]
    set_aside: tuple[AsideFinding, ...]
    elements: tuple[ElementChange, ...] = ()
    undone: tuple[UndoneStep, ...] = ()
