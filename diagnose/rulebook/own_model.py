"""The shape of own.yaml: what a company's visits may say beside the lines that the program knows."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BeforeValidator, ConfigDict, Field, model_validator

from diagnose.rulebook.fields import LabelText, Source, Text, Vocabulary, Written, shape
from diagnose.rulebook.models import Signable
from diagnose.units import Kind
from diagnose.yamlfile import Mistake


def _examples(value: object) -> object:
    """One or two texts; a plain number is written like any other."""
    listed = value if isinstance(value, list) else [value]
    return [str(one) if isinstance(one, int | float) and not isinstance(one, bool) else one for one in listed]


_FIGURE = {"type": ["string", "number"]}
Examples = Annotated[
    list[str],
    BeforeValidator(_examples),
    Field(min_length=1, max_length=2),
    shape(anyOf=[_FIGURE, {"type": "array", "items": _FIGURE, "minItems": 1, "maxItems": 2}]),
]
_EXAMPLE = "How it is written, with its unit; in US units, then in SI where that differs."
_Between = Annotated[list[str | int | float], Field(min_length=2, max_length=2)]
_BETWEEN = "The lowest and the highest that it can be at all; anything else is a slip of the pen."
_KIND = "What kind of figure it is: temperature, difference, pressure, small pressure, current, voltage, length …"


class WrittenOwnFact(Signable):
    """A fact about a machine: in words, for which `applies:` may ask, or a figure with its unit."""

    model_config = ConfigDict(json_schema_extra={"oneOf": [{"required": ["words"]}, {"required": ["kind"]}]})

    fact: LabelText = Field(description="Its name, as a visit writes it under `machine:`.")
    about: Text = Field(description="What it is, in a sentence.")
    words: Vocabulary | None = Field(None, description="The words that it may have.")
    kind: Kind | None = Field(None, description=_KIND)
    example: Examples | None = Field(None, description=_EXAMPLE)
    between: _Between | None = Field(None, description=_BETWEEN)

    @model_validator(mode="after")
    def _one_way(self) -> WrittenOwnFact:
        if (self.words is None) == (self.kind is None):
            raise Mistake("a machine fact has either `words` or a `kind`", "For example `words: [attic, crawl space]`.")
        if self.kind is not None and (self.example is None or self.between is None):
            raise Mistake("a fact with a unit needs `example` and `between`", "For example `between: [4 in, 20 in]`.")
        return self


class WrittenOwnReading(Signable):
    """A reading that the program does not know; it is a quantity of the same name as well."""

    reading: LabelText = Field(description="Its name, as a visit writes it under `readings:`.")
    where: Text = Field(description="Where it is taken, as a clause: on the shell of the compressor, above the oil.")
    kind: Kind = Field(description=_KIND)
    example: Examples = Field(description=_EXAMPLE)
    between: _Between = Field(description=_BETWEEN)
    instrument: Text = Field(description="What it is read with: one that `instruments:` of a visit knows, or another.")
    error: str | int | float | None = Field(
        None,
        description="How far such an instrument may be off, in the unit or in percent; not for one of the program's.",
    )


class WrittenOwnQuantity(Signable):
    """A quantity made of readings, facts and other quantities."""

    quantity: LabelText = Field(description="Its name, as findings.yaml writes it.")
    what: Text = Field(description="What it is, as a clause.")
    formula: Text = Field(description="A name, `A - B`, or `A / B`.")
    source: Source


class OwnFile(Written):
    """own.yaml of a company's own folder."""

    facts: list[WrittenOwnFact] = Field([], description="Facts about machines.")
    readings: list[WrittenOwnReading] = Field([], description="Readings.")
    quantities: list[WrittenOwnQuantity] = Field([], description="Figures made of readings.")


def name_of(entry: Any) -> str:
    """What an entry of own.yaml is called."""
    return str(getattr(entry, next(iter({"fact", "reading", "quantity"} & entry.__class__.model_fields.keys()))))
