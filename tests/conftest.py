"""What all tests share: how hard hypothesis tries.

`quick` is for every run. `soak` is for the long run: make soak, or pytest -m soak --hypothesis-profile=soak.
Tests marked `soak` or `oracle` are left out unless asked for with -m (see pyproject.toml).
"""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("quick", max_examples=60, deadline=None)
settings.register_profile("soak", max_examples=3000, deadline=None, print_blob=True)
settings.load_profile("quick")
