-- Unplanned interruptions and facts out of the ordinary: what may never happen to them, whoever writes.

-- 1. A trouble begins and ends with its customers. What is known of it may still be said after it ended. -----------------------------

CREATE FUNCTION board_trouble_stands() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF TG_OP = 'DELETE' THEN
        PERFORM board_refuse('history_is_kept', 'A trouble is never removed.');
    END IF;
    IF (NEW.number, NEW.device_id, NEW.began_at) IS DISTINCT FROM (OLD.number, OLD.device_id, OLD.began_at)
        OR (OLD.ended_at IS NOT NULL AND NEW.ended_at IS DISTINCT FROM OLD.ended_at) THEN
        PERFORM board_refuse('history_is_kept', format('Where and when trouble %s began and ended is not changed afterwards.', OLD.number));
    END IF;
    IF NEW.ended_at IS NOT NULL AND OLD.ended_at IS NULL
        AND EXISTS (SELECT FROM clearances_interruption WHERE trouble_id = NEW.number AND on_at IS NULL) THEN
        PERFORM board_refuse('trouble_ends_with_its_customers', format('Customers of trouble %s are still out.', NEW.number));
    END IF;
    IF OLD.ended_at IS NOT NULL AND (NEW.crew, NEW.back_by, NEW.next_word_at, NEW.say, NEW.said_at, NEW.telling)
        IS DISTINCT FROM (OLD.crew, OLD.back_by, OLD.next_word_at, OLD.say, OLD.said_at, OLD.telling) THEN
        PERFORM board_refuse('nothing_promised_after_the_end', format('Trouble %s has ended: nothing is promised of it any more.', OLD.number));
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER a_trouble_stands BEFORE UPDATE OR DELETE ON clearances_trouble
    FOR EACH ROW EXECUTE FUNCTION board_trouble_stands();

-- A trouble's row is where its end and a customer that joins it meet.
CREATE FUNCTION board_joins_trouble() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE ended timestamptz;
BEGIN
    SELECT ended_at INTO ended FROM clearances_trouble WHERE number = NEW.trouble_id FOR NO KEY UPDATE;
    IF ended IS NOT NULL THEN
        PERFORM board_refuse('no_one_joins_what_has_ended', format('Trouble %s has ended; a new opening begins another.', NEW.trouble_id));
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER b_joins_trouble BEFORE INSERT ON clearances_interruption
    FOR EACH ROW WHEN (NEW.trouble_id IS NOT NULL) EXECUTE FUNCTION board_joins_trouble();

-- 2. Facts only grow. -----------------------------------------------------------------------------------------------------------------

CREATE TRIGGER a_ended_once BEFORE UPDATE OR DELETE ON clearances_blow
    FOR EACH ROW EXECUTE FUNCTION board_ended_once('link that blew', 'id');
CREATE TRIGGER a_ended_once BEFORE UPDATE OR DELETE ON clearances_patrol
    FOR EACH ROW EXECUTE FUNCTION board_ended_once('patrol', 'id');
CREATE TRIGGER a_ended_once BEFORE UPDATE OR DELETE ON clearances_neveron
    FOR EACH ROW EXECUTE FUNCTION board_ended_once('correction', 'id');
CREATE TRIGGER a_ended_once BEFORE UPDATE OR DELETE ON clearances_call
    FOR EACH ROW EXECUTE FUNCTION board_ended_once('call', 'entry_id');

-- A ground set that never went on: the word of the holder and of another who is or was signed on under the clearance.
CREATE FUNCTION board_never_on() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE its record;
BEGIN
    SELECT g.clearance_id, COALESCE(NULLIF(btrim(p.first_name || ' ' || p.last_name), ''), p.username) AS holder INTO its FROM clearances_groundset g
        JOIN clearances_clearance c ON c.number = g.clearance_id JOIN clearances_person p ON p.id = c.holder_id
        WHERE g.id = NEW.ground_id;
    IF NEW.said_by <> its.holder THEN
        PERFORM board_refuse('never_on_by_holder', format('Only the holder, %s, takes a ground set back.', its.holder));
    END IF;
    IF NOT EXISTS (SELECT FROM clearances_signon WHERE clearance_id = its.clearance_id AND name = NEW.second) THEN
        PERFORM board_refuse('never_on_by_a_second', format('%s was not signed on under clearance %s.', NEW.second, its.clearance_id));
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER b_never_on BEFORE INSERT ON clearances_neveron FOR EACH ROW EXECUTE FUNCTION board_never_on();

-- 3. After a second blow nothing is closed there before a patrol (common practice). ---------------------------------------------------
-- A blow counts until each of its phases was closed later and held: by a close that is no blow itself.

CREATE FUNCTION board_patrol_first() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE blows int; last_blow timestamptz;
BEGIN
    SELECT count(*), max(dropped_at) INTO blows, last_blow FROM clearances_blow b
        WHERE device_id = NEW.device_id AND EXISTS (
            SELECT FROM regexp_split_to_table(b.phases, '') AS letter (phase) WHERE NOT EXISTS (
                SELECT FROM circuits_positionreport r WHERE r.device_id = b.device_id AND r.phase = letter.phase
                    AND r.position = 'closed' AND r.done_at > b.dropped_at AND NOT EXISTS (
                        SELECT FROM clearances_blow other WHERE other.device_id = r.device_id AND other.closed_at = r.done_at
                            AND position(r.phase IN other.phases) > 0)));
    IF blows >= 2 AND NOT EXISTS (SELECT FROM clearances_patrol WHERE device_id = NEW.device_id AND done_at >= last_blow) THEN
        PERFORM board_refuse('patrol_after_second_blow',
            format('%s has dropped %s times since it last held, and nobody has reported a patrol since.', NEW.device_id, blows));
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER c_patrol_first BEFORE UPDATE ON clearances_step
    FOR EACH ROW WHEN (NEW.state = 'given' AND OLD.state <> 'given' AND NEW.operation = 'close') EXECUTE FUNCTION board_patrol_first();
