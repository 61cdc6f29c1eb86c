"""What joins sound and typed lines to the session: from a source through the recogniser to events.

May import `record`, `session`, `asr`, `audio` and `understanding`; never a command.
"""
