"""What holds for every test: property tests draw the same examples on every run, so that a red run means a change."""

from hypothesis import settings

settings.register_profile("same", derandomize=True, deadline=None, print_blob=True)
settings.load_profile("same")
