-- What a transaction has changed of what the board stands on waits here until the log takes it into the entry that tells of it.
-- What is left here when the transaction has ended was changed past the log.

CREATE TABLE clearances_change (
    id bigint GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    in_transaction xid8 NOT NULL DEFAULT pg_current_xact_id(),
    kind text NOT NULL, key text NOT NULL, state jsonb NOT NULL
);
CREATE INDEX change_of_transaction ON clearances_change (in_transaction);

-- Arguments: the kind, the key's column, the columns that count.
CREATE FUNCTION board_changed() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    row_now jsonb := to_jsonb(NEW); row_before jsonb := to_jsonb(OLD); state jsonb; before jsonb;
BEGIN
    IF TG_OP = 'DELETE' THEN -- a draft that is written again
        INSERT INTO clearances_change (kind, key, state) VALUES (TG_ARGV[0], row_before ->> TG_ARGV[1], 'null');
        RETURN NULL;
    END IF;
    SELECT jsonb_object_agg(name, row_now -> name), jsonb_object_agg(name, row_before -> name) INTO state, before
        FROM unnest(string_to_array(TG_ARGV[2], ',')) AS name;
    IF TG_OP = 'INSERT' OR state IS DISTINCT FROM before THEN
        INSERT INTO clearances_change (kind, key, state) VALUES (TG_ARGV[0], row_now ->> TG_ARGV[1], state);
    END IF;
    RETURN NULL;
END $$;

CREATE TRIGGER z_changed AFTER INSERT OR UPDATE ON clearances_job
    FOR EACH ROW EXECUTE FUNCTION board_changed('job', 'id', 'state');
CREATE TRIGGER z_changed AFTER INSERT OR UPDATE ON clearances_clearance
    FOR EACH ROW EXECUTE FUNCTION board_changed('clearance', 'number',
        'state,holder_id,limits_words,window_start,promised_end,given_at,accepted_at,released_at');
CREATE TRIGGER z_changed AFTER INSERT OR UPDATE OR DELETE ON clearances_switchingorder
    FOR EACH ROW EXECUTE FUNCTION board_changed('order', 'clearance_id', 'state,written_by_id,checked_by_id,rewritten_by_id');
CREATE TRIGGER z_changed AFTER INSERT OR UPDATE OR DELETE ON clearances_step
    FOR EACH ROW EXECUTE FUNCTION board_changed('step', 'id', 'order_id,half,place,operation,device_id,phases,state,reported_phases');
CREATE TRIGGER z_changed AFTER INSERT OR UPDATE ON clearances_tag
    FOR EACH ROW EXECUTE FUNCTION board_changed('tag', 'id', 'number,device_id,phases,hung_at,off_at');
CREATE TRIGGER z_changed AFTER INSERT OR UPDATE ON clearances_groundset
    FOR EACH ROW EXECUTE FUNCTION board_changed('ground set', 'id', 'clearance_id,label,pole,phases,on_at,off_at');
CREATE TRIGGER z_changed AFTER INSERT OR UPDATE ON clearances_signon
    FOR EACH ROW EXECUTE FUNCTION board_changed('person on', 'id', 'clearance_id,name,on_at,off_at');
CREATE TRIGGER z_changed AFTER INSERT OR UPDATE ON clearances_voltagetest
    FOR EACH ROW EXECUTE FUNCTION board_changed('test', 'id', 'clearance_id,pole,phases,result,done_at');
CREATE TRIGGER z_changed AFTER INSERT OR UPDATE ON clearances_rollcall
    FOR EACH ROW EXECUTE FUNCTION board_changed('roll-call', 'id', 'step_id,clearance_id,agrees,answered_at');
CREATE TRIGGER z_changed AFTER INSERT OR UPDATE ON circuits_positionreport
    FOR EACH ROW EXECUTE FUNCTION board_changed('position', 'id', 'device_id,phase,position,made_inoperable,done_at');
CREATE TRIGGER z_changed AFTER INSERT OR UPDATE ON clearances_hotlinehold
    FOR EACH ROW EXECUTE FUNCTION board_changed('hold', 'id', 'state,device_id,holder_id,given_at,accepted_at,given_back_at');
CREATE TRIGGER z_changed AFTER INSERT OR UPDATE ON clearances_holdreport
    FOR EACH ROW EXECUTE FUNCTION board_changed('hold report', 'id', 'hold_id,said,done_at');
CREATE TRIGGER z_changed AFTER INSERT OR UPDATE ON clearances_donotoperate
    FOR EACH ROW EXECUTE FUNCTION board_changed('do not operate', 'id', 'state,device_id,phases,name,given_at,given_back_at');
CREATE TRIGGER z_changed AFTER INSERT OR UPDATE ON clearances_fieldclearance
    FOR EACH ROW EXECUTE FUNCTION board_changed('field clearance', 'id', 'state,device_id,phases,holder_id,started_at,ended_at');
CREATE TRIGGER z_changed AFTER INSERT OR UPDATE ON clearances_trouble
    FOR EACH ROW EXECUTE FUNCTION board_changed('trouble', 'number', 'device_id,began_at,ended_at,cause,back_by');
CREATE TRIGGER z_changed AFTER INSERT OR UPDATE ON clearances_blow
    FOR EACH ROW EXECUTE FUNCTION board_changed('blow', 'id', 'device_id,phases,closed_at,dropped_at');
CREATE TRIGGER z_changed AFTER INSERT OR UPDATE ON clearances_patrol
    FOR EACH ROW EXECUTE FUNCTION board_changed('patrol', 'id', 'device_id,found,done_at');
CREATE TRIGGER z_changed AFTER INSERT OR UPDATE ON clearances_changeset
    FOR EACH ROW EXECUTE FUNCTION board_changed('change', 'id', 'state,clearance_id,revision_id,done_at,unsettled');
