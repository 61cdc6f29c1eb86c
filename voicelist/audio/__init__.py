"""Sound before anything is recognised: microphones, files, levels, voice activity, endpointing.

May import `voicelist.devices` and `voicelist.child`; knows nothing of words, checklists or
sessions.
"""
