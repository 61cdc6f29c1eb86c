"""From sound to word hypotheses: sources, speech model, endpointing, the recogniser's process.

May import `voicelist.phrases`; knows nothing of checklists, sessions or records.
"""
