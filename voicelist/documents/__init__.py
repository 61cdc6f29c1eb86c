"""Checklists, cards, plans, lexicon and sentences: models, loading, errors with line and column.

May import `voicelist.errors`, `voicelist.places`; nothing else of voicelist. Phrases stay plain
strings here, with the place where each one is written; compiling them is not this folder's job.
`names` and `marks` come without pydantic, for modules that must start fast.
"""
