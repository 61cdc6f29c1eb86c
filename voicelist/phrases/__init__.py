"""What may be said: ABNF rules, the automaton made from them, numbers, the strict parse.

Imports nothing of the rest but `voicelist.errors`; `documents`, `hearing` and everything above may
import it.
"""
