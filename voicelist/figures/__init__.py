"""Pictures of settings, incisions and cases: what is drawn (`series`, `geometry`), then how.

May import `record`, `documents`, `clinical`, `places` and `errors`. `series` and `geometry` are
pure and know nothing of drawing; matplotlib is imported only when something is drawn.
"""
