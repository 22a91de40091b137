"""The plan in report.md: a table of moves, the steps as plain bars, and what the whole song gained."""

from collections.abc import Iterator
from typing import Any

from advisor.report.words import number, plain, sentence, spans

Document = dict[str, Any]
BAR = 30


def plan_text(report: Document) -> Iterator[str]:
    """Write the plan, or say why there is none."""
    if report["settings"].get("quick") or report.get("tried_on") is None:
        return
    yield "## The plan"
    yield ""
    if not report["plan"]:
        yield from _no_plan(report)
        return
    yield "Each move was tried on your audio, with the moves before it in place. Make them in this order, and stop where it says."
    yield ""
    yield "| step | move | clean loudness after it | still in the way | what else changes |"
    yield "|---:|---|---:|---:|---|"
    for step in report["plan"]:
        move = sentence(f"{step['move']}; {step['stop']}" if step["stop"] else step["move"])
        yield (
            f"| {step['step']} | **{plain(step['title'])}.** {plain(move)} | {number(step['outlook_after_lufs'])} LUFS "
            f"| {number(step['excess_after'])} | {plain(side_effects(step['before'], step['after']))} |"
        )
    yield ""
    yield from _bars(report)
    yield from _check(report)


def _no_plan(report: Document) -> Iterator[str]:
    tried = sum(1 for one in report["findings"] if one["trial"] is not None)
    if tried:
        what = (
            "The one move that could be tried on your audio did not make"
            if tried == 1
            else f"None of the {tried} moves tried on your audio made"
        )
        yield f"No plan. {what} the whole clearly better, so no move is advised; use your ears on the findings below."
    else:
        yield "No plan: nothing was found that a fader, an equaliser or a compressor could mend on this mix."
    yield ""


def _bars(report: Document) -> Iterator[str]:
    start = report["outlook"]["clean_lufs"] if report["outlook"] else None
    levels = [("as it is", start), *((f"step {step['step']}", step["outlook_after_lufs"]) for step in report["plan"])]
    known = [(name, level) for name, level in levels if level is not None]
    if len(known) < 2:
        return
    target = report["settings"]["target_lufs"]
    low = min(*(level for _, level in known), target) - 1.0
    high = max(*(level for _, level in known), target) + 0.5
    mark = round(BAR * (target - low) / (high - low))
    yield "How loud a plain limiter can make it, unheard:"
    yield ""
    for name, level in known:
        filled = round(BAR * (level - low) / (high - low))
        row = ["#" if place < filled else " " for place in range(BAR + 1)]
        row[min(mark, BAR)] = "|"
        yield f"    {name:9} {''.join(row)} {number(level)} LUFS"
    yield f"    {'':9} {' ' * min(mark, BAR)}| target {target:g} LUFS"
    yield ""


def _check(report: Document) -> Iterator[str]:
    check = report["plan_check"]
    if check is None:
        return
    before, after = check["before"], check["after"]
    yield (
        f"Then the finished plan was run over the whole song and everything was measured again: clean loudness "
        f"{number(before['clean_lufs'])} to {number(after['clean_lufs'])} LUFS, still in the way {number(before['excess'])} to "
        f"{number(after['excess'])} (1 is one clear finding a full tolerance past its limit); {plain(side_effects(before, after))}."
    )
    stretches = spans(report["tried_on"], most=8)
    yield f"The single steps were measured on {stretches}. Your own tools will differ a little: check by ear at matched loudness."
    yield ""


EFFECTS = (
    ("tilt_db_per_octave", 0.1, "tilt {:+.1f} dB/octave", 1.0),
    ("hits_heard", 0.02, "heard of each hit {:+.0f} %", 100.0),
    ("mono_loss_db", 0.1, "lost in mono {:+.1f} dB", 1.0),
    ("integrated_lufs", 0.2, "loudness {:+.1f} LU", 1.0),
)


def side_effects(before: Document, after: Document) -> str:
    """Return what changed beyond its reporting step, each in its own unit."""
    parts = []
    for name, step, words, scale in EFFECTS:
        if before[name] is not None and after[name] is not None and abs(after[name] - before[name]) >= step:
            parts.append(words.format((after[name] - before[name]) * scale))
    return ", ".join(parts) or "nothing else beyond its reporting step"


def trial_text(card: Document) -> Iterator[str]:
    """Write what the trial of one finding's remedy showed."""
    trial = card["trial"]
    if trial is None:
        return
    before, after = trial["before"], trial["after"]
    gained = (
        f"clean loudness {number(before['clean_lufs'])} to {number(after['clean_lufs'])} LUFS, in the way {number(before['excess'])} to "
        f"{number(after['excess'])}, {plain(side_effects(before, after))}"
    )
    if trial["helps"]:
        yield f"- **Tried on your audio:** {plain(trial['move'])}: {gained}."
    else:
        yield f"- **Tried on your audio, and it did not help:** {plain(trial['move'])}: {gained}. The finding stands, without this remedy."
