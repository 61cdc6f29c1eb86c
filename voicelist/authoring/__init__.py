"""Preference cards for the people who write them: a new one, one as tables, two side by side.

May import `documents`, `clinical`, the words of `record`, `places` and `errors`. Nothing here
prints or decides: what is laid out is what the documents say.
"""
