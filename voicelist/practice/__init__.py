"""Practice: a partner who rehearses a list, questions about the pedal and about settings, and what
came of it as a page. Pure, but for `page`, which fills a template. May import the session, the
records, authoring and figures, and what stands below these; sound, terminal and store are
`rehearsing`'s and `practising`'s.
"""
