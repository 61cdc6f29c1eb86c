"""Many cases looked at together: flat tables, questions, charts, one page.

`tables` is the data dictionary, `projection` makes the tables of one case from its events,
`parquet` keeps them in a folder, `countable` finds the cases that may be counted, `engine` and
`questions` ask by Ibis, `charts` has the statistics of run and control charts. Groups are roles and
theatres, never people. May import record, session, errors and places; nothing else of voicelist.
What only a review needs (Ibis, DuckDB, pyarrow) is imported inside functions: it is an extra.
"""
