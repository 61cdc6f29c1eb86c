"""What may be said: rules in ABNF, the automaton made from them, numbers, the strict parse, and the
phrase list that the recogniser is given.

Imports nothing of the rest but `voicelist.errors`; everything above may import it.
"""
