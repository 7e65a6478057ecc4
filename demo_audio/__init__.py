"""The demonstration: its script, and how its sound and its truth are made. Nothing here is needed to play it."""
