"""The case as a conversation: records, state, the pure state machine, and the loop around it.

`case`, `records`, `state` and `machine` do no I/O and read no clock. `loop` is the shell
that owns ears, mouth, clock and journal. May import documents, phrases, clinical, hearing and
speaking; never record, room, review or the command line.
"""
