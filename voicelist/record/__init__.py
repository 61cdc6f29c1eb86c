"""What was said and heard, kept: journal, store, verification, views and exports.

`journal` and `verify` hold the chain of events, `store` and `writer` keep it in a database (durable
before it is acknowledged), `view` derives a case from its events alone, `exports` writes it down
for people and programs. May import session.records, session.state, errors and places; nothing else
of voicelist.
"""
