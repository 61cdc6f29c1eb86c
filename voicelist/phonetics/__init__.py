"""Phones of words, how nearly alike words sound, and respellings in words that are known.

Pure: the table of phones lies here as a file, and `voicelist.documents.phone_table` reads it.
Imports nothing of the rest but `voicelist.errors`.
"""
