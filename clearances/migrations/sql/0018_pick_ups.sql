-- Load picked up by a tie: what an order moves besides its points.

-- 1. What is moved besides the points stands with them, and is none of them. ---------------------------------------------------------

CREATE TRIGGER a_plan_fixed BEFORE INSERT OR UPDATE OR DELETE ON clearances_pickup
    FOR EACH ROW EXECUTE FUNCTION board_plan_fixed();
-- Who is out only while load is switched over is counted in with the check.
CREATE TRIGGER a_plan_fixed_briefly BEFORE UPDATE OF briefly ON clearances_affectedpremises
    FOR EACH ROW EXECUTE FUNCTION board_plan_fixed();

-- The clearance's row is locked by board_plan_fixed.
CREATE FUNCTION board_point_or_pick_up() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF EXISTS (SELECT FROM clearances_pickup u JOIN clearances_isolationpoint p USING (clearance_id, device_id)
            WHERE clearance_id = NEW.clearance_id AND device_id = NEW.device_id) THEN
        PERFORM board_refuse('point_or_pick_up', format('%s is a point of clearance %s, so it picks nothing up for it.',
            NEW.device_id, NEW.clearance_id));
    END IF;
    RETURN NULL;
END $$;

CREATE TRIGGER b_point_or_pick_up AFTER INSERT OR UPDATE ON clearances_pickup
    FOR EACH ROW EXECUTE FUNCTION board_point_or_pick_up();
CREATE TRIGGER b_point_or_pick_up AFTER INSERT OR UPDATE ON clearances_isolationpoint
    FOR EACH ROW EXECUTE FUNCTION board_point_or_pick_up();

-- A step without a point, and so without a tag, moves what was chosen for that: there in the isolate half, back in the other.
CREATE FUNCTION board_step_of_pick_up() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF NOT EXISTS (SELECT FROM clearances_pickup WHERE clearance_id = NEW.order_id AND device_id = NEW.device_id
            AND closes = ((NEW.half = 'isolate') = (NEW.operation = 'close'))) THEN
        PERFORM board_refuse('step_of_pick_up', format('Order %s has no point at %s, and moves it for no other reason.',
            NEW.order_id, NEW.device_id));
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER b_step_of_pick_up BEFORE INSERT OR UPDATE OF order_id, half, operation, device_id, point_id ON clearances_step
    FOR EACH ROW WHEN (NEW.point_id IS NULL) EXECUTE FUNCTION board_step_of_pick_up();

-- 2. A close of the isolate half is bound as one of the restore half is (0002, 2; 0011), but for people: before the giving they are at
-- the briefing. ----------------------------------------------------------------------------------------------------------------------

CREATE FUNCTION board_no_unlike_tie(device text) RETURNS void LANGUAGE plpgsql AS $$
DECLARE sides record;
BEGIN
    SELECT a.phases AS one, b.phases AS other INTO sides FROM circuits_device d
        JOIN circuits_node a ON a.id = d.from_node_id JOIN circuits_node b ON b.id = d.to_node_id
        WHERE d.id = device AND d.kind = 'secondary_tie' AND a.phases <> b.phases;
    IF FOUND THEN
        PERFORM board_refuse('no_tie_of_unlike_phases', format('%s can''t be ordered closed: its sides derive from %s and %s.',
            device, sides.one, sides.other));
    END IF;
END $$;

CREATE OR REPLACE FUNCTION board_step_given() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    order_state text; held text; tag record; ground record; home text; other record; person text;
BEGIN
    PERFORM 1 FROM circuits_device WHERE id = NEW.device_id FOR NO KEY UPDATE;
    SELECT state INTO order_state FROM clearances_switchingorder WHERE clearance_id = NEW.order_id FOR NO KEY UPDATE;
    SELECT state INTO held FROM clearances_clearance WHERE number = NEW.order_id;
    IF order_state <> 'checked' THEN
        PERFORM board_refuse('step_from_checked_order', format('Order %s is %s; no step may be given.', NEW.order_id, order_state));
    END IF;
    IF NEW.half = 'isolate' THEN
        IF held <> 'asked' THEN
            PERFORM board_refuse('isolate_before_given', format('Clearance %s is %s; its isolate half is over.', NEW.order_id, held));
        END IF;
        SELECT p.address INTO home FROM clearances_affectedpremises a JOIN circuits_premises p ON p.id = a.premises_id
            WHERE a.clearance_id = NEW.order_id AND a.care = 'life_support' AND a.answered_at IS NULL LIMIT 1;
        IF FOUND THEN
            PERFORM board_refuse('life_support_answered', format('Life-support at %s: no person has answered yet.', home));
        END IF;
    ELSIF held NOT IN ('released', 'withdrawn') THEN
        PERFORM board_refuse('restore_after_release',
            format('Clearance %s is %s: no tag comes off and nothing is closed.', NEW.order_id, held));
    END IF;
    IF NEW.operation = 'close' THEN
        SELECT number, clearance_id INTO tag FROM clearances_tag WHERE device_id = NEW.device_id AND off_at IS NULL LIMIT 1;
        IF FOUND THEN
            PERFORM board_refuse('no_close_with_tag', format('%s can''t be ordered closed: tag %s of clearance %s is on it.',
                NEW.device_id, tag.number, tag.clearance_id));
        END IF;
        SELECT label, pole INTO ground FROM clearances_groundset WHERE clearance_id = NEW.order_id AND off_at IS NULL LIMIT 1;
        IF FOUND THEN
            PERFORM board_refuse('no_close_with_ground', format('%s can''t be ordered closed: ground set %s is on at %s.',
                NEW.device_id, ground.label, ground.pole));
        END IF;
        SELECT name INTO person FROM clearances_signon
            WHERE clearance_id = NEW.order_id AND off_at IS NULL AND NEW.half = 'restore' LIMIT 1;
        IF FOUND THEN
            PERFORM board_refuse('no_close_with_person', format('%s can''t be ordered closed: %s is signed on under clearance %s.',
                NEW.device_id, person, NEW.order_id));
        END IF;
        -- Also where its tag was reported off too soon.
        SELECT c.number, c.state INTO other FROM clearances_isolationpoint p JOIN clearances_clearance c ON c.number = p.clearance_id
            WHERE p.device_id = NEW.device_id AND c.state IN ('given', 'accepted', 'frozen') LIMIT 1;
        IF FOUND THEN
            PERFORM board_refuse('no_close_at_held_point', format('%s can''t be ordered closed: it is a point of clearance %s, which is %s.',
                NEW.device_id, other.number, other.state));
        END IF;
        PERFORM board_no_unlike_tie(NEW.device_id);
    END IF;
    RETURN NEW;
END $$;

CREATE OR REPLACE FUNCTION board_step_as_left() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE open_change bigint; this_job bigint := board_job_locked(NEW.order_id);
BEGIN
    SELECT s.id INTO open_change FROM clearances_changeset s JOIN clearances_clearance c ON c.number = s.clearance_id
        WHERE c.job_id = this_job AND (s.state = 'planned' OR s.unsettled <> '') LIMIT 1;
    IF FOUND THEN
        PERFORM board_refuse('restore_as_left', format('Change set %s: the board does not know yet how it was built.', open_change));
    END IF;
    RETURN NEW;
END $$;
