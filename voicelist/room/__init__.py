"""The room display: one page that can be read from across the theatre and changes nothing.

`told` and `screen` are pure: from records that are on disk to what the page shows. `wall` is a
child of the running case that serves the page (`server`), `feed` the case's side of it, `gate` what
is refused, `address` where the page is read. The page itself lies in `page/`. May import what
stands below it: sessions, records, documents.
"""
