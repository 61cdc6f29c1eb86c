"""The numbered steps that make and extend the tables of the server; run by `server.install`. They
only ever add, so that theatres of an earlier version go on writing. May import nothing of
voicelist."""
