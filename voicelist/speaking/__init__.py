"""Calls and read-backs as sound: voices in a child process with a deadline, one soft tone.

May import `voicelist.child`, `voicelist.devices`, `voicelist.errors`; knows nothing of
checklists, sessions or records.
"""
