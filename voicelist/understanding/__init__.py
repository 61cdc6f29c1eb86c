"""From word hypotheses to what an utterance amounts to: parse, rejection, voting over several looks
at the sound, verification by a second model, confusable sentences. Doubt never passes.

Pure. May import `voicelist.grammar` and `voicelist.phonetics`; knows nothing of checklists, sound
or sessions.
"""
