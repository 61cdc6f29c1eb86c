"""The case as a conversation: records, state, the pure state machine, and the loop around it.

`case`, `records`, `state` and `machine` do no I/O and read no clock; `loop` owns the ports to
hearing, speech, clock and journal. May import `understanding`, `grammar`, `documents` and
`clinical`; never sound, records on disk or the command line.
"""
