"""Adds the elements to what is left elsewhere."""

from collections.abc import Sequence

import numpy as np

from advisor.sources.excerpt import read_span
from advisor.stems.folder import OpenedStems
from advisor.stems.measuring import Traces
from features.elsewhere.conditions import Condition
from features.elsewhere.elements import Played, stretches, thinned, with_elements
from features.elsewhere.mono import mono_shares
from features.records.ear import Elsewhere
from features.records.elements import Elements

REST = ""  # the name of what the mix holds beyond its stems


def elements_elsewhere(
    measured: Elsewhere, elements: Elements, stems: OpenedStems, traces: Traces, conditions: Sequence[Condition]
) -> Elsewhere:
    """Return what is left elsewhere, with each element's part."""
    sources = {stem.name: stem.source for stem in stems.stems if not stem.identity.silent and stem.identity.copy_of is None}
    if not sources or not measured.conditions:
        return measured
    frames = max(len(traces.elements[name].left) for name in sources)
    hop_s = traces.mix.hop_s
    wide = {name: source for name, source in sources.items() if traces.elements[name].left is not traces.elements[name].right}
    if stems.rest is not None:
        wide[REST] = stems.rest
    played = Played(
        tuple(sources),
        tuple(thinned(traces.elements[name], frames) for name in sources),
        None if traces.rest is None else thinned(traces.rest, frames),
        {
            name: mono_shares((np.asarray(read_span(source, span).samples) for span in stretches(frames, hop_s)), source.rate_hz)
            for name, source in wide.items()
        },
    )
    return with_elements(measured, played, conditions, elements.main)
