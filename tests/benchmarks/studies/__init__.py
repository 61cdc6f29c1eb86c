"""One program a module: `python -m tests.benchmarks.studies.NAME`, in the checkout's root. Imports
the harness and, where one study goes on from another, that study."""
