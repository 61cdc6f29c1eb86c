"""The computation: pure functions over plain numbers, units in every name.

Imports nothing of the rest. A limit or formula carries its source beside it.
"""
