"""The three pages on the laptop: they read snapshots and send orders, and know nothing else of the session."""
