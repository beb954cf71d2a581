-- What a rule refuses and the database can see as well: the turn of steps, the phases and the position under a step, how old a holder's
-- answer is, what a hold blocks, and who else is at the device or inside when a field clearance begins.

-- 1. A step. -----------------------------------------------------------------------------------------------------------------------

-- As the board takes a phase to stand: by the last report of it, else as it stands normally.
CREATE FUNCTION board_stands_open(device text, letter text) RETURNS boolean LANGUAGE sql STABLE AS $$
    SELECT COALESCE(
        (SELECT r.position = 'open' FROM circuits_positionreport r
            WHERE r.device_id = device AND r.phase = letter ORDER BY r.done_at DESC, r.id DESC LIMIT 1),
        (SELECT d.normal_position = 'open' OR (d.normal_position <> 'closed' AND position(letter IN d.normal_position) = 0)
            FROM circuits_device d WHERE d.id = device))
$$;

CREATE FUNCTION board_step_follows() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE earlier record; has text; closed text;
BEGIN
    -- Its order's row is locked by 0002: no other step of it moves meanwhile.
    SELECT place, device_id, phases INTO earlier FROM clearances_step
        WHERE order_id = NEW.order_id AND half = NEW.half AND place < NEW.place AND state = 'waiting' ORDER BY place LIMIT 1;
    IF FOUND THEN
        PERFORM board_refuse('step_in_its_turn', format('Step %s of order %s (%s %s) comes before step %s.',
            earlier.place, NEW.order_id, earlier.device_id, earlier.phases, NEW.place));
    END IF;
    IF NEW.operation <> 'remove_tag' THEN
        SELECT phases INTO has FROM circuits_device WHERE id = NEW.device_id;
        IF EXISTS (SELECT FROM regexp_split_to_table(NEW.phases, '') AS one (letter) WHERE position(one.letter IN has) = 0) THEN
            PERFORM board_refuse('step_for_phases_there', format('Step %s of order %s is for %s %s, which has %s now.',
                NEW.place, NEW.order_id, NEW.device_id, NEW.phases, has));
        END IF;
    END IF;
    IF NEW.operation = 'check_open' THEN
        SELECT string_agg(one.letter, '') INTO closed FROM regexp_split_to_table(NEW.phases, '') AS one (letter)
            WHERE NOT board_stands_open(NEW.device_id, one.letter);
        IF closed IS NOT NULL THEN
            PERFORM board_refuse('check_open_of_what_stands_open', format('%s %s does not stand open on the board, so step %s of order %s does not follow.',
                NEW.device_id, closed, NEW.place, NEW.order_id));
        END IF;
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER d_step_follows BEFORE UPDATE ON clearances_step
    FOR EACH ROW WHEN (NEW.state = 'given' AND OLD.state <> 'given') EXECUTE FUNCTION board_step_follows();

-- 2. Hot-line holds. ----------------------------------------------------------------------------------------------------------------

-- That a holder has answered 0010 asks; here, that it was just now: as long as an answer stands by the rule (HOLD_ANSWER_MINUTES).
CREATE FUNCTION board_hold_answered_lately() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE hold bigint; answer clearances_holdreport;
BEGIN
    FOR hold IN SELECT id FROM clearances_hotlinehold WHERE device_id = NEW.device_id AND state IN ('given', 'accepted') ORDER BY id LOOP
        answer := board_hold_said(hold,
            CASE NEW.operation WHEN 'open' THEN ARRAY['stands_down', 'stays'] ELSE ARRAY['yes', 'no'] END);
        IF answer.entered_at <= now() - interval '15 minutes' THEN
            PERFORM board_refuse('hold_answer_of_now', format('The answer of the holder of hot-line hold HL-%s for %s is too old.',
                hold, NEW.device_id));
        END IF;
    END LOOP;
    RETURN NEW;
END $$;

CREATE TRIGGER d_hold_answered_lately BEFORE UPDATE ON clearances_step
    FOR EACH ROW WHEN (NEW.state = 'given' AND OLD.state <> 'given' AND NEW.operation IN ('open', 'close'))
    EXECUTE FUNCTION board_hold_answered_lately();

-- Not known counts as yes.
CREATE FUNCTION board_hold_blocks() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF EXISTS (SELECT FROM circuits_device WHERE id = NEW.device_id AND recloses IS FALSE AND remote IS FALSE) THEN
        PERFORM board_refuse('hold_blocks_something', format('%s closes neither by itself nor from afar.', NEW.device_id));
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER c_hold_blocks BEFORE INSERT ON clearances_hotlinehold FOR EACH ROW EXECUTE FUNCTION board_hold_blocks();

-- 3. Field clearances: beside 0010, what else stands at the device and lies beyond it. ------------------------------------------------

CREATE FUNCTION board_field_clearance_apart() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE other text;
BEGIN
    -- The last day counts until it is over everywhere on earth, as for a clearance.
    IF NOT EXISTS (SELECT FROM clearances_person WHERE id = NEW.holder_id AND is_active AND 'foreman' = ANY (roles)
            AND may_hold_until >= (now() AT TIME ZONE 'UTC' - interval '12 hours')::date) THEN
        PERFORM board_refuse('field_clearance_holder_qualified', 'The holder is not qualified to hold a field clearance today.');
    END IF;
    SELECT said INTO other FROM (
        SELECT 'do-not-operate DNO-' || id FROM clearances_donotoperate WHERE device_id = NEW.device_id AND state = 'given'
        UNION ALL SELECT 'hot-line hold HL-' || id FROM clearances_hotlinehold
            WHERE device_id = NEW.device_id AND state IN ('given', 'accepted')
        UNION ALL SELECT 'clearance ' || c.number FROM clearances_clearance c JOIN clearances_isolationpoint p ON p.clearance_id = c.number
            WHERE p.device_id = NEW.device_id AND c.state IN ('given', 'accepted', 'frozen')) AS there (said) LIMIT 1;
    IF FOUND THEN
        PERFORM board_refuse('field_clearance_sole_control', format('%s is not under sole control: %s.', NEW.device_id, other));
    END IF;
    SELECT said INTO other FROM (
        SELECT 'hot-line hold HL-' || id FROM clearances_hotlinehold WHERE state IN ('given', 'accepted') AND nodes && NEW.nodes
        UNION ALL SELECT 'ground set ' || g.label || ' of clearance ' || g.clearance_id FROM clearances_groundset g
            JOIN circuits_node n ON n.structure_id = g.pole WHERE g.off_at IS NULL AND n.id = ANY (NEW.nodes)) AS inside (said) LIMIT 1;
    IF FOUND THEN
        PERFORM board_refuse('field_clearance_alone', format('Others work beyond %s: %s.', NEW.device_id, other));
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER d_field_clearance_apart BEFORE INSERT ON clearances_fieldclearance
    FOR EACH ROW EXECUTE FUNCTION board_field_clearance_apart();
