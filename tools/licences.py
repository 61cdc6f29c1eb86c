"""Whether every package that voicelist needs may be used: its licence is on the list below.

    python tools/licences.py

Reads the metadata of the installed packages, following what voicelist requires. Exit code 1 names
each package whose licence is not allowed, or cannot be told. GPL parts may only be reached through
an optional extra that says so (`sound`), never through what the product or its tests need.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from importlib import metadata

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

PROJECT = "voicelist"
EXTRAS = ("", "review", "department", "test", "dev")
# Looked at where they are installed.
OTHER_EXTRAS = ("bench", "spark")
GPL_EXTRAS = ("sound",)

# By SPDX identifier. The weak-copyleft ones stand for libraries that are used unchanged and can be
# replaced by the user: LGPL (num2words, soxr, psycopg), MPL (pyttsx3, hypothesis, certifi,
# pathspec, tqdm).
ALLOWED = frozenset(
    {
        "0BSD",
        "Apache-2.0",
        "BSD-2-Clause",
        "BSD-3-Clause",
        "CC0-1.0",
        "ISC",
        "LGPL-2.1-or-later",
        "LGPL-3.0-only",
        "LGPL-3.0-or-later",
        "MIT",
        "MIT-0",
        "MIT-CMU",
        "MPL-2.0",
        "PSF-2.0",
        "Unlicense",
        "Zlib",
    }
)
ALLOWED_IN_GPL_EXTRAS = ALLOWED | {"GPL-3.0-or-later", "GPL-3.0-only"}

# What older metadata writes in place of an SPDX identifier.
SPDX_OF = {
    "3-clause bsd license": "BSD-3-Clause",
    "apache": "Apache-2.0",
    "apache 2.0": "Apache-2.0",
    "apache license 2.0": "Apache-2.0",
    "apache license, version 2.0": "Apache-2.0",
    "apache software license": "Apache-2.0",
    "apache software license 2.0": "Apache-2.0",
    "apache2": "Apache-2.0",
    "bsd": "BSD-3-Clause",
    "bsd 3-clause": "BSD-3-Clause",
    "bsd 3-clause license": "BSD-3-Clause",
    "bsd license": "BSD-3-Clause",
    "bsd-2-clause license": "BSD-2-Clause",
    "gnu library or lesser general public license (lgpl)": "LGPL-2.1-or-later",
    "isc license (iscl)": "ISC",
    "lgpl": "LGPL-2.1-or-later",
    "mit license": "MIT",
    "mozilla public license 2.0 (mpl 2.0)": "MPL-2.0",
    "python software foundation license": "PSF-2.0",
    "the mit license (mit)": "MIT",
    "the unlicense (unlicense)": "Unlicense",
}
_CLASSIFIER = "License :: OSI Approved :: "
_OPERATOR = re.compile(r"\s+(AND|OR)\s+|[()]")


@dataclass(frozen=True, slots=True)
class Package:
    """An installed package and what its metadata says of its licence ("" if nothing)."""

    name: str
    version: str
    licence: str

    def __str__(self) -> str:
        return f"{self.name} {self.version}: {self.licence or 'no licence in its metadata'}"


def licence_of(fields: metadata.PackageMetadata) -> str:
    """An SPDX expression, from the first of: licence expression, classifiers, licence text."""
    if "License-Expression" in fields:
        return fields["License-Expression"]
    approved = [
        one.removeprefix(_CLASSIFIER)
        for one in fields.get_all("Classifier") or ()
        if one.startswith(_CLASSIFIER)
    ]
    text = fields["License"].strip() if "License" in fields else ""
    # Some put the whole text of a licence there; its first line is its name.
    first = text.partition("\n")[0].strip()
    known = first.lower() in SPDX_OF
    named = approved or ([first] if first and ("\n" not in text or known) else [])
    return " AND ".join(SPDX_OF.get(one.lower(), one) for one in named)


def licence_of_files(package: metadata.Distribution) -> str:
    """For a package whose fields say nothing: what the first lines of its licence files are the
    names of, "" where one is no known name."""
    named = package.metadata.get_all("License-File") or ()
    kept = [one for one in package.files or () if one.parent.name == "licenses"]
    texts = [one.read_text() for one in kept if one.name in named]
    first = [text.strip().partition("\n")[0].strip().lower() for text in texts]
    known = bool(first) and all(one in SPDX_OF for one in first)
    return " AND ".join(SPDX_OF[one] for one in first) if known else ""


def is_allowed(expression: str, allowed: Iterable[str]) -> bool:
    """Whether an SPDX expression can be met: of `A OR B` one has to be allowed, of `A AND B` both.

    Brackets are not unfolded: with both operators in one expression every part has to be allowed.
    """
    parts = [part.strip() for part in _OPERATOR.sub("\n", expression).split("\n") if part.strip()]
    if not parts:
        return False
    either = " OR " in expression and " AND " not in expression
    return (any if either else all)(part in set(allowed) for part in parts)


def needed(project: str, extras: Iterable[str]) -> Iterator[Package]:
    """Every installed package that the project needs with these extras ("" for none).

    Raises PackageNotFoundError for one that is needed here and not installed.
    """
    waiting = [(project, frozenset(extras) | {""})]
    seen: set[tuple[str, frozenset[str]]] = set()
    told: set[str] = set()
    for name, wanted in waiting:
        if (name, wanted) in seen:
            continue
        seen.add((name, wanted))
        found = metadata.distribution(name)
        if name not in told and name != project:
            told.add(name)
            licence = licence_of(found.metadata) or licence_of_files(found)
            yield Package(name, found.version, licence)
        for line in found.requires or ():
            requirement = Requirement(line)
            marker = requirement.marker
            if marker is None or any(marker.evaluate({"extra": extra}) for extra in wanted):
                other = canonicalize_name(requirement.name)
                waiting.append((other, frozenset(requirement.extras) | {""}))


def refused(extras: Iterable[str], allowed: Iterable[str]) -> list[Package]:
    """The packages needed with these extras whose licence is not allowed."""
    known = frozenset(allowed)
    return [one for one in needed(PROJECT, extras) if not is_allowed(one.licence, known)]


def main() -> int:
    """Prints the verdict; the exit code is 1 if a package is refused."""
    amiss = refused(EXTRAS, ALLOWED)
    count = len(list(needed(PROJECT, EXTRAS)))
    for extra in (*OTHER_EXTRAS, *GPL_EXTRAS):
        allowed = ALLOWED_IN_GPL_EXTRAS if extra in GPL_EXTRAS else ALLOWED
        try:
            amiss += refused([extra], allowed)
        except metadata.PackageNotFoundError as error:
            print(f"Extra {extra}: not installed here ({error.name}), so not looked at.")
    for package in amiss:
        print(f"Not allowed: {package}")
    print(f"Licences of {count} packages: {'refused' if amiss else 'all allowed'}.")
    return 1 if amiss else 0


if __name__ == "__main__":
    sys.exit(main())
