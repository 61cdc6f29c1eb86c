"""The base of all document models, and the field types that several of them use.

Models are frozen and strict: nothing is converted but whole numbers to decimals, unknown keys are
errors, and all that is wrong in a document is reported at once.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from functools import partial
from typing import Annotated, Any, Self

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, model_validator
from pydantic.functional_validators import ModelWrapValidatorHandler
from pydantic_core import ErrorDetails, ValidationError

from voicelist.documents.faults import Fault, line_again, line_of, refusal
from voicelist.documents.wording import described, quoted

FORMATS_READ = (1,)


class StrictModel(BaseModel):
    """Rules about one field are validators; rules across fields go into `whole_faults`, so that
    they are checked on what is written even where single fields are broken as well."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, allow_inf_nan=False)

    @classmethod
    def filled(cls, raw: dict[str, Any]) -> dict[str, Any]:
        """The keys as written, with defaults that follow from other keys."""
        return raw

    @classmethod
    def whole_faults(cls, raw: Mapping[str, Any]) -> Iterator[Fault]:
        """What is wrong across fields. `raw` is unchecked: anything may be missing or mistyped."""
        yield from ()

    @model_validator(mode="wrap")
    @classmethod
    def _report_all(cls, raw: Any, handler: ModelWrapValidatorHandler[Self]) -> Self:
        if not isinstance(raw, dict):
            return handler(raw)
        lines = [line_of(fault) for fault in cls.whole_faults(raw)]
        fields = {field.alias or name: field for name, field in cls.model_fields.items()}
        try:
            model = handler(cls.filled(raw))
        except ValidationError as error:
            details = error.errors(include_url=False)
            lines += [line_again(line, fields) for line in details if not _is_echo(line)]
        if lines:
            raise ValidationError.from_exception_data(cls.__name__, lines)
        return model


def _is_echo(line: ErrorDetails) -> bool:
    """pydantic also calls a list too short when what it holds is wrong."""
    return line["type"] == "too_short" and bool(line["input"])


def _known_format(value: int) -> int:
    if value not in FORMATS_READ:
        raise refusal(
            f"format {value}",
            "expected format 1: this version of voicelist reads format 1 only; "
            "a later version may read this document",
        )
    return value


def _tidy(text: str) -> str:
    """One line of printable text."""
    tidy = " ".join(text.split())
    if not tidy:
        raise refusal("an empty text", "expected some words")
    if not tidy.isprintable():
        raise refusal(described(tidy), "expected printable text: there is an invisible character")
    return tidy


def _as_written(phrase: str) -> str:
    """A phrase stays exactly as written: its columns are places in the file."""
    _tidy(phrase)
    return phrase


def _at_most_words(most: int, text: str) -> str:
    count = len(text.split())
    if count > most:
        raise refusal(f"{count} words ({quoted(text)})", f"expected at most {most} words")
    return text


def written_like(pattern: str, what: str) -> tuple[AfterValidator, Any]:
    """For a text inside a list or as a key, where a field's description would name the list."""
    whole = re.compile(pattern)

    def check(text: str) -> str:
        if not whole.fullmatch(text):
            raise refusal(described(text), f"expected {what}")
        return text

    return AfterValidator(check), Field(json_schema_extra={"pattern": f"^{pattern}$"})


PlannedName = Annotated[str, *written_like(r"[a-z0-9]+(-[a-z0-9]+)*", "a name in lower case")]


def word_pattern(most: int) -> dict[str, Any]:
    """The word limit for editors that read the JSON Schema."""
    return {"pattern": rf"^\s*(\S+\s+){{0,{most - 1}}}\S+\s*$"}


Format = Annotated[
    int, AfterValidator(_known_format), Field(json_schema_extra={"const": FORMATS_READ[0]})
]
Language = Annotated[str, Field(pattern=r"^[a-z]{2,3}(-[A-Z][a-z]{3})?(-([A-Z]{2}|[0-9]{3}))?$")]
Slug = Annotated[str, Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$")]
Text = Annotated[str, AfterValidator(_tidy)]
Phrase = Annotated[str, AfterValidator(_as_written)]
Call = Annotated[
    Text, AfterValidator(partial(_at_most_words, 7)), Field(json_schema_extra=word_pattern(7))
]
Why = Annotated[
    Text, AfterValidator(partial(_at_most_words, 15)), Field(json_schema_extra=word_pattern(15))
]

LongerCall = Annotated[
    Text, AfterValidator(partial(_at_most_words, 20)), Field(json_schema_extra=word_pattern(20))
]


class Headed(StrictModel):
    """What every document begins with."""

    format: Format = Field(description="1, the format this version of voicelist reads")
    language: Language = Field(description="a language tag such as en-US")
