"""Values as TOML has them on one line."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

__all__ = ["as_key", "as_quoted", "as_toml"]

_ESCAPES = {"\\": "\\\\", '"': '\\"', "\n": "\\n", "\t": "\\t", "\r": "\\r", "\b": "\\b", "\f": "\\f"}
_TO_ESCAPE = re.compile(r'[\\"\x00-\x1f\x7f]')


def as_toml(raw: Any) -> str:
    """A raw value as it would stand in the text, on one line.

    Parameters
    ----------
    raw
        A text, number, truth, date, list or table.

    Returns
    -------
    str
        TOML.

    Examples
    --------
    >>> as_toml({"kind": "horn", "ways": 3, "links": [["3", "4"]]})
    '{ kind = "horn", ways = 3, links = [["3", "4"]] }'
    """
    if isinstance(raw, bool):
        return "true" if raw else "false"
    if isinstance(raw, str):
        return as_quoted(raw)
    if isinstance(raw, Mapping):
        inside = ", ".join(f"{as_key(k)} = {as_toml(v)}" for k, v in raw.items())
        return f"{{ {inside} }}" if inside else "{}"
    if isinstance(raw, list | tuple):
        return "[" + ", ".join(as_toml(v) for v in raw) + "]"
    return raw.isoformat() if hasattr(raw, "isoformat") else repr(raw)


def as_quoted(plain: str) -> str:
    """Put a text in quotes as TOML has it.

    Parameters
    ----------
    plain
        Any text.

    Returns
    -------
    str
        In double quotes, on one line.
    """
    return '"' + _TO_ESCAPE.sub(lambda m: _ESCAPES.get(m.group(), f"\\u{ord(m.group()):04x}"), plain) + '"'


def as_key(key: str) -> str:
    """A key as TOML has it: bare where it can be.

    Parameters
    ----------
    key
        Any text.

    Returns
    -------
    str
        Bare, or in double quotes.
    """
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else as_quoted(key)
