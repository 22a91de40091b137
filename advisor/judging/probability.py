"""How likely a finding is right.

It follows from its rule, its own confidence, and how far past the limit it is.
Fitted on planted and on untouched songs (`tests/benchmarks/tables/make_probabilities.py`, docs/calibration.md). What only reads the file
off, such as a true peak, is a fact and is not fitted.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib import resources
from math import exp

from rules.base import Confidence, Finding, Rule

TABLE = "probability_table.json"
FITTED_STAGES = frozenset({"mixing"})
FACTS = frozenset({"mixing/short_of_target"})  # how loud the mix can go is measured, whatever a song wants
OF_FACTS: Mapping[Confidence, float] = {"high": 0.95, "medium": 0.75, "low": 0.45}
HIGH, MEDIUM = 0.9, 0.6  # high is right nine times in ten, medium six to nine
LEAST_TOLD = 0.3  # what is right less often is not told


@dataclass(frozen=True, slots=True)
class ProbabilityTable:
    """A logistic model of the chance to be right.

    Its log odds are those by confidence, by excess, and what each rule adds.
    """

    by_confidence: Mapping[str, float]
    per_excess: float
    by_rule: Mapping[str, float]

    def probability(self, rule_id: str, confidence: Confidence, excess: float) -> float:
        """Return the chance that such a finding is right, 0-1."""
        log_odds = self.by_confidence[confidence] + self.per_excess * excess + self.by_rule.get(rule_id, 0.0)
        return 1.0 / (1.0 + exp(-log_odds))


@cache
def probability_table() -> ProbabilityTable:
    """Return the table that lies beside this file."""
    stored = json.loads(resources.files("advisor.judging").joinpath(TABLE).read_text(encoding="utf-8"))
    return ProbabilityTable(stored["by_confidence"], stored["per_excess"], stored["by_rule"])


def in_words(probability: float) -> Confidence:
    """Return a probability as the report says it."""
    return "high" if probability >= HIGH else "medium" if probability >= MEDIUM else "low"


def is_fitted(rule: Rule) -> bool:
    """Tell whether a rule's findings may be wrong.

    Others read a fact.
    """
    return rule.stage in FITTED_STAGES and rule.id not in FACTS


def rated(rule: Rule, finding: Finding) -> Finding:
    """Return the finding with its probability and confidence.

    The confidence follows from the probability.
    """
    if not is_fitted(rule):
        return replace(finding, probability=OF_FACTS[finding.confidence])
    probability = probability_table().probability(rule.id, finding.confidence, finding.excess)
    return replace(finding, probability=probability, confidence=in_words(probability))
