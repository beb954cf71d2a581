-- Whoever was asked last before a close and has not said yes keeps it from being ordered. Who has to be asked the database can't trace.

CREATE FUNCTION board_roll_answered() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE silent record;
BEGIN
    SELECT last.clearance_id, last.agrees INTO silent FROM (
        SELECT DISTINCT ON (clearance_id) clearance_id, agrees FROM clearances_rollcall
            WHERE step_id = NEW.id ORDER BY clearance_id, id DESC) AS last
        JOIN clearances_clearance c ON c.number = last.clearance_id AND c.state IN ('given', 'accepted', 'frozen')
        WHERE last.agrees IS NOT TRUE LIMIT 1;
    IF FOUND THEN
        PERFORM board_refuse('roll_call_answered', format('The holder of clearance %s has %s to closing %s.', silent.clearance_id,
            CASE WHEN silent.agrees IS NULL THEN 'not answered' ELSE 'said no' END, NEW.device_id));
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER c_roll_answered BEFORE UPDATE ON clearances_step
    FOR EACH ROW WHEN (NEW.state = 'given' AND OLD.state <> 'given' AND NEW.operation = 'close') EXECUTE FUNCTION board_roll_answered();

CREATE TRIGGER a_ended_once BEFORE UPDATE OR DELETE ON clearances_rollcall
    FOR EACH ROW EXECUTE FUNCTION board_ended_once('roll-call', 'answered_at,agrees,said_by');
