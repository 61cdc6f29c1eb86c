"""Tables of the cases beside the journal, for reviews in place: who makes and who reads them."""

from alembic import op

revision = "0002"
down_revision = "0001"

# Which cases are in the tables, under which head; "problem" says why one is not.
_CASES_HELD = """
CREATE TABLE voicelist_tabled (
    key bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    theatre text COLLATE "C" NOT NULL,
    "case" text COLLATE "C" NOT NULL,
    head text NOT NULL,
    version integer NOT NULL,
    problem text NOT NULL,
    UNIQUE (theatre, "case")
);
CREATE INDEX voicelist_first ON voicelist_journal (theatre, "case") WHERE seq = 1;
"""

# What every row begins with. Names stand in the order of their code points, as in files.
_LEAD = """
    key bigint NOT NULL REFERENCES voicelist_tabled ON DELETE CASCADE,
    "theatre" text COLLATE "C", "case" text COLLATE "C", "head" text COLLATE "C", "seq" bigint,
    "nature" text COLLATE "C", "month" text COLLATE "C", "week" text COLLATE "C",
    "day" text COLLATE "C", "checklist" text COLLATE "C", "documents" text COLLATE "C",
"""
_OWN = {
    "cases": """
    "source" text COLLATE "C", "software" text COLLATE "C", "card" text COLLATE "C",
    "state" text COLLATE "C", "began_at" timestamptz, "ended_at" timestamptz,
    "duration_s" double precision, "runs" bigint, "events" bigint, "items_due" bigint,
    "items_answered" bigint, "items_before_incision" bigint, "answered_before_incision" bigint,
    "utterances" bigint, "not_understood" bigint, "not_for_us" bigint, "asked_again" bigint,
    "prompts" bigint, "mismatches" bigint, "stop_faults" bigint, "speech_s" double precision,
    "time_out_s" double precision
""",
    "items": """
    "section" text COLLATE "C", "item" text COLLATE "C", "stop" boolean, "due" boolean,
    "status" text COLLATE "C", "role" text COLLATE "C", "role_known_by" text COLLATE "C",
    "answered_at" timestamptz, "call_to_answer_s" double precision, "wait_s" double precision,
    "held_s" double precision, "calls" bigint, "asked_again" bigint, "prompts" bigint,
    "deferred" bigint, "faults" bigint, "undone" bigint, "mismatches" bigint,
    "before_incision" boolean
""",
    "utterances": """
    "section" text COLLATE "C", "item" text COLLATE "C", "by" text COLLATE "C",
    "status" text COLLATE "C", "rule" text COLLATE "C", "words" text COLLATE "C",
    "why" text COLLATE "C", "role" text COLLATE "C", "role_known_by" text COLLATE "C",
    "channel" bigint, "asked_again" boolean, "talk_before" bigint, "length_s" double precision,
    "decided_after_s" double precision
""",
    "mismatches": """
    "section" text COLLATE "C", "item" text COLLATE "C", "rule" text COLLATE "C",
    "severity" text COLLATE "C", "quantity" text COLLATE "C", "heard" text COLLATE "C",
    "expected" text COLLATE "C", "unit" text COLLATE "C", "outcome" text COLLATE "C",
    "outcome_seq" bigint, "to_outcome_s" double precision, "times" bigint,
    "role" text COLLATE "C", "reason" text COLLATE "C"
""",
    "milestones": """
    "kind" text COLLATE "C", "name" text COLLATE "C", "role" text COLLATE "C", "at" timestamptz,
    "run" bigint, "t_s" double precision, "time_base" text COLLATE "C", "late" boolean,
    "lasted_s" double precision
""",
}

# Cases go on, and are erased: whoever makes the tables may also take rows of them away. Nobody may
# do so with the journal.
_RIGHTS = """
DO $$ BEGIN
    IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'voicelist_tables') THEN
        CREATE ROLE voicelist_tables NOLOGIN;
    END IF;
END $$;
GRANT SELECT ON voicelist_journal, voicelist_schema TO voicelist_tables;
CREATE POLICY tables ON voicelist_journal FOR SELECT TO voicelist_tables USING (true);
GRANT SELECT, INSERT, UPDATE, DELETE ON voicelist_tabled TO voicelist_tables;
REVOKE ALL ON voicelist_tabled FROM PUBLIC;
GRANT SELECT ON voicelist_tabled TO voicelist_reads;
"""
_RIGHTS_OF_EACH = """
REVOKE ALL ON voicelist_{name} FROM PUBLIC;
GRANT SELECT, INSERT, DELETE ON voicelist_{name} TO voicelist_tables;
GRANT SELECT ON voicelist_{name} TO voicelist_reads;
CREATE INDEX ON voicelist_{name} (key);
"""


def upgrade() -> None:
    """Makes the tables, empty, and the rights to them."""
    run = op.get_bind().exec_driver_sql
    run(_CASES_HELD)
    run(_RIGHTS)
    for name, columns in _OWN.items():
        run(f"CREATE TABLE voicelist_{name} ({_LEAD}{columns})")
        run(_RIGHTS_OF_EACH.format(name=name))


def downgrade() -> None:
    """The tables can be made anew from the journal at any time."""
    for name in (*_OWN, "tabled"):
        op.get_bind().exec_driver_sql(f"DROP TABLE voicelist_{name}")
    op.get_bind().exec_driver_sql("DROP INDEX voicelist_first")
