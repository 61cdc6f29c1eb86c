"""What `voicelist check` looks for in documents beyond their structure: vocabulary, sound-alikes,
ranges, what the assistant says.

May import `session` and `listening.typed` and everything below; nothing imports it but commands.
"""
