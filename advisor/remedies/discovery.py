"""The remedy kinds there are.

One for each module below `advisor.remedies.kinds`.
"""

import importlib
import pkgutil
from collections.abc import Mapping
from difflib import get_close_matches
from functools import cache

from advisor.remedies import kinds
from advisor.remedies.kind import RemedyKind
from rules.remedy import Remedy


@cache
def all_kinds() -> Mapping[str, RemedyKind]:
    """Return every remedy kind by its name, sorted."""
    modules = [module.name for module in pkgutil.walk_packages(kinds.__path__, f"{kinds.__name__}.") if not module.ispkg]
    declared = [_declared(name) for name in modules]
    return {kind.name: kind for kind in sorted(declared, key=lambda kind: kind.name)}


def _declared(module_name: str) -> RemedyKind:
    kind = getattr(importlib.import_module(module_name), "KIND", None)
    name = module_name.rpartition(".")[2]
    if not isinstance(kind, RemedyKind) or kind.name != name:
        message = f"{module_name} must declare KIND, a RemedyKind called {name}"
        raise TypeError(message)
    return kind


def find_kind(remedy: Remedy) -> RemedyKind | None:
    """Return the kind of a remedy out of a report.

    None where it is unknown.
    """
    return all_kinds().get(remedy.kind)


def can_be_made(remedy: Remedy) -> bool:
    """Whether there is a move to make at all."""
    kind = find_kind(remedy)
    return kind is None or kind.process is not None


def kind_of(remedy: Remedy) -> RemedyKind:
    """Return the remedy's kind.

    Raises `ValueError` with the nearest name where there is none.
    """
    kind = find_kind(remedy)
    if kind is None:
        near = get_close_matches(remedy.kind, all_kinds(), n=1, cutoff=0.5)
        hint = f" Did you mean '{near[0]}'?" if near else ""
        message = f"There is no remedy of kind '{remedy.kind}'.{hint}"
        raise ValueError(message)
    return kind
