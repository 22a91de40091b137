"""The database's schema, version by version: each step brings a file of the version before it up to its own.

A step that has once been released is never changed; a new need is a new step.
"""

SHELVES = """
CREATE TABLE shelves (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE,
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
"""

STEPS: tuple[str, ...] = (SHELVES,)
