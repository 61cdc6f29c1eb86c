"""Speech recognition: the recogniser and its process, streaming and offline passes, decoding again,
forced choice, the verifier, and the files of the models.

May import `voicelist.audio`, and of `voicelist.understanding` only what a verifier answers; knows
nothing of checklists, sessions or records.
"""
