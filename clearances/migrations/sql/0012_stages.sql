-- The stages of a job: one after the other, and no gap in their protection. The job's row is where they meet.

CREATE FUNCTION board_stage_given() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE earlier record;
BEGIN
    PERFORM 1 FROM clearances_job WHERE id = NEW.job_id FOR NO KEY UPDATE;
    SELECT number, state INTO earlier FROM clearances_clearance
        WHERE job_id = NEW.job_id AND stage < NEW.stage AND state IN ('given', 'accepted', 'frozen') ORDER BY number LIMIT 1;
    IF FOUND THEN
        PERFORM board_refuse('earlier_stage_released', format('Clearance %s of an earlier stage is %s.', earlier.number, earlier.state));
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER c_stage_given BEFORE UPDATE ON clearances_clearance
    FOR EACH ROW WHEN (NEW.state = 'given' AND OLD.state = 'asked') EXECUTE FUNCTION board_stage_given();

-- With the last clearance of a stage goes its protection; that of the next stage stands before.
CREATE FUNCTION board_stage_released() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE following record;
BEGIN
    PERFORM 1 FROM clearances_job WHERE id = NEW.job_id FOR NO KEY UPDATE;
    IF EXISTS (SELECT FROM clearances_clearance WHERE job_id = NEW.job_id AND stage = NEW.stage AND number <> NEW.number
            AND state IN ('given', 'accepted', 'frozen')) THEN
        RETURN NEW;
    END IF;
    FOR following IN SELECT c.number, c.stage, o.state FROM clearances_clearance c
        LEFT JOIN clearances_switchingorder o ON o.clearance_id = c.number
        WHERE c.job_id = NEW.job_id AND c.state = 'asked' AND c.stage =
            (SELECT min(stage) FROM clearances_clearance WHERE job_id = NEW.job_id AND stage > NEW.stage AND state = 'asked')
        ORDER BY c.number
    LOOP
        IF following.state IS DISTINCT FROM 'checked' THEN
            PERFORM board_refuse('next_stage_protected', format('Order %s of stage %s is %s.', following.number, following.stage,
                COALESCE(following.state, 'not written')));
        END IF;
        PERFORM board_points_stand(following.number);
    END LOOP;
    RETURN NEW;
END $$;

CREATE TRIGGER c_stage_released BEFORE UPDATE ON clearances_clearance
    FOR EACH ROW WHEN (NEW.state = 'released' AND OLD.state <> 'released') EXECUTE FUNCTION board_stage_released();

-- Which stage it is, of which job, stands from the asking on.
CREATE FUNCTION board_stage_stands() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    PERFORM board_refuse('clearance_stands', format('The stage and the work of clearance %s can''t be changed.', OLD.number));
    RETURN NULL;
END $$;

CREATE TRIGGER a_stage_stands BEFORE UPDATE ON clearances_clearance
    FOR EACH ROW WHEN ((NEW.stage, NEW.work) IS DISTINCT FROM (OLD.stage, OLD.work)) EXECUTE FUNCTION board_stage_stands();
