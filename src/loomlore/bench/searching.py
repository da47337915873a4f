"""Finding an item, a cable or a place by any of its names, in either of the trade's two vocabularies.

The record stores one word; the search takes both. Common practice, no source.
"""

from __future__ import annotations

import re

from loomlore.findings import nearest
from loomlore.record.model import Dossier
from loomlore.record.vocabulary import VOCABULARIES

__all__ = ["search"]

MOST_FOUND = 60


def search(dossier: Dossier, asked: str) -> list[str]:
    """Find things of the record.

    Parameters
    ----------
    dossier
        The record.
    asked
        Words, in any order and either vocabulary.

    Returns
    -------
    list of str
        Ids of items, cables and places, whole names first; the nearest name where nothing has the words.
    """
    wanted = _plain(asked)
    if not wanted:
        return []
    said = {name: _words(dossier, name) for name in (*dossier.items, *dossier.cables, *dossier.places)}
    forms = [form.split() for form in _in_either(wanted)]
    found = [name for name, text in said.items() if any(_has(text, form) for form in forms)]
    if not found:
        by_name = {
            _plain(thing.name): name for name, thing in (*dossier.items.items(), *dossier.places.items())
        }
        meant = nearest(wanted, by_name)
        return [by_name[meant]] if meant is not None else []
    return sorted(found, key=lambda name: (wanted not in said[name], len(said[name])))[:MOST_FOUND]


def _plain(words: str) -> str:
    return " ".join(re.findall(r"[a-z0-9]+", words.casefold()))


def _has(text: str, form: list[str]) -> bool:
    """Every word of the form begins a word of the text."""
    return all(f" {word}" in f" {text}" for word in form)


def _in_either(wanted: str) -> list[str]:
    forms = [wanted]
    for words in VOCABULARIES:
        for word in words:
            if re.search(rf"\b{word}\b", wanted):
                forms += [re.sub(rf"\b{word}\b", other, wanted) for other in words if other != word]
    return list(dict.fromkeys(forms))


def _words(dossier: Dossier, name: str) -> str:
    """Everything that a thing is called, for the search."""
    if name in dossier.items:
        item = dossier.items[name]
        return _plain(" ".join((name, item.name, *item.also, item.kind, item.place)))
    if name in dossier.cables:
        cable = dossier.cables[name]
        return _plain(" ".join((name, cable.mark, "cable")))
    place = dossier.places[name]
    return _plain(" ".join((name, place.name, *place.also, place.station, place.zone, place.text)))
