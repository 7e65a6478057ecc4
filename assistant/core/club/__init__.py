"""A session: its settings, roles, clock and cues, the keys that steer it, and how it stands."""
