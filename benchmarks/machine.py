"""What a benchmark was run on."""

import os
import platform
from pathlib import Path


def machine() -> str:
    """Processor, cores, system and versions, in a line."""
    import numpy as np
    import scipy

    name = platform.processor() or platform.machine()
    listed = Path("/proc/cpuinfo")
    if listed.exists():
        models = [
            line for line in listed.read_text(encoding="utf-8").splitlines() if line.startswith("model name")
        ]
        name = models[0].partition(":")[2].strip() if models else name
    versions = f"Python {platform.python_version()}, numpy {np.__version__}, scipy {scipy.__version__}"
    return f"{name}, {os.cpu_count()} cores, {platform.system()}; {versions}"
