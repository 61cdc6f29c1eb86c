"""What is measured, not asserted: programs (`studies/`) with what they share (`harness/`) and what
they write (`reports/`). `docs/how-to/measure.md` says how they are run."""
