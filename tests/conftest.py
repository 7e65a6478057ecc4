"""Settings of all tests."""

from hypothesis import settings

settings.register_profile("ours", deadline=None, database=None)  # no test is about time, and none leaves a file behind
settings.load_profile("ours")
