"""Settings of all tests."""

from hypothesis import settings

from tests.killing import quick_keys

settings.register_profile("ours", deadline=None, database=None)  # no test is about time, and none leaves a file behind
settings.load_profile("ours")

quick_keys()
