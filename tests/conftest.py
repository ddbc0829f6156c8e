"""Settings of all tests: a drawn example may take as long as a busy machine needs."""

from hypothesis import settings

settings.register_profile("any machine", deadline=None)
settings.load_profile("any machine")
