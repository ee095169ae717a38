"""Every property test draws the same examples on every machine, and none is judged by the clock."""

from hypothesis import settings

settings.register_profile("steady", derandomize=True, deadline=None, database=None)
settings.load_profile("steady")
