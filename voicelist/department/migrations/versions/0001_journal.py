"""The journal of all theatres, who may add to it and who may read it."""

from alembic import op

revision = "0001"
down_revision = None

_TABLES = """
CREATE TABLE voicelist_theatre (
    login text PRIMARY KEY,
    theatre text NOT NULL UNIQUE CHECK (theatre <> '')
);
CREATE TABLE voicelist_journal (
    theatre text NOT NULL,
    "case" text NOT NULL,
    seq integer NOT NULL,
    at text NOT NULL,
    run text NOT NULL,
    mono_ms bigint NOT NULL,
    kind text NOT NULL,
    body text NOT NULL,
    prev text NOT NULL,
    hash text NOT NULL,
    kept_at timestamptz NOT NULL DEFAULT now(),
    PRIMARY KEY (theatre, "case", seq)
);
"""

# They run with the rights of their owner: a theatre learns of its own cases alone.
_FUNCTIONS = """
CREATE FUNCTION voicelist_own_theatre() RETURNS text
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = public, pg_temp AS $$
    SELECT theatre FROM voicelist_theatre WHERE login = session_user
$$;
CREATE FUNCTION voicelist_held(of_case text) RETURNS TABLE (seq integer, hash text)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = public, pg_temp AS $$
    SELECT j.seq, j.hash FROM voicelist_journal AS j
    WHERE j.theatre = voicelist_own_theatre() AND j."case" = of_case ORDER BY j.seq
$$;
CREATE FUNCTION voicelist_in_order() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp AS $$
DECLARE
    last_seq integer := 0;
    last_hash text := repeat('0', 64);
BEGIN
    SELECT j.seq, j.hash INTO last_seq, last_hash FROM voicelist_journal AS j
    WHERE j.theatre = NEW.theatre AND j."case" = NEW."case" ORDER BY j.seq DESC LIMIT 1;
    IF NEW.seq <> coalesce(last_seq, 0) + 1
        OR NEW.prev <> coalesce(last_hash, repeat('0', 64)) THEN
        RAISE EXCEPTION 'event %% of %% does not follow event %%', NEW.seq, NEW."case",
            coalesce(last_seq, 0);
    END IF;
    RETURN NEW;
END
$$;
CREATE FUNCTION voicelist_never() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'records are only added to, never changed';
END
$$;
"""

_TRIGGERS = """
CREATE TRIGGER in_order BEFORE INSERT ON voicelist_journal
    FOR EACH ROW EXECUTE FUNCTION voicelist_in_order();
CREATE TRIGGER never BEFORE UPDATE OR DELETE ON voicelist_journal
    FOR EACH ROW EXECUTE FUNCTION voicelist_never();
CREATE TRIGGER never_emptied BEFORE TRUNCATE ON voicelist_journal
    FOR EACH STATEMENT EXECUTE FUNCTION voicelist_never();
"""

_RIGHTS = """
DO $$ BEGIN
    IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'voicelist_adds') THEN
        CREATE ROLE voicelist_adds NOLOGIN;
    END IF;
    IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'voicelist_reads') THEN
        CREATE ROLE voicelist_reads NOLOGIN;
    END IF;
END $$;
REVOKE ALL ON voicelist_journal, voicelist_theatre FROM PUBLIC;
REVOKE ALL ON FUNCTION voicelist_own_theatre(), voicelist_held(text), voicelist_in_order()
    FROM PUBLIC;
GRANT INSERT (theatre, "case", seq, at, run, mono_ms, kind, body, prev, hash)
    ON voicelist_journal TO voicelist_adds;
GRANT EXECUTE ON FUNCTION voicelist_own_theatre(), voicelist_held(text) TO voicelist_adds;
GRANT SELECT ON voicelist_journal TO voicelist_reads;
GRANT SELECT ON voicelist_schema TO voicelist_adds, voicelist_reads;
ALTER TABLE voicelist_journal ENABLE ROW LEVEL SECURITY;
CREATE POLICY adds ON voicelist_journal FOR INSERT TO voicelist_adds
    WITH CHECK (theatre = voicelist_own_theatre());
CREATE POLICY reads ON voicelist_journal FOR SELECT TO voicelist_reads USING (true);
"""


def upgrade() -> None:
    """Makes tables, functions, triggers and rights, in this order."""
    for part in (_TABLES, _FUNCTIONS, _TRIGGERS, _RIGHTS):
        op.get_bind().exec_driver_sql(part)


def downgrade() -> None:
    """Records are not taken away by a step back."""
    raise NotImplementedError("The first step is not undone: restore a back-up instead.")
