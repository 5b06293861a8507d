"""JSON Schemas of every file that people write, so that editors complete and check as one types.

`python -m diagnose.workshop.schemas build` writes them to `rules/schema/`, `… compare` tells what would change. The shape of
rule and case files is that of their pydantic models, which also say what each field is; that of a visit stands in
`visit/fields.py`. A schema knows one file at a time: whether a finding or a source exists, `diagnose rules check` tells.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from pydantic import BaseModel
from pydantic.json_schema import GenerateJsonSchema

from diagnose.properties import REFRIGERANTS
from diagnose.rulebook import MACHINE_FACTS
from diagnose.rulebook.fault_model import WrittenFaultEntry
from diagnose.rulebook.limits import KINDS
from diagnose.rulebook.reading import FILES, OWN_FILES
from diagnose.shipped import shipped
from diagnose.units import Kind
from diagnose.units.table import CALLED
from diagnose.visit.fields import (
    FIELDS,
    INSTRUMENT_FIELDS,
    INSTRUMENTS,
    LINE_SET,
    LINES,
    MINUTES,
    PARTS,
    READINGS,
    REMARKS,
    ROUND,
    RUNNING_AT,
    WEIGHED,
    Field,
    Word,
)
from diagnose.visit.start_up_fields import GROUPS, ROWS, START_UP, TOLD, TOLD_PART, lines_of
from diagnose.workshop.trials import CaseFile
from diagnose.yamlfile import files

Schema = dict[str, Any]
DIALECT = "https://json-schema.org/draft/2020-12/schema"

TITLES = {
    "findings": "Findings: where numbers become words",
    "states": "States, and the rules that conclude them",
    "readiness": "When no verdict may be given yet",
    "cautions": "What could hurt a person or the machine",
    "checks": "What to measure or look at next",
    "sources": "Where figures and reasons come from",
    "rules": "A company's own rules about the faults of the book",
    "changes": "A company's changes of shipped figures, and shipped rules switched off",
    "own": "What a company's visits may say beside the program's own lines",
    "judgement": "Figures that decide, and that a senior technician could argue about",
    "fault": "One fault, with all evidence for and against it",
    "visit": "A visit: one look at one machine",
    "case": "A case: a visit whose answer is known",
}


class _Generate(GenerateJsonSchema):
    """pydantic's, without the titles that it makes up from names."""

    def field_title_should_be_set(self, schema: Any) -> bool:
        return False

    def normalize_name(self, name: str) -> str:
        return super().normalize_name(name).removeprefix("Written")


def schemas() -> dict[str, Schema]:
    """Every schema, by name; `rules/schema/NAME.json` holds it."""
    visit = visit_schema()
    case = _of_model("case", CaseFile)
    whole = case["properties"]["visit"]["description"]
    case["properties"]["visit"] = {"$ref": "#/$defs/Visit", "description": whole}
    case["$defs"] |= visit.pop("$defs") | {"Visit": {k: v for k, v in visit.items() if not k.startswith("$")}}
    of_files = {Path(file).stem: model for file, model in {**FILES, **OWN_FILES}.items()} | {"fault": WrittenFaultEntry}
    found = {name: _of_model(name, model) for name, model in of_files.items()}
    return found | {"visit": visit_schema(), "case": case}


def _of_model(name: str, model: type[BaseModel]) -> Schema:
    made = model.model_json_schema(schema_generator=_Generate)
    parts: dict[str, Schema] = made.pop("$defs", {})
    for part, schema in {**parts, model.__name__.removeprefix("Written"): made}.items():
        schema.pop("title", None)
        for field, said in schema.get("properties", {}).items():
            said.pop("default", None)
            if "patternProperties" in said:  # pydantic leaves other names open
                said["additionalProperties"] = False
            if (part, field) == ("FindingEntry", "quantity"):
                said["anyOf"][0] = {"enum": sorted(KINDS)}
            elif (part, field) == ("Moving", "quantity"):
                said["enum"] = sorted({*KINDS, *READINGS})
            elif field == "applies" or (part, field) == ("Trial", "machine"):
                said |= {"properties": _facts(lists=field == "applies"), "additionalProperties": False}
            if "description" in said:  # last, where pydantic puts it first
                said["description"] = said.pop("description")
    made["title"] = TITLES[name]
    return {"$schema": DIALECT} | made | ({"$defs": parts} if parts else {})


def _facts(lists: bool) -> Schema:
    """Machine facts and their words; each alone or, in `applies`, as a list."""
    found: Schema = {}
    for fact, words in MACHINE_FACTS.items():
        one: Schema = {"enum": list(words)} if words else {"type": "string"}
        found[fact] = {"anyOf": [one, {"type": "array", "items": one}]} if lists else one
    return found


# -- the visit -----------------------------------------------------------------------------------------------------

_LIMIT = "Limit of error: 95 of 100 readings lie within it."
_DIGIT = "[0-9½¼¾⅛⅜⅝⅞]"
# A number, and somewhere after it the beginning of a unit. Which units there are is told when the visit is read.
_WITH_UNIT = _DIGIT + "[\\s.()\\[\\]_\\^\u00a0\u2007\u2009\u202f]*[A-Za-z#\u00b5\u03bc\u039c%°º˚℃℉\"'’′ʹ”″ʺ]"


def visit_schema() -> Schema:
    """Of a visit file, from `visit/fields.py`."""
    about = {part.name: part.about for part in PARTS}
    readings = {name: _field(field) for name, field in ROUND.items()}
    facts = [field for field in FIELDS if field.section == "machine"]
    machine = {field.name: _word(field) if isinstance(field, Word) else _field(field) for field in facts}
    line_set = {name: _field(field) for name, field in LINE_SET.items()}
    machine[LINES.name] = _group(line_set, required=["liquid line", "length"]) | {"description": LINES.about}
    instruments = {
        name: _field(field, f" {_LIMIT} Left out: {_default(name)}.") for name, field in INSTRUMENT_FIELDS.items()
    }
    parts: Schema = {
        "machine": {"$ref": "#/$defs/Machine", "description": about["machine"]},
        "instruments": {"$ref": "#/$defs/Instruments", "description": about["instruments"]},
        "readings": {
            "description": about["readings"],
            "anyOf": [
                {"$ref": "#/$defs/Readings"},
                {"type": "array", "items": {"$ref": "#/$defs/Round"}},
                {"type": "null"},
            ],
        },
        "seen": {"$ref": "#/$defs/Seen", "description": about["seen"]},
    }
    return {
        "$schema": DIALECT,
        "title": TITLES["visit"],
        "description": "What the machine is, its readings, and what was seen. Everything may be left out.",
        **_group(
            {
                **parts,
                "baseline": {
                    "description": about["baseline"],
                    "anyOf": [_group(parts, empty=False), {"type": "string", "pattern": r"\S"}, {"type": "null"}],
                },
                START_UP: {"$ref": "#/$defs/StartUp", "description": about[START_UP]},
                **{name: _remark(about[name]) for name in REMARKS},
                "refrigerant": _group({name: _weighed(field) for name, field in WEIGHED.items()})
                | {"description": about["refrigerant"]},
                "practice": {
                    "description": about["practice"],
                    "type": ["object", "null"],
                },
            },
            empty=False,
        ),
        "minProperties": 1,
        "$defs": {
            "Machine": _group(machine),
            "Instruments": _group(instruments),
            "Readings": _group(readings),
            "StartUp": _start_up(),
            "Round": _group(readings, required=[MINUTES], empty=False),
            "Seen": {
                "type": ["object", "null"],
                "additionalProperties": {"type": ["string", "null"]},
                "examples": [{"air filter": "clean", "outdoor coil": "dirty"}],
            },
        },
    }


def _start_up() -> Schema:
    """Group by group, from `visit/start_up_fields.py`."""
    found: Schema = {}
    for part in GROUPS:
        lines = {
            name: _word(one) if isinstance(one, Word) else _field(one)
            for name, one in lines_of(part.name).items()  # type: ignore[arg-type]
        }
        shape = _group(lines)
        if part.name in ROWS:
            text: Schema = {"type": ["string", "null"], "pattern": _DIGIT}
            rows = {"type": "array", "items": {"anyOf": [_group(lines, list(lines), empty=False), text]}}
            by_first = {
                "type": "object",
                "patternProperties": {_DIGIT: {"type": "string"}},
                "additionalProperties": False,
            }
            shape = {"anyOf": [rows, text, by_first]}
        found[part.name] = shape | {"description": part.about}
    return _group(found | {TOLD: _remark(TOLD_PART.about)})


def _group(properties: Schema, required: list[str] | None = None, empty: bool = True) -> Schema:
    """These names and no others. empty: a name with nothing behind it is as good as left out."""
    made: Schema = {"type": ["object", "null"] if empty else "object", "properties": properties}
    return made | ({"required": required} if required else {}) | {"additionalProperties": False}


def _weighed(field: Field) -> Schema:
    """One amount, or several that are added up."""
    one = _field(field)
    return {"anyOf": [one, {"type": "array", "items": one}], "description": field.about}


def _field(field: Field, more: str = "") -> Schema:
    return _value(field.kind, field.examples) | {"description": f"{field.about}{more}"}


def _value(kind: Kind, examples: Sequence[str] = ()) -> Schema:
    """A number with its unit; alone where the kind allows it; nothing where it was not taken."""
    bare = kind in ("number", "time")
    text: Schema = {"type": "string", "pattern": _DIGIT if bare else _WITH_UNIT}
    shown = {"examples": [int(one) if one.isdecimal() else one for one in examples]}
    if bare:
        return {"anyOf": [{"type": "number"}, text, {"type": "null"}]} | shown
    return text | {"type": ["string", "null"]} | shown


def _word(word: Word) -> Schema:
    about = {"examples": list(word.examples), "description": word.about}
    if word.name == "refrigerant":
        any_spelling = {"type": ["string", "number"]}
        return {"anyOf": [{"enum": list(REFRIGERANTS)}, any_spelling, {"type": "null"}]} | about
    if not word.choices:
        return {"type": ["string", "number", "null"]} | about
    spellings = "|".join(_any_case(each) for each in (*word.choices, *word.same_as))
    spellings += r"|[0-9.]+\s*%" if word.name == RUNNING_AT else ""
    other = {"type": "string", "pattern": f"^\\s*({spellings})\\s*$"}
    yes_or_no = [{"type": "boolean"}] if "yes" in word.choices else []  # a bare yes is one in YAML
    return {"anyOf": [{"enum": list(word.choices)}, other, *yes_or_no, {"type": "null"}]} | about


def _remark(about: str) -> Schema:
    """Free text, or a list of it."""
    text: Schema = {"type": ["string", "number", "null"]}
    return {"anyOf": [text, {"type": "array", "items": text}], "description": about}


def _any_case(text: str) -> str:
    """A pattern for the text in capitals, small letters or both."""
    return "".join(f"[{c.upper()}{c.lower()}]" if c.isalpha() else "\\s+" if c == " " else c for c in text)


def _default(name: str) -> str:
    """What an instrument's limit of error is taken to be where the visit does not say."""
    each = INSTRUMENTS[name]
    parts = [f"{each.share * 100:g} %"] if each.share else []
    if each.fixed:
        parts.append(
            f"{each.fixed * 100:g} %" if each.kind == "percent" else f"{each.fixed:.2g} {CALLED[each.kind].base}"
        )
    return " + ".join(parts)


# -- files ---------------------------------------------------------------------------------------------------------


def schema_folder() -> Path:
    """Where the schemas lie: beside the shipped rules, with which they travel."""
    return shipped("rules") / "schema"


def texts() -> dict[str, str]:
    """What each file in the folder must say, by its name."""
    return {f"{name}.json": json.dumps(made, ensure_ascii=False, indent=2) + "\n" for name, made in schemas().items()}


def build(folder: Path) -> list[str]:
    """Writes every schema; gives the names of those that were changed."""
    files.make_folder(folder)
    changed = [name for name, text in texts().items() if _written(folder / name) != text]
    for name in changed:
        files.write(folder / name, texts()[name])
    return changed


def _written(path: Path) -> str:
    return path.read_text(encoding="utf-8") if path.is_file() else ""


def main(arguments: list[str] | None = None) -> None:
    """Writes those that changed, and says which."""
    parser = argparse.ArgumentParser(
        prog="python -m diagnose.workshop.schemas", description="JSON Schemas in rules/schema/."
    )
    parser.add_argument("command", choices=["build"])
    parser.parse_args(arguments)
    changed = build(schema_folder())
    print(f"wrote {', '.join(changed)}" if changed else "nothing to change")


if __name__ == "__main__":
    main()
