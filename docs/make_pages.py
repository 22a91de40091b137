"""Write the pages that are made from the code: docs/rules, docs/measurements.md, docs/cli.md and the schema of report.json.

python docs/make_pages.py            write them
python docs/make_pages.py --check    write nothing; name each page that differs, and exit with 1 if one does
"""

import importlib
import inspect
import json
import pkgutil
import re
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import fields, is_dataclass
from pathlib import Path
from types import NoneType
from typing import Any, get_args, get_origin, get_type_hints

from advisor import cli
from advisor.app.words import TOPICS
from advisor.report.pages import rule_page
from advisor.report_model.codec import json_schema
from advisor.report_model.report import SCHEMA_VERSION, Report
from features import records
from features.records.base import Measurement, Reading, readings_of, record_kinds
from rules.base import Rule, all_rules

DOCS = Path(__file__).parent
STAGES = {
    "mixing": "Mixing: what to change in the session",
    "mastering": "Mastering: what to change afterwards",
    "delivery": "Delivery: the file itself",
}

IN_WORDS = (
    (", ...", ""),
    ("tuple[float, float]", "low and high"),
    ("float", "number"),
    ("int", "whole number"),
    ("str", "text"),
    ("bool", "yes or no"),
    ("None", "none"),
    (" | ", " or "),
)


def page_name(rule: Rule) -> str:
    """Return the file name of a rule's page."""
    return f"{rule.id.replace('/', '-')}.md"


def rule_document(rule: Rule) -> str:
    """Return a rule's page with its sources linked."""
    text, _, sources = rule_page(rule).rpartition("## Sources\n")
    keys = [key.strip() for key in re.split(r"[,\n]", sources) if key.strip()]
    linked = ", ".join(f"[{key}](../sources.md#{key})" for key in keys)
    return f"{text}## Sources\n{linked}\n\n[All rules](index.md)\n"


def index(rules: tuple[Rule, ...]) -> str:
    """Return the list of all rules, by stage and topic."""
    lines = [
        "# Rules",
        "",
        f"The {len(rules)} rules, each with its page: what it means, what to do, when to leave it alone, and the limits you may set.",
        'A rule can be switched off in `mixproof.toml` with `enabled = false` under `[rules."its/name"]`.',
        "",
    ]
    for stage, heading in STAGES.items():
        chosen = [rule for rule in rules if rule.stage == stage]
        if chosen:
            lines += [f"## {heading}", "", "| rule | finds | topic |", "|---|---|---|"]
            lines += [f"| [`{rule.id}`]({page_name(rule)}) | {rule.title} | {TOPICS[rule.topic]} |" for rule in in_order(chosen)]
            lines.append("")
    return "\n".join(lines)


def in_order(rules: list[Rule]) -> list[Rule]:
    """Return the rules in the order in which a report takes their topics."""
    topics = list(TOPICS)
    return sorted(rules, key=lambda rule: (topics.index(rule.topic), rule.id))


def record_types() -> list[type[Any]]:
    """Return every record of measurements, in the order in which they are written in their modules."""
    record_kinds()  # imports them all
    rooms = [sys.modules[f"{records.__name__}.{info.name}"] for info in pkgutil.iter_modules(records.__path__)]
    contents = [(content, room) for room in rooms for content in vars(room).values() if isinstance(content, type)]
    own = [content for content, room in contents if is_dataclass(content) and content.__module__ == room.__name__]
    return [record for record in own if record not in (Measurement, Reading)]


def has_readings(record: type[Any]) -> bool:
    """Whether every field of the record says its unit and meaning."""
    hints = get_type_hints(record, include_extras=True)
    return all(hasattr(hints[record_field.name], "__metadata__") for record_field in fields(record))


def reading_rows(record: type[Any]) -> Iterator[str]:
    """Return the table of a record's readings; with their names and steps, where any has some."""
    hints, readings = get_type_hints(record), readings_of(record)
    head = ["field", "unit", "holds", "meaning"]
    named = any(reading.name for reading in readings.values())
    yield f"| {' | '.join([*head, 'called', 'smallest change'] if named else head)} |"
    yield f"|{'---|' * len(head)}{'---|---:|' if named else ''}"
    for name, reading in readings.items():
        cells = [f"`{name}`", reading.unit, shape(hints[name]), reading.meaning]
        cells += [reading.name, "" if reading.step is None else f"{reading.step:g}"] if named else []
        yield f"| {' | '.join(cell(text) for text in cells)} |"


def shape(hint: Any) -> str:  # noqa: ANN401 - any annotation
    """Return a field's type as a reader of report.json meets it.

    >>> shape(float | None), shape(tuple[Reading, ...]), shape(tuple[float | None, ...])
    ('number or none', 'list of Reading', 'list of number or none')
    """
    words = re.sub(r"[\w.]*\.(\w+)", r"\1", str(hint) if not isinstance(hint, type) or hasattr(hint, "__args__") else hint.__name__)
    chosen = re.search(r"Literal\[(.*?)\]", words)
    if chosen:
        return words.replace(chosen[0], chosen[1].replace("'", "")).replace(" | None", " or none")
    for python, word in IN_WORDS:
        words = words.replace(python, word)
    return re.sub(r"tuple\[(.*?)\]", r"list of \1", words)


def cell(text: str) -> str:
    """Return the text as it may stand in a table."""
    return text.replace("|", "\\|")


def first_sentences(documented: type[Any] | Callable[..., int]) -> str:
    """Return a docstring as one paragraph."""
    return " ".join((documented.__doc__ or "").split())


def measurement_document(records: Sequence[type[Any]]) -> str:
    """Return the page of all measurements."""
    families = [record for record in records if has_readings(record)]
    parts = [record for record in records if not has_readings(record)]
    lines = [
        "# Measurements",
        "",
        "What `mixproof` measures, family by family, as it stands under `measurements` in `report.json`. All times are seconds",
        "from the start of the file. A value that could not be measured is none, and `absent` of its family says why. A reading is",
        "called by its name in all texts; two songs are compared by those readings that have a smallest change, in their own unit.",
        "",
    ]
    for family in families:
        lines += [f"## {family.__name__}", "", first_sentences(family), "", *reading_rows(family), ""]
    lines += ["## What fields may hold", "", "| record | fields | meaning |", "|---|---|---|"]
    for part in parts:
        names = ", ".join(f"`{part_field.name}`" for part_field in fields(part))
        lines.append(f"| {part.__name__} | {names} | {cell(first_sentences(part))} |")
    return "\n".join([*lines, ""])


KINDS = {float: "NUMBER", int: "NUMBER", str: "TEXT", Path: "PATH"}


def commands() -> dict[str, Callable[..., int]]:
    """Return every command by its name, found as the command line finds them."""
    modules = {info.name: importlib.import_module(f"{cli.__name__}.{info.name}") for info in pkgutil.iter_modules(cli.__path__)}
    by_name: dict[str, Callable[..., int]] = {}
    for name, module in sorted(modules.items()):
        if hasattr(module, "command"):
            by_name[name] = module.command
        by_name |= {f"{name} {subcommand}": function for subcommand, function in getattr(module, "commands", {}).items()}
    return dict(sorted(by_name.items()))


def value_of(hint: Any) -> str:  # noqa: ANN401 - any annotation
    """Return what is to be typed after an option; nothing after one that is only switched on.

    >>> from typing import Literal
    >>> value_of(float | None), value_of(bool), value_of(Literal["mixing", "mastering"] | None)
    ('NUMBER', '', 'mixing|mastering')
    """
    kinds = [kind for kind in get_args(hint) if kind is not NoneType] or [hint]
    if kinds == [bool]:
        return ""
    return "|".join(KINDS.get(kind) or (str(kind) if isinstance(kind, str) else value_of(kind)) for kind in kinds)


def command_document(name: str, command: Callable[..., int]) -> Iterator[str]:
    """Return the lines on one command: how it is called, what it does, and its arguments and options with their help."""
    arguments, rows = [], []
    hints = get_type_hints(command, include_extras=True)
    for parameter in inspect.signature(command).parameters.values():
        hint, (declared, *_) = hints[parameter.name].__origin__, hints[parameter.name].__metadata__
        if type(declared).__name__ == "ArgumentInfo":
            needed = parameter.default is inspect.Parameter.empty
            several = list in [get_origin(kind) for kind in (hint, *get_args(hint))]
            label = f"{parameter.name.upper()}..." if several else parameter.name.upper()
            arguments.append(label if needed else f"[{label}]")
            rows.append(f"| `{label}` | {cell(declared.help)} |")
        else:
            flag = next(iter(declared.param_decls or ()), f"--{parameter.name.replace('_', '-')}")
            rows.append(f"| `{cell(f'{flag} {value_of(hint)}'.strip())}` | {cell(declared.help)} |")
    options = " [OPTIONS]" if len(rows) > len(arguments) else ""
    yield from (f"## mixproof {name}", "", f"    mixproof {name}{options} {' '.join(arguments)}".rstrip(), "", first_sentences(command), "")
    if rows:
        yield from ("| argument or option | meaning |", "|---|---|", *rows, "")


def command_line_document() -> str:
    """Return the page of all commands."""
    lines = [
        "# Commands",
        "",
        "`mixproof COMMAND --help` says the same. Results are printed on stdout, everything else on stderr. Exit status: 0 done;",
        "1 done, and `--fail-on` found something in its stage; 2 the request cannot be done, with one sentence that says why; 3 a fault of",
        "mixproof, with the place of its details; 128 plus the signal's number when it was stopped (130 after Ctrl-C).",
        "`mixproof --version` shows the version.",
        "",
    ]
    for name, command in commands().items():
        lines += command_document(name, command)
    return "\n".join(lines)


def described(schema: dict[str, Any]) -> dict[str, Any]:
    """Return a schema in which each measured field says its unit and meaning, and each record what it is."""
    kinds = {kind.__name__: kind for kind in record_types()}
    for name, part in [*schema["$defs"].items(), *schema["properties"].items()]:
        kind = kinds.get(name.partition("__")[0]) or kinds.get(str(part.get("title", "")))
        if kind is None or not has_readings(kind):
            continue
        hints = get_type_hints(kind, include_extras=True)
        for field, its in part.get("properties", {}).items():
            if field in hints:
                reading: Reading = hints[field].__metadata__[0]
                its["description"] = f"{reading.meaning} [{reading.unit}]" if reading.unit else reading.meaning
    return schema


def schema_document() -> str:
    """Return the schema of report.json, from the types that it is written from."""
    return json.dumps(described(json_schema(Report, f"mixproof report, version {SCHEMA_VERSION}")), indent=1, ensure_ascii=False) + "\n"


def pages() -> dict[str, str]:
    """Return every page by its path under docs."""
    rules = all_rules()
    made = {f"rules/{page_name(rule)}": rule_document(rule) for rule in rules}
    return {
        **made,
        "rules/index.md": index(rules),
        "measurements.md": measurement_document(record_types()),
        "cli.md": command_line_document(),
        "report.schema.json": schema_document(),
    }


def differing(docs: Path) -> list[str]:
    """Return what is out of date under ``docs``: pages that differ or are missing, and rule pages without a rule."""
    made = pages()
    old = [name for name, text in made.items() if not (docs / name).is_file() or (docs / name).read_text(encoding="utf-8") != text]
    there = (f"rules/{path.name}" for path in (docs / "rules").glob("*.md"))
    return sorted([*old, *(name for name in there if name not in made)])


def write(docs: Path) -> list[str]:
    """Write every page that differs and remove rule pages without a rule; return their names."""
    made, changed = pages(), differing(docs)
    (docs / "rules").mkdir(parents=True, exist_ok=True)
    for name in changed:
        if name in made:
            (docs / name).write_text(made[name], encoding="utf-8")
        else:
            (docs / name).unlink()
    return changed


def main(arguments: list[str], docs: Path = DOCS) -> int:
    """Write the pages, or check them."""
    if arguments not in ([], ["--check"]):
        print(f"I know only --check, not {' '.join(arguments)}.")
        return 2
    if not arguments:
        changed = write(docs)
        print(f"{len(changed)} pages written.")
        return 0
    stale = differing(docs)
    for name in stale:
        print(f"docs/{name} is out of date; run: python docs/make_pages.py")
    return 1 if stale else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
