"""Templates of self-contained pages: whatever is put in is escaped, and what is lacking is told."""

from __future__ import annotations

from jinja2 import Environment, PackageLoader, StrictUndefined


def page_templates(package: str) -> Environment:
    """The templates that lie in a package, for filters and tests to be added."""
    return Environment(
        loader=PackageLoader(package, package_path="."),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
