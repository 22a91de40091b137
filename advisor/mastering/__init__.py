"""The mastering stage: a chain found on this song, a preview of it, and a finished master checked against its mix."""
