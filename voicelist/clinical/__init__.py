"""The computation: pure functions over plain numbers, units in every name.

Imports nothing of the rest. A limit or formula carries its source beside it; what is from memory,
common practice or a project choice says so, and is never shown as published.
"""
