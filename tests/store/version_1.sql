-- A case store as version 1 of its tables had it: events do not tell which window wrote them.
PRAGMA application_id = 1818523747;
PRAGMA user_version = 1;
BEGIN TRANSACTION;
CREATE TABLE events (
        seq INTEGER PRIMARY KEY AUTOINCREMENT,
        job TEXT NOT NULL REFERENCES jobs (id),
        key TEXT NOT NULL,
        position INTEGER NOT NULL,
        happened TEXT NOT NULL,
        kind TEXT NOT NULL
            CHECK (kind IN ('begun', 'entered', 'conditions', 'costs', 'renamed')),
        body TEXT NOT NULL,
        UNIQUE (job, key, position)
    );
INSERT INTO "events" VALUES(1,'wet_foot','k1',0,'2026-11-27T14:40:34+00:00','begun','{"format": "leakdx-job/1", "id": "wet_foot", "name": "It''s wet; \"foot\"\nsecond line", "machine": {"id": "pump_stand", "version": "1.2"}, "conditions": {"pitch_deg": 2.0, "hours": 40.0}, "seal_histories": [{"seal_point": "shaft_seal", "age_years": 6.0}]}');
INSERT INTO "events" VALUES(2,'wet_foot','k1',1,'2026-11-27T14:40:34+00:00','entered','{"at": "2031-05-01", "zone": "foot_left", "state": "wet", "fluid": "gear_oil"}');
INSERT INTO "events" VALUES(3,'wet_foot','k1',2,'2026-11-27T14:40:34+00:00','entered','{"zone": "cover_top", "state": "dry", "inspection": "look_at_cover"}');
INSERT INTO "events" VALUES(4,'wet_foot','k1',3,'2026-11-27T14:40:34+00:00','entered','{"seal_point": "cover_gasket", "state": "weeping"}');
CREATE TABLE jobs (
        id TEXT PRIMARY KEY NOT NULL,
        key TEXT NOT NULL UNIQUE,
        machine TEXT NOT NULL REFERENCES machines (digest)
    );
INSERT INTO "jobs" VALUES('wet_foot','k1','4d4ff5a530ac427eb11f9f1661de1224861296bbd97ead1f75e93ce27a7b50f0');
CREATE TABLE machines (
        digest TEXT PRIMARY KEY NOT NULL,
        id TEXT NOT NULL,
        name TEXT NOT NULL,
        document TEXT NOT NULL
    );
INSERT INTO "machines" VALUES('4d4ff5a530ac427eb11f9f1661de1224861296bbd97ead1f75e93ce27a7b50f0','pump_stand','Pump stand, made up for tests','{"format":"leakdx-machine/1","id":"pump_stand","version":"1.2","name":"Pump stand, made up for tests","fluids":[{"id":"gear_oil","kind":"gear_oil","grade":"VG 46"},{"id":"water","kind":"water","viscosity_mm2_s":{"20.0":1.0,"60.0":0.47}}],"zones":[{"id":"cover_top","centroid_mm":[0.0,0.0,300.0],"normal":[0.0,0.0,1.0],"area_mm2":9000.0},{"id":"cover_side","centroid_mm":[0.0,60.0,200.0],"normal":[0.0,1.0,0.0],"area_mm2":12000.0,"bbox_mm":{"low":[-50.0,60.0,100.0],"high":[50.0,60.0,300.0]}},{"id":"foot_left","centroid_mm":[0.0,60.0,50.0],"normal":[0.0,1.0,0.0],"area_mm2":5000.0,"surface":"painted_metal","hidden":true},{"id":"drip_tray","centroid_mm":[0.0,0.0,0.0],"normal":[0.0,0.0,1.0],"area_mm2":40000.0,"surface":"tray","holds_ml":200.0}],"neighbours":[{"between":["cover_top","cover_side"],"shared_edge_mm":100.0},{"between":["cover_side","foot_left"],"shared_edge_mm":100.0}],"paths":[{"source":"foot_left","target":"drip_tray","share":0.8}],"seal_points":[{"id":"cover_gasket","kind":"flat_gasket","zones":["cover_side"],"fluid":"gear_oil","access":["take_off_guard"]},{"id":"shaft_seal","kind":"shaft_lip_seal","zones":["foot_left"],"fluid":"gear_oil","leaks_into":"water","service":{"age_years":4.0}},{"id":"water_union","kind":"pipe_union","zones":["cover_top"],"fluid":"water","drive":"pressure_fed"}],"causes":[{"id":"breather_stuck","kind":"ventilation_blocked","fluid":"gear_oil","raises":["cover_gasket","shaft_seal"]}],"access_steps":[{"id":"open_gate","minutes":1.0},{"id":"take_off_guard","minutes":10.0,"after":["open_gate"]}],"inspections":[{"id":"look_at_cover","reads":{"zones":["cover_top","cover_side"]},"minutes":2.0},{"id":"wipe_shaft","method":"wipe","reads":{"zones":["foot_left"],"seal_points":["shaft_seal"],"signs":["level_falls"]},"minutes":15.0,"access":["take_off_guard"],"miss":0.1}]}');
CREATE TABLE openings (
        seq INTEGER PRIMARY KEY AUTOINCREMENT,
        job TEXT NOT NULL REFERENCES jobs (id),
        happened TEXT NOT NULL
    );
INSERT INTO "openings" VALUES(1,'wet_foot','2026-11-27T14:40:34+00:00');
CREATE INDEX events_of_job ON events (job, seq);
CREATE TRIGGER machines_kept BEFORE UPDATE ON machines BEGIN SELECT RAISE(ABORT, 'machines only ever grows'); END;
CREATE TRIGGER machines_there BEFORE DELETE ON machines BEGIN SELECT RAISE(ABORT, 'machines only ever grows'); END;
CREATE TRIGGER machines_once BEFORE INSERT ON machines WHEN EXISTS (SELECT 1 FROM machines WHERE digest = NEW.digest) BEGIN SELECT RAISE(ABORT, 'machines only ever grows'); END;
CREATE TRIGGER jobs_kept BEFORE UPDATE ON jobs BEGIN SELECT RAISE(ABORT, 'jobs only ever grows'); END;
CREATE TRIGGER jobs_there BEFORE DELETE ON jobs BEGIN SELECT RAISE(ABORT, 'jobs only ever grows'); END;
CREATE TRIGGER jobs_once BEFORE INSERT ON jobs WHEN EXISTS (SELECT 1 FROM jobs WHERE id = NEW.id OR key = NEW.key) BEGIN SELECT RAISE(ABORT, 'jobs only ever grows'); END;
CREATE TRIGGER events_kept BEFORE UPDATE ON events BEGIN SELECT RAISE(ABORT, 'events only ever grows'); END;
CREATE TRIGGER events_there BEFORE DELETE ON events BEGIN SELECT RAISE(ABORT, 'events only ever grows'); END;
CREATE TRIGGER events_once BEFORE INSERT ON events WHEN EXISTS (SELECT 1 FROM events WHERE seq = NEW.seq OR (job = NEW.job AND key = NEW.key AND position = NEW.position)) BEGIN SELECT RAISE(ABORT, 'events only ever grows'); END;
CREATE TRIGGER openings_kept BEFORE UPDATE ON openings BEGIN SELECT RAISE(ABORT, 'openings only ever grows'); END;
CREATE TRIGGER openings_there BEFORE DELETE ON openings BEGIN SELECT RAISE(ABORT, 'openings only ever grows'); END;
CREATE TRIGGER openings_once BEFORE INSERT ON openings WHEN EXISTS (SELECT 1 FROM openings WHERE seq = NEW.seq) BEGIN SELECT RAISE(ABORT, 'openings only ever grows'); END;
DELETE FROM "sqlite_sequence";
INSERT INTO "sqlite_sequence" VALUES('events',4);
INSERT INTO "sqlite_sequence" VALUES('openings',1);
COMMIT;
