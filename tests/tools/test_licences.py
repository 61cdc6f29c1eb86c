"""The licence check refuses what it should."""

from __future__ import annotations

import importlib.util
import sys
from email.message import Message
from pathlib import Path
from types import ModuleType
from typing import Any, cast

import pytest

TOOL = Path(__file__).resolve().parents[2] / "tools" / "licences.py"


@pytest.fixture(scope="module")
def licences() -> ModuleType:
    pytest.importorskip("packaging")
    spec = importlib.util.spec_from_file_location("licences", TOOL)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module  # dataclasses look their module up there
    spec.loader.exec_module(module)
    return module


def metadata(**fields: Any) -> Message:
    message = Message()
    for name, values in fields.items():
        for value in [values] if isinstance(values, str) else values:
            message[name.replace("_", "-")] = value
    return message


def test_everything_that_the_product_needs_is_allowed(licences: ModuleType) -> None:
    names = {one.name for one in licences.needed("voicelist", [""])}
    assert {"vosk", "sounddevice", "rapidfuzz", "pyttsx3", "pyyaml", "numpy"} <= names
    assert licences.refused([""], licences.ALLOWED) == []


def test_a_licence_outside_the_list_is_refused_by_name(licences: ModuleType) -> None:
    refused = licences.refused([""], licences.ALLOWED - {"Apache-2.0"})
    assert "vosk" in {one.name for one in refused}


@pytest.mark.parametrize(
    ("expression", "allowed"),
    [
        ("MIT", True),
        ("GPL-3.0-or-later", False),
        ("AGPL-3.0-only", False),
        ("MIT OR GPL-2.0-only", True),
        ("MIT AND GPL-2.0-only", False),
        ("GPL-2.0-only WITH Classpath-exception-2.0", False),
        ("(MIT OR GPL-2.0-only) AND BSD-3-Clause", False),
        ("BSD-3-Clause AND (MIT AND Zlib)", True),
        ("MITigated", False),
        ("", False),
    ],
)
def test_expressions(licences: ModuleType, expression: str, allowed: bool) -> None:
    assert licences.is_allowed(expression, licences.ALLOWED) is allowed


def test_the_licence_expression_counts_before_classifiers_and_free_text(
    licences: ModuleType,
) -> None:
    osi = "License :: OSI Approved :: "
    every = metadata(
        License_Expression="ISC", Classifier=f"{osi}MIT License", License="BSD 3-Clause"
    )
    assert licences.licence_of(every) == "ISC"
    del every["License-Expression"]
    assert licences.licence_of(every) == "MIT"
    del every["Classifier"]
    assert licences.licence_of(every) == "BSD-3-Clause"


def test_two_classifiers_have_both_to_be_allowed(licences: ModuleType) -> None:
    osi = "License :: OSI Approved :: "
    gpl = f"{osi}GNU General Public License v3 (GPLv3)"
    both = licences.licence_of(metadata(Classifier=[f"{osi}MIT License", gpl]))
    assert not licences.is_allowed(both, licences.ALLOWED)


def test_a_whole_licence_text_is_no_name_of_a_licence(licences: ModuleType) -> None:
    text = licences.licence_of(metadata(License="Permission is granted\n        to nobody"))
    assert text == ""
    assert not licences.is_allowed(text, licences.ALLOWED)


def test_gpl_is_allowed_in_its_own_extra_alone(licences: ModuleType) -> None:
    gpl = "GPL-3.0-or-later"
    assert not licences.is_allowed(gpl, licences.ALLOWED)
    assert licences.is_allowed(gpl, licences.ALLOWED_IN_GPL_EXTRAS)
    assert not set(licences.GPL_EXTRAS) & set(cast("tuple[str, ...]", licences.EXTRAS))


def test_the_whole_text_of_a_licence_is_known_by_its_first_line(licences: ModuleType) -> None:
    text = "MIT License\n\n Copyright (c) somebody"
    assert licences.licence_of(metadata(License=text)) == "MIT"
    assert licences.licence_of(metadata(License="Licence of ours\n\n You may not")) == ""
