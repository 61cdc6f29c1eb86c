"""What joins sound and typed lines to the session: from a source through the recogniser to events.

May import `session`, `asr`, `audio` and `understanding`; never `record` or a command.
"""
