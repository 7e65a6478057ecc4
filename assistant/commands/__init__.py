"""One module a family of commands: how they are spelled, and what they open."""
