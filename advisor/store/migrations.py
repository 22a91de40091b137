"""The database's schema, version by version.

Each step brings a file of the version before it up to its own.
A step that has once been released is never changed; a new need is a new step.
"""

SHELVES = """
CREATE TABLE shelves (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE COLLATE NOCASE,
    model TEXT
);
CREATE TABLE songs (
    sha256 TEXT NOT NULL,
    measured_by INTEGER NOT NULL,
    measured TEXT NOT NULL,
    PRIMARY KEY (sha256, measured_by)
) WITHOUT ROWID;
CREATE TABLE shelf_songs (
    shelf INTEGER NOT NULL REFERENCES shelves (id) ON DELETE CASCADE,
    sha256 TEXT NOT NULL,
    name TEXT NOT NULL,
    path TEXT NOT NULL,
    PRIMARY KEY (shelf, sha256)
) WITHOUT ROWID;
CREATE TABLE seen_files (
    path TEXT PRIMARY KEY,
    bytes INTEGER NOT NULL,
    modified_ns INTEGER NOT NULL,
    sha256 TEXT NOT NULL
) WITHOUT ROWID;
"""

HISTORY = """
CREATE TABLE projects (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL,
    made TEXT NOT NULL,
    deleted TEXT
);
CREATE UNIQUE INDEX projects_there ON projects (name) WHERE deleted IS NULL;
CREATE TABLE bounces (
    id INTEGER PRIMARY KEY,
    project INTEGER NOT NULL REFERENCES projects (id) ON DELETE CASCADE,
    number INTEGER NOT NULL,
    recorded TEXT NOT NULL,
    file_name TEXT NOT NULL,
    sha256 TEXT NOT NULL,
    settings TEXT NOT NULL,
    report BLOB NOT NULL,
    integrated_lufs REAL,
    clean_lufs REAL,
    margin_lu REAL,
    excess REAL NOT NULL,
    repeats INTEGER NOT NULL DEFAULT 0,
    UNIQUE (project, number)
);
CREATE INDEX bounces_files ON bounces (project, sha256);
CREATE TABLE findings (
    bounce INTEGER NOT NULL REFERENCES bounces (id) ON DELETE CASCADE,
    place INTEGER NOT NULL,
    rule TEXT NOT NULL,
    stem TEXT,
    low_hz REAL,
    high_hz REAL,
    side TEXT,
    title TEXT NOT NULL,
    state TEXT NOT NULL,
    before REAL,
    after REAL,
    PRIMARY KEY (bounce, place)
) WITHOUT ROWID;
CREATE TABLE steps (
    bounce INTEGER NOT NULL REFERENCES bounces (id) ON DELETE CASCADE,
    step INTEGER NOT NULL,
    rule TEXT NOT NULL,
    move TEXT NOT NULL,
    verdict TEXT NOT NULL,
    share REAL,
    sure TEXT NOT NULL,
    PRIMARY KEY (bounce, step)
) WITHOUT ROWID;
CREATE TABLE set_asides (
    id INTEGER PRIMARY KEY,
    project INTEGER NOT NULL REFERENCES projects (id) ON DELETE CASCADE,
    rule TEXT NOT NULL,
    stem TEXT,
    low_hz REAL,
    high_hz REAL,
    side TEXT,
    title TEXT NOT NULL,
    excess REAL NOT NULL,
    because TEXT NOT NULL,
    since INTEGER NOT NULL,
    made TEXT NOT NULL
);
CREATE INDEX set_asides_of ON set_asides (project);
"""

ELEMENTS = """
CREATE TABLE elements (
    bounce INTEGER NOT NULL REFERENCES bounces (id) ON DELETE CASCADE,
    place INTEGER NOT NULL,
    name TEXT NOT NULL,
    readings BLOB NOT NULL,
    PRIMARY KEY (bounce, place)
) WITHOUT ROWID;
"""

STEPS: tuple[str, ...] = (SHELVES, HISTORY, ELEMENTS)
