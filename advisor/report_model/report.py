"""The whole report of a critique."""

from dataclasses import dataclass
from typing import Annotated

from advisor.report_model.elsewhere import ListeningPlace
from advisor.report_model.findings import FindingCard
from advisor.report_model.history import HistorySection
from advisor.report_model.mastering import MasteringSection
from advisor.report_model.measurements import Measurements, MixFile, Stem
from advisor.report_model.parts import FailedPart, OpenRule, PassedRule, Tool, UsedSettings, Verdict
from advisor.report_model.plan import MarkedMix, PlanCheck, PlanStep
from advisor.report_model.references import ReferencesSection
from advisor.report_model.shapes import stated
from features.records.base import Span
from features.records.outlook import Outlook

SCHEMA_VERSION = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """A critique, from which report.json and every text derive.

    What was not looked for is None.
    """

    schema_version: Annotated[int, stated(const=SCHEMA_VERSION)] = SCHEMA_VERSION
    tool: Tool
    settings: UsedSettings
    mix: MixFile
    notes: tuple[str, ...] = ()
    verdict: Verdict
    outlook: Outlook | None
    measurements: Measurements
    findings: tuple[FindingCard, ...] = ()
    plan: tuple[PlanStep, ...] = ()
    audition: MarkedMix | None = None
    plan_check: PlanCheck | None = None
    tried_on: tuple[Span, ...] | None = None
    band_edges_hz: tuple[float, ...] | None = None
    passed: tuple[str, ...] = ()
    passed_cards: tuple[PassedRule, ...] = ()
    not_applicable: tuple[OpenRule, ...] = ()
    failed: tuple[FailedPart, ...] = ()
    mastering: MasteringSection | None = None
    stems: tuple[Stem, ...] | None = None
    references: ReferencesSection | None = None
    elsewhere: tuple[ListeningPlace, ...] | None = None
    history: HistorySection | None = None
