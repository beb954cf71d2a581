-- As left: nothing of a restore half is given before the board knows how its job has left the network.

CREATE TRIGGER a_state_moves BEFORE INSERT OR UPDATE ON clearances_changeset
    FOR EACH ROW EXECUTE FUNCTION board_state_moves('change');

-- A change planned and a restore step given at the same moment meet at the job's row: one waits, and sees the other.
CREATE FUNCTION board_job_locked(this bigint) RETURNS bigint LANGUAGE plpgsql AS $$
DECLARE job bigint;
BEGIN
    SELECT j.id INTO job FROM clearances_job j JOIN clearances_clearance c ON c.job_id = j.id WHERE c.number = this
        FOR NO KEY UPDATE OF j;
    RETURN job;
END $$;

CREATE FUNCTION board_change_planned() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    PERFORM board_job_locked(NEW.clearance_id);
    RETURN NEW;
END $$;

CREATE TRIGGER b_change_planned BEFORE INSERT ON clearances_changeset FOR EACH ROW EXECUTE FUNCTION board_change_planned();

CREATE FUNCTION board_step_as_left() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE open_change bigint; sides record; this_job bigint := board_job_locked(NEW.order_id);
BEGIN
    SELECT s.id INTO open_change FROM clearances_changeset s JOIN clearances_clearance c ON c.number = s.clearance_id
        WHERE c.job_id = this_job AND (s.state = 'planned' OR s.unsettled <> '') LIMIT 1;
    IF FOUND THEN
        PERFORM board_refuse('restore_as_left', format('Change set %s: the board does not know yet how it was built.', open_change));
    END IF;
    IF NEW.operation = 'close' THEN
        SELECT a.phases AS one, b.phases AS other INTO sides FROM circuits_device d
            JOIN circuits_node a ON a.id = d.from_node_id JOIN circuits_node b ON b.id = d.to_node_id
            WHERE d.id = NEW.device_id AND d.kind = 'secondary_tie' AND a.phases <> b.phases;
        IF FOUND THEN
            PERFORM board_refuse('no_tie_of_unlike_phases', format('%s can''t be ordered closed: its sides derive from %s and %s.',
                NEW.device_id, sides.one, sides.other));
        END IF;
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER c_step_as_left BEFORE UPDATE ON clearances_step
    FOR EACH ROW WHEN (NEW.state = 'given' AND OLD.state <> 'given' AND NEW.half = 'restore') EXECUTE FUNCTION board_step_as_left();

-- What was planned stands once the field has spoken, and so does what the field has said.
CREATE FUNCTION board_change_stands() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF (NEW.clearance_id, NEW.planned_by_id, NEW.planned_at) IS DISTINCT FROM (OLD.clearance_id, OLD.planned_by_id, OLD.planned_at)
        OR (OLD.state <> 'planned' AND (NEW.planned, NEW.built, NEW.said_by, NEW.said_at, NEW.done_at)
            IS DISTINCT FROM (OLD.planned, OLD.built, OLD.said_by, OLD.said_at, OLD.done_at)) THEN
        PERFORM board_refuse('change_stands', format('What was planned and said of change set %s stands.', OLD.id));
    END IF;
    IF (OLD.revision_id IS NOT NULL AND (NEW.revision_id, NEW.rows) IS DISTINCT FROM (OLD.revision_id, OLD.rows)) THEN
        PERFORM board_refuse('change_stands', format('What change set %s has laid into the network stands.', OLD.id));
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER b_change_stands BEFORE UPDATE ON clearances_changeset FOR EACH ROW EXECUTE FUNCTION board_change_stands();
CREATE TRIGGER a_kept BEFORE DELETE ON clearances_changeset FOR EACH ROW EXECUTE FUNCTION board_kept();
