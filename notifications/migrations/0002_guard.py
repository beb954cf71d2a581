from django.db import migrations

# Frozen copy of notifications.states.MOVES; a test compares the two.
MOVES = [
    ("waiting", "sending"),
    ("waiting", "superseded"),
    ("sending", "sent"),
    ("sending", "waiting"),
    ("sending", "failed"),
    ("sending", "superseded"),
    ("sending", "unconfirmed"),
    ("unconfirmed", "sent"),
    ("unconfirmed", "waiting"),
    ("unconfirmed", "failed"),
    ("unconfirmed", "superseded"),
    ("failed", "waiting"),
]

GUARD = f"""
CREATE FUNCTION notifications_guard_notice() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF TG_OP = 'DELETE' THEN
        RAISE EXCEPTION 'A notice is never deleted.' USING ERRCODE = 'check_violation';
    ELSIF TG_OP = 'INSERT' THEN
        IF NEW.state <> 'waiting' THEN
            RAISE EXCEPTION 'A new notice waits; it cannot begin as %.', NEW.state USING ERRCODE = 'check_violation';
        END IF;
        RETURN NEW;
    END IF;
    IF (NEW.id, NEW.fact, NEW.channel, NEW.recipient, NEW.about, NEW.subject, NEW.body, NEW.message_id, NEW.created_at)
        IS DISTINCT FROM
       (OLD.id, OLD.fact, OLD.channel, OLD.recipient, OLD.about, OLD.subject, OLD.body, OLD.message_id, OLD.created_at)
    THEN
        RAISE EXCEPTION 'What notice % says, and to whom, cannot be changed.', OLD.id
            USING ERRCODE = 'check_violation';
    END IF;
    IF NEW.state <> OLD.state AND (OLD.state, NEW.state) NOT IN ({", ".join(f"('{a}', '{b}')" for a, b in MOVES)}) THEN
        RAISE EXCEPTION 'Notice % is % and cannot become %.', OLD.id, OLD.state, NEW.state
            USING ERRCODE = 'check_violation';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER notifications_guard_notice BEFORE INSERT OR UPDATE OR DELETE ON notifications_notice
    FOR EACH ROW EXECUTE FUNCTION notifications_guard_notice();
"""


class Migration(migrations.Migration):
    dependencies = [("notifications", "0001_initial")]

    operations = [
        migrations.RunSQL(
            GUARD,
            "DROP TRIGGER notifications_guard_notice ON notifications_notice;"
            "DROP FUNCTION notifications_guard_notice();",
        )
    ]
