"""From frames to words: is that speech, whose is it, what was said. No device and no disk writing lives here."""
