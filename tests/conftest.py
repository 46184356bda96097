"""What holds for every test: random checks repeat, and no test is about how fast the machine is."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("house", deadline=None, derandomize=True)
settings.load_profile("house")
