-- Hot-line holds, customers' do-not-operates, field clearances: what the database holds of them, whoever writes.
-- As in 0002: orders, givings and endings are bound; what somebody saw is always stored, and marked where it does not fit.

-- 1. States move by the table; all else is written with its move and at no other time; nothing is removed. --------------------------

CREATE TRIGGER a_state_moves BEFORE INSERT OR UPDATE ON clearances_hotlinehold
    FOR EACH ROW EXECUTE FUNCTION board_state_moves('hold');
CREATE TRIGGER a_state_moves BEFORE INSERT OR UPDATE ON clearances_donotoperate
    FOR EACH ROW EXECUTE FUNCTION board_state_moves('do_not_operate');
CREATE TRIGGER a_state_moves BEFORE INSERT OR UPDATE ON clearances_fieldclearance
    FOR EACH ROW EXECUTE FUNCTION board_state_moves('field_clearance');

-- Arguments: what it is called, then for each move "old>new:columns".
CREATE FUNCTION board_written_with_its_move() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE may text[] := ARRAY['state'];
BEGIN
    FOR i IN 1 .. TG_NARGS - 1 LOOP
        IF split_part(TG_ARGV[i], ':', 1) = OLD.state || '>' || NEW.state THEN
            may := may || string_to_array(split_part(TG_ARGV[i], ':', 2), ',');
        END IF;
    END LOOP;
    IF to_jsonb(NEW) - may <> to_jsonb(OLD) - may THEN
        PERFORM board_refuse('protection_stands', format('What is written of a %s can''t be changed: it is %s.', TG_ARGV[0], OLD.state));
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER b_stands BEFORE UPDATE ON clearances_hotlinehold FOR EACH ROW EXECUTE FUNCTION board_written_with_its_move(
    'hot-line hold', 'asked>given:given_at,given_by_id', 'given>accepted:accepted_at,accepted_words',
    'accepted>given_back:given_back_at,given_back_by_id');
CREATE TRIGGER b_stands BEFORE UPDATE ON clearances_donotoperate FOR EACH ROW EXECUTE FUNCTION board_written_with_its_move(
    'do-not-operate', 'given>given_back:given_back_at,met_by_id,met_where');
CREATE TRIGGER b_stands BEFORE UPDATE ON clearances_fieldclearance FOR EACH ROW EXECUTE FUNCTION board_written_with_its_move(
    'field clearance', 'on>ended:ended_at,ended_by_id');

CREATE TRIGGER a_kept BEFORE DELETE ON clearances_hotlinehold FOR EACH ROW EXECUTE FUNCTION board_kept();
CREATE TRIGGER a_kept BEFORE DELETE ON clearances_donotoperate FOR EACH ROW EXECUTE FUNCTION board_kept();
CREATE TRIGGER a_kept BEFORE DELETE ON clearances_fieldclearance FOR EACH ROW EXECUTE FUNCTION board_kept();
CREATE TRIGGER a_ended_once BEFORE UPDATE OR DELETE ON clearances_holdreport
    FOR EACH ROW EXECUTE FUNCTION board_ended_once('report of a hot-line hold', 'id');

-- 2. Hot-line holds. ----------------------------------------------------------------------------------------------------------------

CREATE FUNCTION board_hold_said(this bigint, among text[]) RETURNS clearances_holdreport LANGUAGE sql STABLE AS $$
    SELECT r.* FROM clearances_holdreport r WHERE r.hold_id = this AND r.said = ANY (among) ORDER BY r.id DESC LIMIT 1
$$;

-- Reports of a hold, and its giving and acceptance, meet at its row.
CREATE FUNCTION board_hold_reported() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE held text;
BEGIN
    SELECT state INTO held FROM clearances_hotlinehold WHERE id = NEW.hold_id FOR NO KEY UPDATE;
    IF (NEW.said IN ('reclose_on', 'tag_off')) = (held IN ('given', 'accepted')) AND NEW.said IN ('reclose_on', 'tag_off') THEN
        NEW.irregular := btrim(NEW.irregular || format(' Hot-line hold HL-%s is %s.', NEW.hold_id, held));
    ELSIF held IN ('given_back', 'withdrawn') AND NEW.said NOT IN ('reclose_on', 'tag_off') THEN
        NEW.irregular := btrim(NEW.irregular || format(' Hot-line hold HL-%s is over.', NEW.hold_id));
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER b_hold_reported BEFORE INSERT ON clearances_holdreport FOR EACH ROW EXECUTE FUNCTION board_hold_reported();

CREATE FUNCTION board_hold_given() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE ordered bigint;
BEGIN
    -- The device's row first, as where a step is given (3): of an order and a hold at the same moment one sees the other.
    PERFORM 1 FROM circuits_device WHERE id = NEW.device_id FOR NO KEY UPDATE;
    IF COALESCE((board_hold_said(NEW.id, ARRAY['reclose_off', 'reclose_on'])).said, '') <> 'reclose_off' THEN
        PERFORM board_refuse('hold_with_reclosing_off', format('Reclosing at %s is not reported off.', NEW.device_id));
    END IF;
    IF COALESCE((board_hold_said(NEW.id, ARRAY['tag_hung', 'tag_off'])).said, '') <> 'tag_hung' THEN
        PERFORM board_refuse('hold_with_its_tag', format('No hold tag HL-%s is reported hung at the control of %s.', NEW.id, NEW.device_id));
    END IF;
    IF NEW.state = 'given' THEN
        SELECT order_id INTO ordered FROM clearances_step WHERE device_id = NEW.device_id AND state = 'given' LIMIT 1;
        IF FOUND THEN
            PERFORM board_refuse('hold_with_no_step_out', format('%s is being operated by order %s.', NEW.device_id, ordered));
        END IF;
        -- The last day counts until it is over everywhere on earth, as for a clearance.
        IF NOT EXISTS (SELECT FROM clearances_person WHERE id = NEW.holder_id AND is_active AND 'foreman' = ANY (roles)
                AND may_hold_until >= (now() AT TIME ZONE 'UTC' - interval '12 hours')::date) THEN
            PERFORM board_refuse('hold_holder_qualified', 'The holder is not qualified to hold a hot-line hold today.');
        END IF;
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER c_hold_given BEFORE UPDATE ON clearances_hotlinehold
    FOR EACH ROW WHEN (NEW.state IN ('given', 'accepted') AND OLD.state <> NEW.state) EXECUTE FUNCTION board_hold_given();

-- 3. What they have against a step. The board's rule also asks how long ago a holder answered; here it is only that he did. ----------

CREATE FUNCTION board_step_given_beside() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE found_one record; answer clearances_holdreport; opened timestamptz;
BEGIN
    PERFORM 1 FROM circuits_device WHERE id = NEW.device_id FOR NO KEY UPDATE;
    SELECT id INTO found_one FROM clearances_fieldclearance WHERE device_id = NEW.device_id AND state = 'on' LIMIT 1;
    IF FOUND THEN
        PERFORM board_refuse('no_order_at_field_clearance', format('%s is under field clearance FC-%s: no order operates it.',
            NEW.device_id, found_one.id));
    END IF;
    IF NEW.operation = 'close' THEN
        SELECT id, name INTO found_one FROM clearances_donotoperate WHERE device_id = NEW.device_id AND state = 'given' LIMIT 1;
        IF FOUND THEN
            PERFORM board_refuse('no_close_with_do_not_operate', format('%s can''t be ordered closed: do-not-operate DNO-%s of %s is on it.',
                NEW.device_id, found_one.id, found_one.name));
        END IF;
        SELECT max(entered_at) INTO opened FROM circuits_positionreport WHERE device_id = NEW.device_id AND position = 'open';
    END IF;
    IF NEW.operation IN ('open', 'close') THEN
        FOR found_one IN SELECT id FROM clearances_hotlinehold
            WHERE device_id = NEW.device_id AND state IN ('given', 'accepted') ORDER BY id
        LOOP
            IF NEW.operation = 'open' THEN
                answer := board_hold_said(found_one.id, ARRAY['stands_down', 'stays']);
                IF answer.id IS NULL THEN
                    PERFORM board_refuse('no_open_unasked', format('%s can''t be ordered open: the holder of hot-line hold HL-%s has not answered.',
                        NEW.device_id, found_one.id));
                END IF;
            ELSE
                answer := board_hold_said(found_one.id, ARRAY['yes', 'no']);
                IF answer.said IS DISTINCT FROM 'yes' OR answer.entered_at <= opened THEN
                    PERFORM board_refuse('no_close_unreached', format('%s can''t be ordered closed: the holder of hot-line hold HL-%s has not said yes since it opened.',
                        NEW.device_id, found_one.id));
                END IF;
            END IF;
        END LOOP;
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER c_step_given_beside BEFORE UPDATE ON clearances_step
    FOR EACH ROW WHEN (NEW.state = 'given' AND OLD.state <> 'given') EXECUTE FUNCTION board_step_given_beside();

-- 4. Do-not-operates and field clearances begin on a device that is reported open. ---------------------------------------------------

CREATE FUNCTION board_not_open(device text, phases text, kept_open boolean) RETURNS text LANGUAGE sql STABLE AS $$
    SELECT string_agg(letter.phase, '') FROM regexp_split_to_table(phases, '') AS letter (phase)
    WHERE NOT COALESCE((SELECT r.position = 'open' AND (NOT kept_open OR r.made_inoperable <> '') FROM circuits_positionreport r
        WHERE r.device_id = device AND r.phase = letter.phase ORDER BY r.done_at DESC, r.id DESC LIMIT 1), false)
$$;

CREATE FUNCTION board_do_not_operate_given() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE closed text; ordered bigint;
BEGIN
    PERFORM 1 FROM circuits_device WHERE id = NEW.device_id FOR NO KEY UPDATE;
    closed := board_not_open(NEW.device_id, NEW.phases, true);
    IF closed IS NOT NULL THEN
        PERFORM board_refuse('do_not_operate_on_open', format('%s is not reported open and made inoperable on %s.', NEW.device_id, closed));
    END IF;
    SELECT order_id INTO ordered FROM clearances_step
        WHERE device_id = NEW.device_id AND state = 'given' AND operation = 'close' LIMIT 1;
    IF FOUND THEN
        PERFORM board_refuse('do_not_operate_with_no_close', format('Order %s has %s ordered closed.', ordered, NEW.device_id));
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER c_do_not_operate_given BEFORE INSERT ON clearances_donotoperate
    FOR EACH ROW EXECUTE FUNCTION board_do_not_operate_given();

-- A field clearance and a clearance that is given over the same nodes share no row: they wait for each other here.
CREATE FUNCTION board_one_crew_inside() RETURNS void LANGUAGE sql AS $$ SELECT pg_advisory_xact_lock(7106410) $$;

CREATE FUNCTION board_field_clearance_on() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE closed text; other text;
BEGIN
    PERFORM 1 FROM circuits_device WHERE id = NEW.device_id FOR NO KEY UPDATE;
    PERFORM board_one_crew_inside();
    closed := board_not_open(NEW.device_id, NEW.phases, false);
    IF closed IS NOT NULL THEN
        PERFORM board_refuse('field_clearance_on_open', format('%s is not reported open on %s.', NEW.device_id, closed));
    END IF;
    SELECT 'tag ' || number INTO other FROM clearances_tag WHERE device_id = NEW.device_id AND off_at IS NULL LIMIT 1;
    IF NOT FOUND THEN
        SELECT 'order ' || order_id INTO other FROM clearances_step WHERE device_id = NEW.device_id AND state = 'given' LIMIT 1;
    END IF;
    IF FOUND THEN
        PERFORM board_refuse('field_clearance_sole_control', format('%s is not under sole control: %s.', NEW.device_id, other));
    END IF;
    SELECT 'clearance ' || c.number INTO other FROM clearances_clearance c
        JOIN clearances_limit l ON l.clearance_id = c.number LEFT JOIN circuits_line w ON w.id = l.line_id
        WHERE c.state IN ('given', 'accepted', 'frozen') AND NEW.nodes && ARRAY[l.node_id, w.from_node_id, w.to_node_id]::text[] LIMIT 1;
    IF NOT FOUND THEN
        SELECT 'field clearance FC-' || id INTO other FROM clearances_fieldclearance WHERE state = 'on' AND nodes && NEW.nodes LIMIT 1;
    END IF;
    IF FOUND THEN
        PERFORM board_refuse('field_clearance_alone', format('Others work beyond %s: %s.', NEW.device_id, other));
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER c_field_clearance_on BEFORE INSERT ON clearances_fieldclearance
    FOR EACH ROW EXECUTE FUNCTION board_field_clearance_on();

CREATE FUNCTION board_given_beside() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE field bigint;
BEGIN
    PERFORM board_one_crew_inside();
    SELECT f.id INTO field FROM clearances_fieldclearance f
        JOIN clearances_limit l ON l.clearance_id = NEW.number LEFT JOIN circuits_line w ON w.id = l.line_id
        WHERE f.state = 'on' AND f.nodes && ARRAY[l.node_id, w.from_node_id, w.to_node_id]::text[] LIMIT 1;
    IF FOUND THEN
        PERFORM board_refuse('given_with_no_field_clearance', format('Inside the limits of clearance %s a crew works under field clearance FC-%s.',
            NEW.number, field));
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER c_given_beside BEFORE UPDATE ON clearances_clearance
    FOR EACH ROW WHEN (NEW.state = 'given' AND OLD.state = 'asked') EXECUTE FUNCTION board_given_beside();
