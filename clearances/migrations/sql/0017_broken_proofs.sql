-- A broken proof is never removed, and what was seen of it never changes. The holder's last word counts; that everybody is off is the
-- last one. Nobody else's state hangs on it: it is an alarm, and refuses nothing.

CREATE FUNCTION board_broken_proof() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE said text[] := '{people_off,answered_at,said_by}';
BEGIN
    IF TG_OP = 'DELETE' THEN
        PERFORM board_refuse('history_is_kept', 'A broken proof is never removed.');
    END IF;
    IF to_jsonb(NEW) - said - 'gone_at' <> to_jsonb(OLD) - said - 'gone_at' OR (OLD.gone_at IS NOT NULL AND NEW.gone_at IS DISTINCT FROM OLD.gone_at) THEN
        PERFORM board_refuse('history_is_kept', 'What broke a proof is not changed afterwards.');
    END IF;
    IF (NEW.people_off, NEW.answered_at, NEW.said_by) IS DISTINCT FROM (OLD.people_off, OLD.answered_at, OLD.said_by)
        AND (OLD.people_off OR NEW.people_off IS NULL) THEN
        PERFORM board_refuse('answered_once', 'That everybody is off was said already, and an answer is never taken away.');
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER a_answered_once BEFORE UPDATE OR DELETE ON clearances_brokenproof FOR EACH ROW EXECUTE FUNCTION board_broken_proof();

CREATE TRIGGER z_changed AFTER INSERT OR UPDATE ON clearances_brokenproof
    FOR EACH ROW EXECUTE FUNCTION board_changed('broken proof', 'id', 'clearance_id,over,people_off,answered_at,gone_at');
