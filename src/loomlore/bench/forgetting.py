"""Memory that can be given back: what the layers below remember of installations, each function by itself."""

from __future__ import annotations

import os
import sys
from contextlib import suppress
from pathlib import Path

__all__ = ["forget", "resident"]

REMEMBER = ("loomlore.behaviour.", "loomlore.faults.", "loomlore.network.", "loomlore.drawing.")
"""The layers that remember what they have worked out of an installation."""


def resident() -> float:
    """Memory that this process has for itself.

    Returns
    -------
    float
        [byte]; 0 where the system does not tell.
    """
    with suppress(OSError, ValueError, IndexError):
        pages = Path("/proc/self/statm").read_text(encoding="ascii").split()
        return (int(pages[1]) - int(pages[2])) * float(os.sysconf("SC_PAGE_SIZE"))
    return 0.0


def forget() -> None:
    """Drop what the layers below remember, in every function that does; it is worked out again when wanted."""
    for name, module in list(sys.modules.items()):
        if name.startswith(REMEMBER):
            for found in list(vars(module).values()):
                if hasattr(found, "cache_clear") and getattr(found, "__module__", "") == name:
                    found.cache_clear()
