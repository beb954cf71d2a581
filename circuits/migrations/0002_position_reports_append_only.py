"""Position reports are written once: a correction is another report.

The triggers bind whoever owns the tables as well; the revoked rights bind the application's role before a
trigger has to.
"""

from django.db import migrations

FORWARD = """
CREATE FUNCTION circuits_positionreport_is_written_once() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'position reports are never changed or removed: enter another report'
        USING ERRCODE = 'restrict_violation';
END $$;

CREATE TRIGGER circuits_positionreport_no_change
    BEFORE UPDATE OR DELETE ON circuits_positionreport
    FOR EACH ROW EXECUTE FUNCTION circuits_positionreport_is_written_once();

CREATE TRIGGER circuits_positionreport_no_truncate
    BEFORE TRUNCATE ON circuits_positionreport
    FOR EACH STATEMENT EXECUTE FUNCTION circuits_positionreport_is_written_once();

DO $$ BEGIN
    IF EXISTS (SELECT FROM pg_roles WHERE rolname = 'board_app') THEN
        REVOKE UPDATE, DELETE, TRUNCATE ON circuits_positionreport FROM board_app;
    END IF;
END $$;
"""

BACKWARD = """
DROP TRIGGER circuits_positionreport_no_truncate ON circuits_positionreport;
DROP TRIGGER circuits_positionreport_no_change ON circuits_positionreport;
DROP FUNCTION circuits_positionreport_is_written_once();
"""


class Migration(migrations.Migration):
    dependencies = [("circuits", "0001_network")]
    operations = [migrations.RunSQL(FORWARD, BACKWARD)]
