"""Models to build: what a plan says, whether it can be built, how much it asks for, what lies on the table."""
