"""Whatever happens to a document's text, it is a valid document or a list of placed problems."""

from __future__ import annotations

import json

import pytest
from example_documents import (
    CARD,
    CHECKLIST,
    LEXICON,
    LIMITS,
    PLAN,
    SENTENCES,
    document_or_problems,
)
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from voicelist.documents.base import Headed
from voicelist.documents.models import MODELS
from voicelist.documents.names import KINDS, Kind

TEXTS: dict[Kind, str] = {
    "checklist": CHECKLIST,
    "card": CARD,
    "plan": PLAN,
    "lexicon": LEXICON,
    "sentences": SENTENCES,
    "limits": LIMITS,
}
TROUBLE = (
    *(
        "\t",
        "\n",
        "  ",
        ": ",
        "- ",
        "? ",
        "[",
        "]",
        "{",
        "}",
        ",",
        '"',
        "'",
        "#",
        "&a ",
        "*a",
        "!x ",
    ),
    *("!!int ", "|", ">", "~", "null", "no", "---\n", "...\n", "%YAML 1.1\n", "\\", "\\x00", "\0"),
    *(
        "\ufeff",
        "\u2028",
        "\x85",
        "\u200b",
        "é",
        "\U0001f600",
        "-1",
        "1e9",
        ".inf",
        "9" * 30,
        "<<: ",
    ),
    *("{a: {a: ", "[[[", "value: ", "phase: eye\n", "compare: ", "[a, 1]", "{from: [1]}", "true"),
)


@st.composite
def mutated(draw: st.DrawFn, text: str) -> str:
    """The text with up to five pieces cut out, put in, doubled or moved."""
    for _ in range(draw(st.integers(1, 5))):
        start = draw(st.integers(0, len(text)))
        end = min(len(text), start + draw(st.integers(0, 40)))
        piece = draw(st.sampled_from(TROUBLE) | st.just(text[start:end]) | st.text(max_size=3))
        text = text[:start] + piece + text[draw(st.sampled_from((start, end))) :]
    return text


def valid_or_placed(model: type[Headed], text: str) -> None:
    parsed = document_or_problems(model, text)
    if isinstance(parsed, Headed):
        plain = parsed.model_dump(mode="json", by_alias=True, exclude_none=True)
        assert model.model_validate(json.loads(json.dumps(plain))) == parsed
        return
    for problem in parsed:
        assert 1 <= problem.line <= len(text.splitlines()) + 2
        assert problem.column >= 1
        assert problem.found
        assert problem.expected
        assert str(problem).isprintable()


@pytest.mark.parametrize("kind", KINDS)
@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data())
def test_a_mutated_document_is_valid_or_told_with_places(kind: Kind, data: st.DataObject) -> None:
    valid_or_placed(MODELS[kind], data.draw(mutated(TEXTS[kind])))


@settings(max_examples=200, deadline=None)
@given(text=st.text(), kind=st.sampled_from(KINDS))
def test_any_text_is_valid_or_told_with_places(text: str, kind: Kind) -> None:
    valid_or_placed(MODELS[kind], text)


KEYS = (
    *("id", "name", "items", "sections", "grades", "from", "to", "scale", "value", "compare"),
    *("phase", "done", "kind", "minimum", "control", "power_percent", "words", "written", "hear"),
)
ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers(-9, 9) | st.sampled_from(("eye", "profile", "x y")),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(KEYS), inner, max_size=4)
    ),
    max_leaves=12,
)


@settings(max_examples=300, deadline=None)
@given(
    data=st.dictionaries(
        st.sampled_from(("sections", "grades", "words", "grade", "usual", "off")), ANYTHING
    )
)
def test_rules_across_fields_stand_any_shape_of_data(data: dict[str, object]) -> None:
    for kind in KINDS:
        problems = document_or_problems(MODELS[kind], json.dumps(data))
        assert 'no key "format"' in [problem.found for problem in problems]
