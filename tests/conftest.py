"""Property tests draw the same examples every time, so that a red run can be run again."""

from hypothesis import settings

settings.register_profile("repeatable", derandomize=True)
settings.load_profile("repeatable")
