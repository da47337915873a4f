"""What is read at the start: neither `import loomlore` nor `loomlore --help` may wait for a heavy library."""

import os
import subprocess
import sys

import pytest

from architecture.source import PACKAGE, SOURCE

# Each costs between a twentieth and a whole second.
HEAVY = [
    "lark",
    "numpy",
    "pydantic",
    "resvg_py",
    "rich",
    "scipy",
    "starlette",
    "typst",
    "uvicorn",
    "xlsxwriter",
]
REPORT = f"print('read:', *sorted(set({HEAVY!r}) & set(sys.modules)))"


def heavy_libraries_read_by(code: str) -> list[str]:
    """The heavy libraries that a new Python has read once it has run some code."""
    program = f"import sys\n{code}\n{REPORT}"
    environment = os.environ | {"PYTHONPATH": str(SOURCE)}
    done = subprocess.run(
        [sys.executable, "-c", program],
        env=environment,
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.rpartition("read:")[2].split()


def test_import_reads_nothing_heavy():
    assert heavy_libraries_read_by("import loomlore; dir(loomlore)") == []


def test_help_reads_nothing_heavy():
    places = [SOURCE / PACKAGE / "cli.py", SOURCE / PACKAGE / "cli" / "__init__.py"]
    if not any(place.exists() for place in places):
        pytest.skip("loomlore.cli is not written yet")
    code = """
from loomlore.cli import main
sys.argv = ["loomlore", "--help"]
try:
    code = main()
except SystemExit as stop:
    code = stop.code
if code:
    sys.exit(f"--help ended with {code}")
"""
    assert heavy_libraries_read_by(code) == []


def test_heavy_library_is_noticed():
    assert heavy_libraries_read_by("def f():\n    import lark\nf()") == ["lark"]
