"""Rules about cables, their ends, sizes and lengths, ways of boxes, sheaths, looms and bolts."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

from loomlore.findings import Severity, nearest
from loomlore.record.equipment import Equipment
from loomlore.record.fitting import fits_of
from loomlore.record.lengths import cable_length, distance_apart
from loomlore.record.model import AIRFRAME, Bolt, Cable, Item, Loom, Thing, Way
from loomlore.record.remarks import called, meant
from loomlore.record.rules.context import Context, is_earth, split_end
from loomlore.sentences import conjunction

__all__ = ["check_cables", "check_end", "check_items", "check_places", "check_scales", "check_ways"]


def check_cables(context: Context) -> None:
    """Judge every fitted cable: ends, doubles, size, length, core, loom.

    Parameters
    ----------
    context
        The standard of fit, and where findings go.
    """
    between: dict[frozenset[str], Cable] = {}
    cores: dict[str, Cable] = {}
    for cable in context.dossier.cables.values():
        items = (split_end(cable.from_)[0], split_end(cable.to)[0])
        if context.due(cable.id, *items):
            ends = ((cable.from_, "from"), (cable.to, "to"))
            wrong = [end for end, key in ends if not check_end(context, cable, end, key)]
            if not wrong:
                _check_pair(context, cable, between)
            else:
                context.doubtful.add(cable.id)
        _check_core(context, cable, cores)
        if context.due(cable.id, *items):
            _check_make(context, cable, sound=cable.id not in context.doubtful)


def check_end(context: Context, thing: Thing, end: str, key: str) -> bool:
    """Judge one end of a cable, or any other terminal that is written.

    Parameters
    ----------
    context
        The standard of fit.
    thing
        Where the end is written.
    end
        As written.
    key
        The key it stands in.

    Returns
    -------
    bool
        Whether it is a terminal of this standard.
    """
    item, terminal = split_end(end)
    if item == AIRFRAME:
        return not terminal or _check_bolt(context, thing, terminal, key)
    parts = context.installation.equipment.get(item)
    if parts is None:
        _say_no_item(context, thing, end, key)
        return False
    if terminal in parts.terminal_names:
        return True
    _say_no_terminal(context, thing, parts, terminal, key)
    return False


def _check_bolt(context: Context, thing: Thing, bolt: str, key: str) -> bool:
    if bolt in context.dossier.earths:
        return True
    if not context.excused(bolt):
        hint = meant(
            bolt, context.whole.earths, none=f"Add [earth] {bolt} = {{ place = … }}, or write 'earth' alone."
        )
        message = f"{called(thing)} names {bolt!r}, which is no earth bolt."
        context.remarks.say("unknown-bolt", thing, message, hint, key=key, unknown=bolt)
    return False


def _say_no_item(context: Context, thing: Thing, end: str, key: str) -> None:
    item, terminal = split_end(end)
    if item in context.dossier.items or context.excused(item):
        return  # its kind is unknown, or its line is broken: that is a finding of its own
    if item in context.whole.items:
        _say_not_fitted(context, thing, item, key)
        return
    near = nearest(item, context.whole.items)
    terminals = (t for parts in context.installation.equipment.values() for t in parts.terminal_names)
    if near:
        context.doubtful.update((near, f"{near}.{terminal}"))
        hint = f"Did you mean {near + ('.' + terminal if terminal else '')!r}?"
    elif not terminal and end in terminals:
        hint = "Write the item before it, like 'horn.1'."
    else:
        hint = f"Add the item {item!r}, or mend the name."
    verb = "ends at" if isinstance(thing, Cable) else "names"
    message = f"{called(thing)} {verb} {end!r}, and there is no such item."
    context.remarks.say("unknown-item", thing, message, hint, key=key, unknown=item)


def _say_not_fitted(context: Context, thing: Thing, item: str, key: str) -> None:
    if not context.doubtful.isdisjoint((thing.id, item)):
        return  # its `fit` is in doubt already
    known = fits_of(context.whole)
    removing = [f for f in known.values() if f.id in context.installation.fits and item in f.removes]
    wanted = conjunction(context.whole.items[item].fit)
    if removing:
        hint = f"Let {removing[0].id!r} remove this too."
    else:
        hint = f'Give it the same fit: fit = "{wanted}".' if wanted else "Give it the same fit."
    message = f"{called(thing)} ends at {item!r}, which is not fitted in every standard that has the cable."
    if not isinstance(thing, Cable):
        message = f"{called(thing)} names {item!r}, which is not fitted in every standard that has it."
    context.remarks.say("not-fitted", thing, message, hint, key=key)


def _say_no_terminal(context: Context, thing: Thing, parts: Equipment, terminal: str, key: str) -> None:
    item = parts.item.id
    names = parts.terminal_names
    if f"item {item}" in context.broken:
        return
    context.doubtful.update((item, f"{item}.*"))
    listed = ", ".join(f"{item}.{t}" for t in names[:12]) or "none"
    if not terminal:
        hint = f"Write {item + '.' + names[0]!r}." if len(names) == 1 else f"Write one of: {listed}."
        message = f"{called(thing)} names {item!r} without its terminal."
        context.remarks.say("no-terminal", thing, message, hint, key=key)
        return
    what = "an inner node, which no cable reaches" if terminal in parts.inner else "no terminal of it"
    near = nearest(terminal, names)
    hint = f"Did you mean {item + '.' + near!r}?" if near else f"Its terminals are: {listed}."
    message = f"{called(thing)} names {item + '.' + terminal!r}, which is {what}."
    context.remarks.say("unknown-terminal", thing, message, hint, key=key)


# ---- one cable -------------------------------------------------------------------------------------------


def _check_pair(context: Context, cable: Cable, between: dict[frozenset[str], Cable]) -> None:
    if cable.from_ == cable.to:
        message = f"Cable {cable.id!r} runs from {cable.to!r} to itself."
        context.remarks.say("cable-to-itself", cable, message, "Mend one of its ends.", key="to")
        return
    pair = frozenset((cable.from_, cable.to))
    other = between.setdefault(pair, cable)
    if other is not cable and not (cable.note or cable.text or other.note or other.text):
        message = f"Cable {cable.id!r} joins {cable.from_!r} and {cable.to!r}, as {other.id!r} does already."
        hint = "Mend the end that was copied; where two run side by side, say so in the `note` of one."
        context.remarks.warn("doubled-cable", cable, message, hint, key="to", also=(other,))


def _check_make(context: Context, cable: Cable, *, sound: bool) -> None:
    if cable.along and cable.along not in context.dossier.looms and not context.excused(cable.along):
        hint = meant(cable.along, context.whole.looms, none=f"Add [loom] {cable.along} = {{ route = […] }}.")
        message = f"Cable {cable.id!r} lies along {cable.along!r}, which is no loom."
        context.remarks.say("unknown-loom", cable, message, hint, key="along", unknown=cable.along)
        return
    if cable.type:
        return  # recorded and drawn, not solved
    # its service's `usual`, or its sheath, may be what is broken
    broken = f"service {cable.service}" in context.broken or split_end(cable.core)[0] in context.doubtful
    if not broken and cable.size is None and not _sheath_size(context, cable):
        message = f"Cable {cable.id!r} has no size, so that its drop and its protection cannot be judged."
        hint = 'Write size = "14/0.30 mm" (or in its service: usual = { size = … }).'
        context.remarks.warn("size-missing", cable, message, hint)
    if sound:
        _check_length(context, cable)


CLOSE_ENOUGH = 0.8
"""A run may be this part of the distance between its places: a place is where somebody put the tape, not the
terminal itself. Common practice, no source."""


def _sheath_size(context: Context, cable: Cable) -> bool:
    sheath = context.dossier.sheaths.get(split_end(cable.core)[0])
    return sheath is not None and sheath.size is not None


def _check_length(context: Context, cable: Cable) -> None:
    hangs_on = {cable.along, split_end(cable.core)[0], split_end(cable.from_)[0], split_end(cable.to)[0]}
    if not context.doubtful.isdisjoint(hangs_on) or context.excused(cable.along):
        return  # where it runs is in doubt already
    length = cable_length(cable, context.dossier)
    if length is None:
        message = f"Cable {cable.id!r} has no length, and where its ends are does not say."
        hint = 'Write length = "2.4 m", or along = a loom, or give both ends a `place`.'
        context.remarks.warn("length-missing", cable, message, hint)
    elif length.how == "given":
        apart = distance_apart(cable, context.dossier)
        if apart is not None and length.quantity.high < CLOSE_ENOUGH * apart:
            message = (
                f"Cable {cable.id!r} is {length.quantity.text} long, and its ends are {apart:.2g} m apart."
            )
            hint = "Mend its length or its unit, or the place of an end."
            context.remarks.warn("too-short", cable, message, hint, key="length")
    elif length.estimated:
        message = f"Cable {cable.id!r} is taken as {length.quantity.text} long: {length.explanation}."
        context.remarks.note("length-estimated", cable, message, "Measure it and write length = ….")


def _check_core(context: Context, cable: Cable, cores: dict[str, Cable]) -> None:
    if not cable.core:
        return
    name, core = split_end(cable.core)
    sheath = context.dossier.sheaths.get(name)
    if sheath is None:
        if not context.excused(name):
            hint = meant(
                name, context.whole.sheaths, none=f"Add [sheath] {name} = {{ type = …, cores = […] }}."
            )
            message = f"Cable {cable.id!r} is a core of {name!r}, which is no sheath."
            context.remarks.say("unknown-sheath", cable, message, hint, key="core", unknown=name)
        context.doubtful.add(name)
        return
    if sheath.cores and core not in sheath.cores:
        hint = meant(core, sheath.cores, none=f"Its cores are: {', '.join(sheath.cores)}.")
        context.remarks.say("unknown-core", cable, f"Sheath {name!r} has no core {core!r}.", hint, key="core")
    other = cores.setdefault(cable.core, cable)
    if other is not cable:
        message = f"Cables {other.id!r} and {cable.id!r} are both the core {cable.core!r}."
        context.remarks.say(
            "core-twice", cable, message, "Give each cable its own core.", key="core", also=(other,)
        )


# ---- ways ------------------------------------------------------------------------------------------------


def check_ways(context: Context) -> None:
    """Judge fuse boxes' ways: fuse, spare, cable; and that ``[way]`` names ways that there are.

    Parameters
    ----------
    context
        The standard of fit.
    """
    if context.first:
        for way in context.whole.ways.values():
            _check_way_item(context, way)
    for way in context.dossier.ways.values():
        _check_way(context, way)
    for parts in context.installation.equipment.values():
        if context.due(parts.item.id):
            for number in parts.fuse_ways:
                _check_fuse_way(context, parts, number)


def _check_way_item(context: Context, way: Way) -> None:
    if way.item in context.whole.items or context.excused(way.item) or way.item in context.doubtful:
        return  # what is wrong with a heading is said at the first way under it
    near = nearest(way.item, context.whole.items) or ""
    context.doubtful.update((way.item, near, f"{near}.*"))
    hint = meant(way.item, context.whole.items, none=f"Add the item {way.item!r}.")
    context.remarks.say("unknown-item", way, f"[way.{way.item}] names no item.", hint, unknown=way.item)


def _check_way(context: Context, way: Way) -> None:
    parts = context.installation.equipment.get(way.item)
    if parts is None:
        return
    if way.number not in parts.terminal_names and f"item {way.item}" not in context.broken:
        hint = f"Its ways are: {', '.join(parts.terminal_names)}."
        context.remarks.say("unknown-way", way, f"Item {way.item!r} has no way {way.number!r}.", hint)
    elif way.spare and way.id in context.cabled:
        cable = next(c for c in context.dossier.cables.values() if way.id in (c.from_, c.to))
        message = f"Way {way.number} of {way.item!r} is called spare, but cable {cable.id!r} is on it."
        hint = "Take `spare` out, or mend the cable's end."
        context.remarks.warn("spare-way-used", way, message, hint, key="spare", also=(cable,))


def _check_fuse_way(context: Context, parts: Equipment, number: str) -> None:
    name = f"{parts.item.id}.{number}"
    way = context.dossier.ways.get(name)
    written: Thing = way or parts.item
    if name in context.cabled:
        given = way is not None and (way.fuse is not None or way.spare)
        said = f"way {name}" in context.broken or f"{parts.item.id}.*" in context.doubtful
        if not given and not said:
            message = f"Way {number} of {parts.item.id!r} is used and has no fuse."
            hint = f'Write under [way.{parts.item.id}]: {number} = {{ fuse = "5 A" }}.'
            context.remarks.warn("way-without-fuse", written, message, hint)
    elif f"way {name}" in context.broken:
        return  # it may be called spare
    elif not (way and way.spare) and name not in context.cabled_ever and not _speaks_of(context, name):
        message = f"Way {number} of {parts.item.id!r} has no cable."
        hint = f"Add its cable, or write under [way.{parts.item.id}]: {number} = {{ spare = true }}."
        context.remarks.warn("way-unused", written, message, hint)


def _speaks_of(context: Context, end: str) -> bool:
    """Whether a broken line, or a wrong end, may be the one that means this end."""
    item, terminal = split_end(end)
    if not context.doubtful.isdisjoint((end, f"{item}.*")):
        return True
    return item in context.touched and terminal in context.touched


# ---- items -----------------------------------------------------------------------------------------------


def check_items(context: Context) -> None:
    """Judge what items name: mates, what they are bound to, and that anything is connected to them.

    Parameters
    ----------
    context
        The standard of fit.
    """
    connected = {split_end(end)[0] for end in context.cabled_ever} | set(context.installation.joined_by)
    for parts in context.installation.equipment.values():
        item = parts.item
        if item.mates:
            _check_mate(context, item)
        excused = context.excused(item.id) or item.id in context.doubtful
        if item.id not in connected and parts.terminal_names and not excused:
            message = f"Item {item.id!r} has no cable."
            hint = "Add its cables; a part that is only carried has a kind without terminals."
            context.remarks.warn("item-unconnected", item, message, hint)
    if context.first:
        _check_unknown(context)


def _check_unknown(context: Context) -> None:
    """Items of kind ``unknown``, as an import leaves them, said together."""
    found = [item for item in context.whole.items.values() if item.kind == "unknown" and not item.note]
    if not found:
        return
    first, *others = found
    names = ", ".join(repr(item.id) for item in found[:6]) + (", …" if len(found) > 6 else "")
    are = "is" if not others else "are"
    message = f"{names} {are} of kind 'unknown': no current goes through, and nothing behind is solved."
    hint = "Write the kind of each; docs/kinds.md lists them, and a kind of your own may be described."
    context.remarks.say("kind-unknown", first, message, hint, severity=Severity.NOTE, key="kind", also=others)


def check_scales(context: Context) -> None:
    """Judge that every printed scale belongs to something that measures.

    Parameters
    ----------
    context
        The standard of fit.
    """
    metering = {
        parts.item.id
        for parts in context.installation.equipment.values()
        if any(element.law in ("meter", "ratio-coil") for element in parts.elements.values())
    }
    for scale in context.dossier.scales.values():
        known = scale.item in context.installation.equipment
        if known and scale.item not in metering and not context.excused(scale.item):
            message = f"Scale {scale.id!r} belongs to {scale.item!r}, which has no meter."
            hint = "Give it to the item whose dial it is printed on: " + meant(
                scale.item, metering, none="a voltmeter, an ammeter or a gauge."
            )
            context.remarks.say("scale-without-meter", scale, message, hint)


def _check_mate(context: Context, item: Item) -> None:
    if item.mates in context.dossier.items or context.excused(item.mates):
        return
    if not context.doubtful.isdisjoint((item.id, item.mates)):
        return  # the `fit` of one of them is in doubt already
    if item.mates in context.whole.items:
        message = f"Item {item.id!r} mates {item.mates!r}, which is not fitted in every standard that has it."
        context.remarks.warn("not-fitted", item, message, "Give both halves the same fit.", key="mates")
        return
    hint = meant(item.mates, context.whole.items, none=f"Add the item {item.mates!r}.")
    message = f"Item {item.id!r} mates {item.mates!r}, which is no item."
    context.remarks.say("unknown-item", item, message, hint, key="mates", unknown=item.mates)


# ---- places, bolts, looms --------------------------------------------------------------------------------


def check_places(context: Context) -> None:
    """Judge the names of places, earth bolts, looms and sheaths, which no fit changes.

    Parameters
    ----------
    context
        The first standard of fit.
    """
    whole = context.whole
    for thing, key, place in _places_named(context):
        if place and place not in whole.places and not context.excused(place):
            hint = meant(place, whole.places, none=f"Add [place] {place} = {{ text = … }}.")
            context.doubtful.add(thing.id)
            message = f"{called(thing)} is at {place!r}, which is no place."
            context.remarks.say("unknown-place", thing, message, hint, key=key, unknown=place)
    for item in whole.items.values():
        bolt = item.earth.removeprefix(f"{AIRFRAME}.")
        if bolt and bolt != AIRFRAME:
            _check_bolt_of(context, item, bolt, "earth")
    for bolt_of in whole.earths.values():
        for other in bolt_of.bonds:
            _check_bolt_of(context, bolt_of, other, f"bonds.{other}")
    for loom in whole.looms.values():
        _check_legs(context, loom)
    for sheath in whole.sheaths.values():
        if sheath.along and sheath.along not in whole.looms and not context.excused(sheath.along):
            hint = meant(sheath.along, whole.looms, none=f"Add [loom] {sheath.along} = {{ route = […] }}.")
            context.remarks.say(
                "unknown-loom",
                sheath,
                f"Sheath {sheath.id!r} lies along {sheath.along!r}.",
                hint,
                key="along",
            )


def _places_named(context: Context) -> Iterator[tuple[Thing, str, str]]:
    for item in context.whole.items.values():
        yield item, "place", item.place
    for bolt in context.whole.earths.values():
        yield bolt, "place", bolt.place
    for loom in context.whole.looms.values():
        for number, place in enumerate(loom.route):
            yield loom, f"route.{number}", place


def _check_legs(context: Context, loom: Loom) -> None:
    """A leg is no shorter than the distance between its places."""
    spots = [context.whole.places.get(name) for name in loom.route]
    for number, (leg, (a, b)) in enumerate(zip(loom.legs, pairwise(spots), strict=False)):
        if a is None or b is None or a.at is None or b.at is None:
            continue
        apart = math.dist(a.at, b.at)
        if leg.high < CLOSE_ENOUGH * apart:
            message = (
                f"Loom {loom.id!r} is {leg.text} from {a.id!r} to {b.id!r}, which are {apart:.2g} m apart."
            )
            hint = "Mend the leg or its unit, or one of the places."
            context.remarks.warn("too-short", loom, message, hint, key=f"legs.{number}")


def _check_bolt_of(context: Context, thing: Item | Bolt, bolt: str, key: str) -> None:
    if bolt in context.whole.earths or context.excused(bolt):
        if bolt == thing.id and isinstance(thing, Bolt):
            context.remarks.say(
                "bond-to-itself", thing, f"Bolt {bolt!r} is bonded to itself.", "Take it out.", key=key
            )
        return
    hint = meant(bolt, context.whole.earths, none=f"Add [earth] {bolt} = {{ place = … }}.")
    message = f"{called(thing)} names {bolt!r}, which is no earth bolt."
    context.remarks.say("unknown-bolt", thing, message, hint, key=key, unknown=bolt)


def cables_between(context: Context) -> Iterator[Cable]:
    """The fitted cables that are solved.

    Parameters
    ----------
    context
        The standard of fit.

    Yields
    ------
    Cable
        Not coaxial, aerial or tube.
    """
    return (c for c in context.dossier.cables.values() if not c.type)


def earth_only(cable: Cable) -> bool:
    """Whether a cable only joins bolts and airframe.

    Parameters
    ----------
    cable
        Any cable.

    Returns
    -------
    bool
        True for a bond.
    """
    return is_earth(cable.from_) and is_earth(cable.to)
