"""What every test may use."""

from __future__ import annotations

from hypothesis import settings

# A shared machine may be slow for a moment: no example fails for the time it took.
settings.register_profile("house", deadline=None, print_blob=True)
settings.load_profile("house")
