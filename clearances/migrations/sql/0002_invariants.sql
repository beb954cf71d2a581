-- What may never happen, whoever writes: a page, a script, the admin, or SQL typed by hand.
-- These bind orders, the giving and the release. What somebody saw is always stored; where it does not fit, it is marked irregular.
-- Every refusal carries SQLSTATE BRD01, a constraint name for machines and one sentence for a person.

CREATE FUNCTION board_refuse(name text, sentence text) RETURNS void LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION USING ERRCODE = 'BRD01', CONSTRAINT = name, MESSAGE = sentence;
END $$;

-- 1. States move only as the transition table says. -----------------------------------------------------------------------------

CREATE TABLE clearances_transition (
    kind text NOT NULL, old_state text NOT NULL, new_state text NOT NULL, PRIMARY KEY (kind, old_state, new_state)
);

CREATE FUNCTION board_state_moves() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE before text := '';
BEGIN
    IF TG_OP = 'UPDATE' THEN
        before := OLD.state;
        IF before = NEW.state THEN RETURN NEW; END IF;
    END IF;
    IF NOT EXISTS (SELECT FROM clearances_transition WHERE kind = TG_ARGV[0] AND old_state = before AND new_state = NEW.state) THEN
        PERFORM board_refuse(TG_ARGV[0] || '_state_moves', format('A %s can''t go from «%s» to «%s».', TG_ARGV[0], before, NEW.state));
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER a_state_moves BEFORE INSERT OR UPDATE ON clearances_job
    FOR EACH ROW EXECUTE FUNCTION board_state_moves('job');
CREATE TRIGGER a_state_moves BEFORE INSERT OR UPDATE ON clearances_clearance
    FOR EACH ROW EXECUTE FUNCTION board_state_moves('clearance');
CREATE TRIGGER a_state_moves BEFORE INSERT OR UPDATE ON clearances_switchingorder
    FOR EACH ROW EXECUTE FUNCTION board_state_moves('order');
CREATE TRIGGER a_state_moves BEFORE INSERT OR UPDATE ON clearances_step
    FOR EACH ROW EXECUTE FUNCTION board_state_moves('step');

-- 2. A step is given only from a checked order, and nothing is closed or untagged too soon. ----------------------------------------
-- The device's row is locked before its tags are read, here and where a tag is hung (3): of an order to close and a tag hung at the same
-- moment one waits for the other, and sees it. So is the order's, against its check being taken back.

CREATE FUNCTION board_step_given() RETURNS trigger LANGUAGE plpgsql AS $$
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
        RETURN NEW;
    END IF;
    IF held NOT IN ('released', 'withdrawn') THEN
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
        SELECT name INTO person FROM clearances_signon WHERE clearance_id = NEW.order_id AND off_at IS NULL LIMIT 1;
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
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER b_step_given BEFORE UPDATE ON clearances_step
    FOR EACH ROW WHEN (NEW.state = 'given' AND OLD.state <> 'given') EXECUTE FUNCTION board_step_given();

-- What a step says to do is fixed once its order is no draft; once it is given, whatever its order is.
CREATE FUNCTION board_step_fixed() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE orders bigint[] := ARRAY[]::bigint[]; closed record;
BEGIN
    IF TG_OP = 'UPDATE' AND (NEW.order_id, NEW.half, NEW.place, NEW.operation, NEW.device_id, NEW.phases, NEW.point_id)
        IS NOT DISTINCT FROM (OLD.order_id, OLD.half, OLD.place, OLD.operation, OLD.device_id, OLD.phases, OLD.point_id) THEN
        RETURN NEW;
    END IF;
    -- Both where it comes from and where it goes to.
    IF TG_OP <> 'INSERT' THEN orders := orders || OLD.order_id; END IF;
    IF TG_OP <> 'DELETE' THEN orders := orders || NEW.order_id; END IF;
    FOR closed IN SELECT clearance_id, state FROM clearances_switchingorder WHERE clearance_id = ANY (orders)
        ORDER BY clearance_id FOR NO KEY UPDATE
    LOOP
        IF closed.state <> 'draft' THEN
            PERFORM board_refuse('checked_order_is_fixed', format('Order %s is %s; its steps stand.', closed.clearance_id, closed.state));
        END IF;
        -- A draft of a clearance that is not only asked for is a way back that is being written again.
        IF 'isolate' IN (OLD.half, NEW.half) AND EXISTS (
            SELECT FROM clearances_clearance WHERE number = closed.clearance_id AND state <> 'asked') THEN
            PERFORM board_refuse('isolate_half_is_over', format('The isolate half of order %s is over.', closed.clearance_id));
        END IF;
    END LOOP;
    IF TG_OP <> 'INSERT' THEN
        IF OLD.state <> 'waiting' THEN
            PERFORM board_refuse('begun_step_stands', format('Step %s of order %s (%s %s) is %s; it stands.',
                OLD.place, OLD.order_id, OLD.device_id, OLD.phases, OLD.state));
        END IF;
    END IF;
    RETURN COALESCE(NEW, OLD);
END $$;

CREATE TRIGGER a_step_fixed BEFORE INSERT OR UPDATE OR DELETE ON clearances_step
    FOR EACH ROW EXECUTE FUNCTION board_step_fixed();

CREATE FUNCTION board_order_kept() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF OLD.state <> 'draft' THEN
        PERFORM board_refuse('checked_order_is_kept', format('Order %s is %s and is kept.', OLD.clearance_id, OLD.state));
    END IF;
    RETURN OLD;
END $$;

CREATE TRIGGER a_order_kept BEFORE DELETE ON clearances_switchingorder FOR EACH ROW EXECUTE FUNCTION board_order_kept();

-- Who wrote it stands for good, and who checked it as long as it is checked: the second person can't be put in afterwards.
CREATE FUNCTION board_order_signed() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF (NEW.clearance_id, NEW.written_by_id, NEW.written_at) IS DISTINCT FROM (OLD.clearance_id, OLD.written_by_id, OLD.written_at)
        OR (OLD.state <> 'draft' AND NEW.state <> 'draft'
            AND (NEW.checked_by_id, NEW.checked_at) IS DISTINCT FROM (OLD.checked_by_id, OLD.checked_at))
        OR ((OLD.state = 'draft' OR NEW.state <> 'draft')
            AND (NEW.rewritten_by_id, NEW.rewritten_at) IS DISTINCT FROM (OLD.rewritten_by_id, OLD.rewritten_at)) THEN
        PERFORM board_refuse('order_is_signed', format('Who wrote and checked order %s does not change by an edit.', OLD.clearance_id));
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER a_order_signed BEFORE UPDATE ON clearances_switchingorder FOR EACH ROW EXECUTE FUNCTION board_order_signed();

CREATE FUNCTION board_check_taken_back() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE begun record; held text;
BEGIN
    SELECT state INTO held FROM clearances_clearance WHERE number = NEW.clearance_id FOR NO KEY UPDATE;
    SELECT place, device_id, phases, state INTO begun FROM clearances_step WHERE order_id = NEW.clearance_id
        AND (state = 'given' OR state <> 'waiting' AND held IN ('asked', 'given')) ORDER BY half, place LIMIT 1;
    IF FOUND THEN
        PERFORM board_refuse('begun_order_is_no_draft', format('Step %s of order %s (%s %s) is %s; the order is no draft any more.',
            begun.place, NEW.clearance_id, begun.device_id, begun.phases, begun.state));
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER b_check_taken_back BEFORE UPDATE ON clearances_switchingorder
    FOR EACH ROW WHEN (NEW.state = 'draft' AND OLD.state <> 'draft') EXECUTE FUNCTION board_check_taken_back();

-- 3. Tags, ground sets, people: always stored; what does not fit is marked. ---------------------------------------------------------

-- Steps and tags are of their point: of its clearance and at its device. Otherwise one device would be covered by another's tag.
ALTER TABLE clearances_isolationpoint ADD CONSTRAINT clearances_isolationpoint_whole_key UNIQUE (id, clearance_id, device_id);
ALTER TABLE clearances_step ADD CONSTRAINT step_at_its_point
    FOREIGN KEY (point_id, order_id, device_id) REFERENCES clearances_isolationpoint (id, clearance_id, device_id);
ALTER TABLE clearances_tag ADD CONSTRAINT tag_at_its_point
    FOREIGN KEY (point_id, clearance_id, device_id) REFERENCES clearances_isolationpoint (id, clearance_id, device_id);

CREATE FUNCTION board_tag_hung() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE close_order bigint; its_number text;
BEGIN
    SELECT clearance_id || '-' || place INTO its_number FROM clearances_isolationpoint WHERE id = NEW.point_id;
    IF NEW.number IS DISTINCT FROM its_number THEN
        PERFORM board_refuse('tag_number_of_its_point', format('The tag of this point is %s, not %s.', its_number, NEW.number));
    END IF;
    PERFORM 1 FROM circuits_device WHERE id = NEW.device_id FOR NO KEY UPDATE;
    SELECT order_id INTO close_order FROM clearances_step
        WHERE device_id = NEW.device_id AND state = 'given' AND operation = 'close' LIMIT 1;
    IF FOUND THEN
        NEW.irregular := btrim(NEW.irregular || format(' Hung while order %s has %s ordered closed.', close_order, NEW.device_id));
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER b_tag_hung BEFORE INSERT ON clearances_tag FOR EACH ROW EXECUTE FUNCTION board_tag_hung();

CREATE FUNCTION board_tag_off() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE held text;
BEGIN
    SELECT state INTO held FROM clearances_clearance WHERE number = NEW.clearance_id FOR NO KEY UPDATE;
    IF held NOT IN ('released', 'withdrawn') THEN
        NEW.irregular := btrim(NEW.irregular || format(' Off while clearance %s is %s.', NEW.clearance_id, held));
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER b_tag_off BEFORE UPDATE ON clearances_tag
    FOR EACH ROW WHEN (OLD.off_at IS NULL AND NEW.off_at IS NOT NULL) EXECUTE FUNCTION board_tag_off();

CREATE FUNCTION board_under_clearance() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE held text;
BEGIN
    SELECT state INTO held FROM clearances_clearance WHERE number = NEW.clearance_id FOR NO KEY UPDATE;
    IF NEW.irregular = '' AND (held IN ('released', 'withdrawn') OR (TG_ARGV[0] = 'accepted' AND held <> 'accepted')) THEN
        NEW.irregular := format('Clearance %s is %s.', NEW.clearance_id, held);
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER b_under_clearance BEFORE INSERT ON clearances_groundset
    FOR EACH ROW EXECUTE FUNCTION board_under_clearance('accepted');
CREATE TRIGGER b_under_clearance BEFORE INSERT ON clearances_signon
    FOR EACH ROW EXECUTE FUNCTION board_under_clearance('');

CREATE FUNCTION board_ground_unnamed() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF btrim(NEW.label) = '' OR btrim(NEW.pole) = '' THEN
        NEW.irregular := btrim(NEW.irregular || ' A ground set without a number or a pole.');
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER c_ground_unnamed BEFORE INSERT ON clearances_groundset FOR EACH ROW EXECUTE FUNCTION board_ground_unnamed();

-- A test for voltage and what it stands against (4) meet at the clearance's row.
CREATE FUNCTION board_test_reported() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    PERFORM 1 FROM clearances_clearance WHERE number = NEW.clearance_id FOR NO KEY UPDATE;
    RETURN NEW;
END $$;

CREATE TRIGGER b_test_reported BEFORE INSERT ON clearances_voltagetest FOR EACH ROW EXECUTE FUNCTION board_test_reported();

-- 4. The clearance itself. --------------------------------------------------------------------------------------------------------

CREATE FUNCTION board_points_stand(this bigint) RETURNS void LANGUAGE plpgsql AS $$
DECLARE short record; closing record;
BEGIN
    -- The devices' rows first: an order to close one of them (2) waits until this is decided, or was there before and is seen.
    PERFORM 1 FROM circuits_device WHERE id IN (SELECT device_id FROM clearances_isolationpoint WHERE clearance_id = this)
        ORDER BY id FOR NO KEY UPDATE;
    SELECT s.order_id, s.device_id INTO closing FROM clearances_step s JOIN clearances_isolationpoint p ON p.device_id = s.device_id
        WHERE p.clearance_id = this AND s.state = 'given' AND s.operation = 'close' LIMIT 1;
    IF FOUND THEN
        PERFORM board_refuse('given_with_no_close_ordered', format('Order %s has %s ordered closed.', closing.order_id, closing.device_id));
    END IF;
    -- Each phase of each point: last reported open and made inoperable, and under a live tag of this clearance.
    SELECT p.device_id, letter.phase INTO short
        FROM clearances_isolationpoint p CROSS JOIN LATERAL regexp_split_to_table(p.phases, '') AS letter (phase)
        WHERE p.clearance_id = this AND NOT (
            EXISTS (SELECT FROM clearances_tag t WHERE t.clearance_id = this AND t.device_id = p.device_id
                AND t.off_at IS NULL AND position(letter.phase IN t.phases) > 0)
            AND COALESCE((SELECT r.position = 'open' AND r.made_inoperable <> '' FROM circuits_positionreport r
                WHERE r.device_id = p.device_id AND r.phase = letter.phase ORDER BY r.done_at DESC, r.id DESC LIMIT 1), false))
        ORDER BY p.place, letter.phase LIMIT 1;
    IF FOUND THEN
        PERFORM board_refuse('given_with_every_point', format('%s phase %s is not reported open, made inoperable and tagged.',
            short.device_id, short.phase));
    END IF;
END $$;

-- Voltage that was found stands until a test entered later, at the same pole and on that phase, finds none with the tester proven.
-- A test that waited in a telephone (`queued`, from 0009) says nothing about now.
CREATE FUNCTION board_no_voltage(this bigint) RETURNS void LANGUAGE plpgsql AS $$
DECLARE found_at record;
BEGIN
    SELECT t.pole, letter.phase INTO found_at
        FROM clearances_voltagetest t CROSS JOIN LATERAL regexp_split_to_table(t.phases, '') AS letter (phase)
        WHERE t.clearance_id = this AND t.result = 'present' AND NOT EXISTS (
            SELECT FROM clearances_voltagetest later WHERE later.clearance_id = this AND later.id > t.id AND later.pole = t.pole
                AND later.result = 'none' AND later.tester_proven AND NOT later.queued AND position(letter.phase IN later.phases) > 0)
        ORDER BY t.id, letter.phase LIMIT 1;
    IF FOUND THEN
        PERFORM board_refuse('no_voltage_found', format('Voltage was found at %s, phase %s, and no later test there without.',
            found_at.pole, found_at.phase));
    END IF;
END $$;

CREATE FUNCTION board_clearance_given() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    PERFORM 1 FROM clearances_switchingorder WHERE clearance_id = NEW.number AND state = 'checked' FOR NO KEY UPDATE;
    IF NOT FOUND THEN
        PERFORM board_refuse('given_on_checked_order', format('Order %s is not checked by a second person.', NEW.number));
    END IF;
    -- The last day counts until it is over everywhere on earth; the utility's own time zone is for the rule, not for here.
    IF NOT EXISTS (SELECT FROM clearances_person WHERE id = NEW.holder_id AND is_active AND 'foreman' = ANY (roles)
            AND may_hold_until >= (now() AT TIME ZONE 'UTC' - interval '12 hours')::date) THEN
        PERFORM board_refuse('holder_qualified', 'The holder is not qualified to hold a clearance today.');
    END IF;
    IF NOT EXISTS (SELECT FROM clearances_isolationpoint WHERE clearance_id = NEW.number) THEN
        PERFORM board_refuse('given_with_points', format('Clearance %s has no isolation point.', NEW.number));
    END IF;
    PERFORM board_points_stand(NEW.number);
    PERFORM board_no_voltage(NEW.number);
    RETURN NEW;
END $$;

CREATE TRIGGER b_clearance_given BEFORE UPDATE ON clearances_clearance
    FOR EACH ROW WHEN (NEW.state = 'given' AND OLD.state = 'asked') EXECUTE FUNCTION board_clearance_given();

-- Between the giving and the acceptance something may have been reported.
CREATE FUNCTION board_clearance_accepted() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF OLD.state = 'given' THEN
        PERFORM board_points_stand(NEW.number);
    END IF;
    PERFORM board_no_voltage(NEW.number);
    RETURN NEW;
END $$;

CREATE TRIGGER b_clearance_accepted BEFORE UPDATE ON clearances_clearance
    FOR EACH ROW WHEN (NEW.state = 'accepted' AND OLD.state <> 'accepted') EXECUTE FUNCTION board_clearance_accepted();

CREATE FUNCTION board_clearance_released() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE left_on record;
BEGIN
    SELECT name INTO left_on FROM clearances_signon WHERE clearance_id = NEW.number AND off_at IS NULL LIMIT 1;
    IF FOUND THEN
        PERFORM board_refuse('released_with_people_off', format('%s is signed on under clearance %s.', left_on.name, NEW.number));
    END IF;
    SELECT label, pole INTO left_on FROM clearances_groundset WHERE clearance_id = NEW.number AND off_at IS NULL LIMIT 1;
    IF FOUND THEN
        PERFORM board_refuse('released_with_grounds_off', format('Ground set %s is on at %s.', left_on.label, left_on.pole));
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER b_clearance_released BEFORE UPDATE ON clearances_clearance
    FOR EACH ROW WHEN (NEW.state = 'released' AND OLD.state <> 'released') EXECUTE FUNCTION board_clearance_released();

-- Whose clearance it is does not change under him, nor do limits or points once the order is checked.
CREATE FUNCTION board_holder_stays() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    PERFORM board_refuse('holder_stays', format('The holder of clearance %s does not change by an edit.', OLD.number));
    RETURN NULL;
END $$;

CREATE TRIGGER a_holder_stays BEFORE UPDATE ON clearances_clearance
    FOR EACH ROW WHEN (NEW.holder_id <> OLD.holder_id OR NEW.number <> OLD.number) EXECUTE FUNCTION board_holder_stays();

-- What was asked for, given, accepted and released is written with that move and at no other time.
CREATE FUNCTION board_clearance_stands() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE move text := OLD.state || '->' || NEW.state; what text;
BEGIN
    what := CASE
        WHEN (NEW.job_id, NEW.limits_words) IS DISTINCT FROM (OLD.job_id, OLD.limits_words) THEN 'The job and the limits'
        WHEN move <> 'asked->asked' AND (NEW.window_start, NEW.crew, NEW.alternate_id, NEW.recall_minutes)
            IS DISTINCT FROM (OLD.window_start, OLD.crew, OLD.alternate_id, OLD.recall_minutes) THEN 'What was asked for under'
        WHEN move <> 'asked->given' AND (NEW.given_at, NEW.given_by_id) IS DISTINCT FROM (OLD.given_at, OLD.given_by_id)
            THEN 'The giving'
        WHEN move <> 'given->accepted' AND (NEW.accepted_at, NEW.accepted_words) IS DISTINCT FROM (OLD.accepted_at, OLD.accepted_words)
            THEN 'The acceptance'
        WHEN (OLD.state = 'released' OR NEW.state <> 'released')
            AND (NEW.released_at, NEW.released_by_id) IS DISTINCT FROM (OLD.released_at, OLD.released_by_id) THEN 'The release'
    END;
    IF what IS NOT NULL THEN
        PERFORM board_refuse('clearance_stands', format('%s of clearance %s can''t be changed: it is %s.', what, OLD.number, OLD.state));
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER a_stands BEFORE UPDATE ON clearances_clearance FOR EACH ROW EXECUTE FUNCTION board_clearance_stands();

-- Past the trace goes only a customer's source, by the holder's own word, before the clearance is given.
CREATE FUNCTION board_source_agreed() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE held record;
BEGIN
    SELECT state, holder_id INTO held FROM clearances_clearance WHERE number = NEW.clearance_id FOR NO KEY UPDATE;
    IF held.state <> 'asked' THEN
        PERFORM board_refuse('source_agreed_before_given', format('Clearance %s is %s; it is too late to agree on %s.',
            NEW.clearance_id, held.state, NEW.source_id));
    END IF;
    IF NEW.agreed_by_id <> held.holder_id THEN
        PERFORM board_refuse('source_agreed_by_holder', format('Only the holder of clearance %s can agree on %s.',
            NEW.clearance_id, NEW.source_id));
    END IF;
    IF EXISTS (SELECT FROM circuits_source WHERE id = NEW.source_id AND kind = 'station') THEN
        PERFORM board_refuse('source_of_a_customer', format('%s is a station: it is parted from the limits by points.', NEW.source_id));
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER b_source_agreed BEFORE INSERT ON clearances_sourcedisposition
    FOR EACH ROW EXECUTE FUNCTION board_source_agreed();

CREATE FUNCTION board_plan_fixed() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE numbers bigint[] := ARRAY[]::bigint[]; plan record; order_state text;
BEGIN
    -- Both where it comes from and where it goes to.
    IF TG_OP <> 'INSERT' THEN numbers := numbers || OLD.clearance_id; END IF;
    IF TG_OP <> 'DELETE' THEN numbers := numbers || NEW.clearance_id; END IF;
    FOR plan IN SELECT number, state FROM clearances_clearance WHERE number = ANY (numbers) ORDER BY number FOR NO KEY UPDATE LOOP
        SELECT state INTO order_state FROM clearances_switchingorder WHERE clearance_id = plan.number;
        IF plan.state <> 'asked' OR COALESCE(order_state, 'draft') <> 'draft' THEN
            PERFORM board_refuse('checked_plan_is_fixed', format('Limits, points and customers of clearance %s stand: order %s, clearance %s.',
                plan.number, COALESCE(order_state, 'not written'), plan.state));
        END IF;
    END LOOP;
    RETURN COALESCE(NEW, OLD);
END $$;

CREATE TRIGGER a_plan_fixed BEFORE INSERT OR UPDATE OR DELETE ON clearances_isolationpoint
    FOR EACH ROW EXECUTE FUNCTION board_plan_fixed();
CREATE TRIGGER a_plan_fixed BEFORE INSERT OR UPDATE OR DELETE ON clearances_limit
    FOR EACH ROW EXECUTE FUNCTION board_plan_fixed();
-- Of a premises counted in with the check, only the answer may still come.
CREATE TRIGGER a_plan_fixed BEFORE INSERT OR DELETE OR UPDATE OF clearance_id, premises_id, care ON clearances_affectedpremises
    FOR EACH ROW EXECUTE FUNCTION board_plan_fixed();

-- 5. History: what was reported is ended at most, once; never changed, never removed. ------------------------------------------------

CREATE FUNCTION board_ended_once() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE mayend text[] := string_to_array(TG_ARGV[1], ',');
BEGIN
    IF TG_OP = 'DELETE' THEN
        PERFORM board_refuse('history_is_kept', format('A %s is never removed.', TG_ARGV[0]));
    END IF;
    IF to_jsonb(OLD) ->> mayend[1] IS NOT NULL OR to_jsonb(NEW) - mayend <> to_jsonb(OLD) - mayend THEN
        PERFORM board_refuse('history_is_kept', format('A %s that was reported is not changed afterwards.', TG_ARGV[0]));
    END IF;
    IF NOT starts_with(COALESCE(to_jsonb(NEW) ->> 'irregular', ''), COALESCE(to_jsonb(OLD) ->> 'irregular', '')) THEN
        PERFORM board_refuse('history_is_kept', format('What is irregular about a %s is never taken away.', TG_ARGV[0]));
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER a_ended_once BEFORE UPDATE OR DELETE ON clearances_tag
    FOR EACH ROW EXECUTE FUNCTION board_ended_once('tag', 'off_at,off_by,irregular');
CREATE TRIGGER a_ended_once BEFORE UPDATE OR DELETE ON clearances_groundset
    FOR EACH ROW EXECUTE FUNCTION board_ended_once('ground set', 'off_at,off_by,irregular');
CREATE TRIGGER a_ended_once BEFORE UPDATE OR DELETE ON clearances_signon
    FOR EACH ROW EXECUTE FUNCTION board_ended_once('sign-on', 'off_at,irregular');
CREATE TRIGGER a_ended_once BEFORE UPDATE OR DELETE ON clearances_interruption
    FOR EACH ROW EXECUTE FUNCTION board_ended_once('interruption', 'on_at');
CREATE TRIGGER a_ended_once BEFORE UPDATE OR DELETE ON clearances_voltagetest
    FOR EACH ROW EXECUTE FUNCTION board_ended_once('test for voltage', 'id');
CREATE TRIGGER a_ended_once BEFORE UPDATE OR DELETE ON clearances_sourcedisposition
    FOR EACH ROW EXECUTE FUNCTION board_ended_once('decision about a source', 'id');

CREATE FUNCTION board_kept() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    PERFORM board_refuse('history_is_kept', format('Rows of %s are never removed or emptied.', TG_TABLE_NAME));
    RETURN NULL;
END $$;

CREATE TRIGGER a_kept BEFORE DELETE ON clearances_clearance FOR EACH ROW EXECUTE FUNCTION board_kept();
CREATE TRIGGER a_kept BEFORE DELETE ON clearances_job FOR EACH ROW EXECUTE FUNCTION board_kept();

-- 6. The log: appended, chained, woken from. ----------------------------------------------------------------------------------------

CREATE FUNCTION board_log_grows() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE last record;
BEGIN
    IF TG_OP <> 'INSERT' THEN
        PERFORM board_refuse('log_only_grows', 'The operations log is never changed; write a new entry.');
    END IF;
    PERFORM pg_advisory_xact_lock(7106407); -- the lock of clearances.log
    SELECT number, digest INTO last FROM clearances_logentry ORDER BY number DESC LIMIT 1;
    IF NEW.number <> COALESCE(last.number, 0) + 1 OR NEW.previous <> COALESCE(last.digest, '') THEN
        PERFORM board_refuse('log_is_chained', 'This entry does not continue the operations log.');
    END IF;
    PERFORM pg_notify('board', ''); -- «look again»; sent on commit only
    RETURN NEW;
END $$;

CREATE TRIGGER log_grows BEFORE INSERT OR UPDATE OR DELETE ON clearances_logentry
    FOR EACH ROW EXECUTE FUNCTION board_log_grows();
CREATE TRIGGER log_kept BEFORE TRUNCATE ON clearances_logentry FOR EACH STATEMENT EXECUTE FUNCTION board_kept();

-- A number is never used again, and can't be taken for a step's.
ALTER TABLE clearances_clearance ALTER COLUMN number RESTART WITH 101;

DO $$ BEGIN
    IF EXISTS (SELECT FROM pg_roles WHERE rolname = 'board_app') THEN
        REVOKE UPDATE, DELETE, TRUNCATE ON clearances_logentry FROM board_app;
        REVOKE INSERT, UPDATE, DELETE, TRUNCATE ON clearances_transition FROM board_app;
    END IF;
END $$;
