-- Load picked up by a tie: what a tie waits for, and what waits for it.

-- 1. A close of the isolate half, by which a tie picks load up, waits as the restore half does (0011) for what an earlier stage of its
-- job may have built by now: what is only planned for a clearance that is not given yet has changed nothing.

CREATE OR REPLACE FUNCTION board_step_as_left() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE open_change bigint; this_job bigint := board_job_locked(NEW.order_id);
BEGIN
    SELECT s.id INTO open_change FROM clearances_changeset s JOIN clearances_clearance c ON c.number = s.clearance_id
        WHERE c.job_id = this_job AND (s.unsettled <> ''
            OR s.state = 'planned' AND (NEW.half = 'restore' OR c.state NOT IN ('asked', 'withdrawn'))) LIMIT 1;
    IF FOUND THEN
        PERFORM board_refuse('restore_as_left', format('Change set %s: the board does not know yet how it was built.', open_change));
    END IF;
    RETURN NEW;
END $$;

DROP TRIGGER c_step_as_left ON clearances_step;
CREATE TRIGGER c_step_as_left BEFORE UPDATE ON clearances_step FOR EACH ROW
    WHEN (NEW.state = 'given' AND OLD.state <> 'given' AND (NEW.half = 'restore' OR NEW.operation = 'close'))
    EXECUTE FUNCTION board_step_as_left();

-- 2. No step of the isolate half is given after the clearance, so what picks load up is moved before it. The order's row, which a step
-- is given under (0018), is locked by b_clearance_given.

CREATE FUNCTION board_given_after_pick_ups() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE left_over record;
BEGIN
    SELECT place, device_id INTO left_over FROM clearances_step
        WHERE order_id = NEW.number AND half = 'isolate' AND point_id IS NULL AND state IN ('waiting', 'given') ORDER BY place LIMIT 1;
    IF FOUND THEN
        PERFORM board_refuse('given_after_pick_ups', format('Step %s (%s) of order %s picks load up and is not reported yet.',
            left_over.place, left_over.device_id, NEW.number));
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER c_given_after_pick_ups BEFORE UPDATE ON clearances_clearance
    FOR EACH ROW WHEN (NEW.state = 'given' AND OLD.state = 'asked') EXECUTE FUNCTION board_given_after_pick_ups();
