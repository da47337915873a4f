"""What every test shares: how hard hypothesis looks."""

import os

from hypothesis import HealthCheck, settings

# No deadline anywhere: the machine is shared, and a slow example is not a wrong one.
settings.register_profile("quick", max_examples=60, deadline=None)
# The same examples in every run, so that a red run of the checks is red for its change, not for its luck.
settings.register_profile("ci", parent=settings.get_profile("quick"), derandomize=True, print_blob=True)
# python3 dev.py search: minutes of looking, where a slow strategy is no reason to give up.
settings.register_profile(
    "search", max_examples=5000, deadline=None, print_blob=True, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile(os.environ.get("LOOMLORE_HYPOTHESIS") or ("ci" if os.environ.get("CI") else "quick"))
