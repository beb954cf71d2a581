-- Who is given a clearance is in charge at one site, and a contractor's foreman has been told of it. As in 0002 the giving is bound.

-- The poles of its limits; a node at none counts by itself.
CREATE FUNCTION board_site(this bigint) RETURNS text[] LANGUAGE sql STABLE AS $$
    SELECT COALESCE(array_agg(DISTINCT COALESCE(n.structure_id, n.id)::text), '{}') FROM clearances_limit l
    LEFT JOIN circuits_line w ON w.id = l.line_id
    JOIN circuits_node n ON n.id IN (l.node_id, w.from_node_id, w.to_node_id)
    WHERE l.clearance_id = this
$$;

CREATE FUNCTION board_holder_given() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE other bigint;
BEGIN
    PERFORM board_one_crew_inside(); -- two givings to one person wait for each other, too
    SELECT number INTO other FROM clearances_clearance WHERE holder_id = NEW.holder_id AND number <> NEW.number
        AND state IN ('given', 'accepted', 'frozen') AND NOT board_site(number) && board_site(NEW.number) ORDER BY number LIMIT 1;
    IF FOUND THEN
        PERFORM board_refuse('holder_at_one_site', format('The holder has clearance %s, which has no pole in common with clearance %s.',
            other, NEW.number));
    END IF;
    IF (SELECT contractor FROM clearances_person WHERE id = NEW.holder_id) AND NOT EXISTS (
            SELECT FROM clearances_informationexchange WHERE clearance_id = NEW.number AND recorded_by_id <> NEW.holder_id) THEN
        PERFORM board_refuse('contractor_told', format('No exchange of what is known of the site is recorded for clearance %s.', NEW.number));
    END IF;
    RETURN NEW;
END $$;

CREATE TRIGGER c_holder_given BEFORE UPDATE ON clearances_clearance
    FOR EACH ROW WHEN (NEW.state = 'given' AND OLD.state = 'asked') EXECUTE FUNCTION board_holder_given();

CREATE TRIGGER a_ended_once BEFORE UPDATE OR DELETE ON clearances_informationexchange
    FOR EACH ROW EXECUTE FUNCTION board_ended_once('exchange', 'id');
CREATE TRIGGER z_changed AFTER INSERT OR UPDATE ON clearances_informationexchange
    FOR EACH ROW EXECUTE FUNCTION board_changed('exchange', 'id', 'clearance_id,with_whom,told,heard,done_at,recorded_by_id');
