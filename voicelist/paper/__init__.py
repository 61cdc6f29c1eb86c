"""Lists on paper: a plan's whole list, or what is still open in a case.

May import `documents`, `record`, `typeset` and what stands below them. Nothing here prints to a
screen or decides. No expected value is ever put on a sheet: what has to be read from the world is
read from the world.
"""
