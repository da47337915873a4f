"""HTML written so that no text of a dossier can become a tag: what is not :class:`Markup` is escaped.

There is one way to make markup, :func:`tag`, and one to take in markup that somebody else has escaped (the
painters' SVG), ``Markup(...)``. A page never carries a ``style`` attribute or a script of its own, since the
content security policy forbids both.
"""

from __future__ import annotations

from html import escape

__all__ = ["Child", "Markup", "joined", "tag"]


class Markup(str):
    """Text that is HTML already."""

    __slots__ = ()


Child = str | Markup | None

_VOID = frozenset({"br", "hr", "img", "input", "link", "meta"})


def joined(*children: Child, between: str = "") -> Markup:
    """Put pieces after each other.

    Parameters
    ----------
    *children
        Markup stays as it is, text is escaped, None is left out.
    between
        Text set between them, escaped.

    Returns
    -------
    Markup
        The pieces.
    """
    return Markup(escape(between).join(_piece(child) for child in children if child is not None))


def tag(name: str, /, *children: Child, **attributes: str | int | bool | None) -> Markup:
    """Write one element.

    Parameters
    ----------
    name
        Of the element.
    *children
        Markup stays as it is, text is escaped, None is left out.
    **attributes
        ``class_`` stands for class, an underline for a hyphen; True writes the bare name, None and False
        write nothing.

    Returns
    -------
    Markup
        The element.
    """
    written = "".join(_attribute(key, value) for key, value in attributes.items())
    if name in _VOID:
        return Markup(f"<{name}{written}>")
    return Markup(f"<{name}{written}>{joined(*children)}</{name}>")


def _piece(child: str) -> str:
    return child if isinstance(child, Markup) else escape(child)


def _attribute(key: str, value: str | int | bool | None) -> str:
    if value is None or value is False:
        return ""
    name = key.rstrip("_").replace("_", "-")
    return f" {name}" if value is True else f' {name}="{escape(str(value))}"'
