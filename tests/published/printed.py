"""Reads the copied tables of published figures, and turns printed digits into a tolerance."""

from __future__ import annotations

import csv
import math
from pathlib import Path

FOOT = 0.3048
INCH = 0.0254


def printed_rows(name: str, **wanted: str) -> list[dict[str, str]]:
    """The rows of tests/published/data/NAME.csv whose cells are as wanted."""
    path = Path(__file__).with_name("data") / f"{name}.csv"
    with path.open(encoding="utf-8", newline="") as file:
        rows = [
            row for row in csv.DictReader(file) if all(row[key] == value for key, value in wanted.items())
        ]
    assert rows, f"no row of {name} has {wanted}"
    return rows


def half_digit(printed: str) -> float:
    """Half of the last printed digit: what rounding alone may hide."""
    places = len(printed.partition(".")[2])
    return 0.5 * 10.0**-places


def agrees_with_print(value: float, printed: str) -> bool:
    """Whether a value rounds to what is printed."""
    return math.isclose(value, float(printed), rel_tol=0, abs_tol=half_digit(printed) * (1 + 1e-9))


def is_read(row: dict[str, str], column: str = "status") -> bool:
    """Whether somebody saw the figure in a copy of the document."""
    return row[column].startswith("read")


def celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32) / 1.8
