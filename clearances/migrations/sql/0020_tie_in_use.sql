-- A tie that has another clearance's load on it is not ordered open: its own order opens it, or leaves that to another. As
-- clearances/pickups.py, fed_by.

CREATE FUNCTION board_tie_in_use() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE other bigint;
BEGIN
    SELECT u.clearance_id INTO other FROM clearances_pickup u
        JOIN clearances_switchingorder o ON o.clearance_id = u.clearance_id AND o.state IN ('checked', 'paused')
        JOIN clearances_clearance c ON c.number = u.clearance_id
        WHERE u.device_id = NEW.device_id AND u.closes AND u.clearance_id <> NEW.order_id
            AND (c.state IN ('given', 'accepted', 'frozen')
                OR EXISTS (SELECT FROM clearances_step s WHERE s.order_id = u.clearance_id AND s.state = 'reported'))
            AND NOT EXISTS (SELECT FROM clearances_step s WHERE s.order_id = u.clearance_id AND s.half = 'restore'
                AND s.device_id = NEW.device_id AND s.point_id IS NULL AND s.state IN ('reported', 'left_out'))
        LIMIT 1;
    IF FOUND THEN
        PERFORM board_refuse('tie_in_use', format('%s can''t be ordered open: clearance %s has load picked up by it.',
            NEW.device_id, other));
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER c_tie_in_use BEFORE UPDATE ON clearances_step FOR EACH ROW
    WHEN (NEW.state = 'given' AND OLD.state <> 'given' AND NEW.operation = 'open' AND NEW.point_id IS NULL)
    EXECUTE FUNCTION board_tie_in_use();
