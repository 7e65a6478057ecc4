"""The hardware edge: recordings, microphones, loudspeakers, voices. Nothing here knows what a session is."""
