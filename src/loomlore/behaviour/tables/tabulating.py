"""Function tables in the crew's words: headings, cells, thresholds, and what a table cannot say.

What a row speaks of, in this order: the supply, the levers in the record's order, and what the installation
remembers, where the levers alone do not decide. Where every row wants the supply alive that is said once.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from loomlore.behaviour.readings import name_of
from loomlore.behaviour.tables.drafting import Draft, Input, decides, drafts_of, inputs_of, value_of
from loomlore.behaviour.tables.gathering import CHATTERING, Gathered, State, Thing, gathered_outcomes
from loomlore.behaviour.tables.ranging import Scale
from loomlore.behaviour.tables.reducing import Derived, Point, Row, reduced_table
from loomlore.behaviour.tables.supplying import supplies_of
from loomlore.behaviour.tables.telling import (
    condition_words,
    crew_name,
    joint_name,
    listed,
    lowered,
    position_cell,
    stands,
)
from loomlore.network.building import Plant
from loomlore.network.conditions import StateIs
from loomlore.network.settling import moved, settle
from loomlore.quantities import as_written, read_quantity

__all__ = ["FunctionRow", "FunctionTable", "ServiceFunctions", "function_tables"]

OTHERWISE = "otherwise"
ANY = "any"
MOST_WARNINGS = 6


@dataclass(frozen=True, slots=True)
class FunctionRow:
    """A row: a cell for each column of what is done, and one for each of what is seen."""

    done: tuple[str, ...]
    seen: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class FunctionTable:
    """One reduced table.

    ``columns`` are what is done, ``things`` what is seen; ``otherwise`` is seen in every other setting.
    ``live`` says that all rows want the supply alive. ``exact`` says that no table of fewer rows exists;
    otherwise it is the fewest found. ``sayings`` are what a table cannot say: parity, and what is remembered.
    """

    columns: tuple[str, ...]
    things: tuple[str, ...]
    rows: tuple[FunctionRow, ...]
    otherwise: tuple[str, ...]
    live: bool
    exact: bool
    sayings: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class ServiceFunctions:
    """The function tables of one service.

    ``supplies`` are its kinds of supply and how each comes about; ``settings`` is how many were worked
    through, ``whole`` that none was left out for their number; ``warnings`` what blows or may go either way.
    """

    service: str
    title: str
    fed_by: str
    supplies: tuple[tuple[str, str], ...]
    tables: tuple[FunctionTable, ...]
    settings: int
    whole: bool
    warnings: tuple[str, ...] = ()

    @property
    def exact(self) -> bool:
        """Whether every table is proved to have the fewest rows."""
        return all(table.exact for table in self.tables)


def function_tables(plant: Plant, service: str) -> ServiceFunctions:
    """Make the function tables of a service.

    Parameters
    ----------
    plant
        The installation in one standard of fit.
    service
        Its id.

    Returns
    -------
    ServiceFunctions
        No tables where nothing of the service is seen or heard.

    Source
    ------
    Common practice, no source: handbooks tabulate what the crew does against what is then seen.
    """
    gathered = gathered_outcomes(plant, service)
    tables = [_told(draft) for gathering in gathered for draft in drafts_of(gathering)]
    supplies = supplies_of(plant, service)
    said = [(s.name, listed(s.orders) if s.orders else "everything at rest") for s in supplies]
    named = any(table.live or "supply" in table.columns for table in tables)
    record = plant.installation.dossier.services[service]
    return ServiceFunctions(
        service=service,
        title=record.title or record.name,
        fed_by=joint_name([lowered(name_of(plant, feed)) for feed in record.feed]) if record.feed else "",
        supplies=tuple(said) if named and len(said) > 1 else (),
        tables=tuple(tables),
        settings=sum(gathering.settings for gathering in gathered),
        whole=all(gathering.whole for gathering in gathered),
        warnings=tuple(dict.fromkeys(w for gathering in gathered for w in _warnings(gathering))),
    )


# -- into words ----------------------------------------------------------------------------------------------


def _told(draft: Draft) -> FunctionTable:
    rows = sorted(draft.reduced.rows, key=lambda row: _order(draft, row))
    live = _wants_live(draft, rows) and len(_spoken(draft, rows)) > 1
    spoken = [p for p in _spoken(draft, rows) if not (live and draft.inputs[p].what == "supply")]
    heads = _heads(draft, spoken)
    columns = _thing_columns(draft)
    told = tuple(
        FunctionRow(
            tuple(_cell(draft, row, places) for places, _ in heads),
            tuple(_seen_words(draft, row, member) for _, member in columns),
        )
        for row in rows
    )
    return FunctionTable(
        columns=tuple(head for _, head in heads),
        things=tuple(head for head, _ in columns),
        rows=told,
        otherwise=tuple(_outcome_word(draft, draft.quiet, member) for _, member in columns),
        live=live,
        exact=draft.reduced.exact,
        sayings=(
            *_parity_sayings(draft, columns),
            *_needle_sayings(draft),
            *_memory_sayings(draft, spoken),
            *_gap_sayings([head for _, head in heads], told),
        ),
    )


_BOUND = re.compile(r"(below|above) about (.+)")


def _gap_sayings(heads: Sequence[str], rows: Sequence[FunctionRow]) -> list[str]:
    """Where one row ends below what another begins at: between the two it depends on how one came there."""
    alike: dict[tuple[str, str], list[str]] = {}
    for column, head in enumerate(heads):
        gap = _gap([match for row in rows if (match := _BOUND.fullmatch(row.done[column]))])
        if gap is not None:
            alike.setdefault(gap, []).append(head)
    return [
        f"Between about {low} and {high} it depends on whether the {joint_name(names)} "
        f"{'rises or falls' if len(names) == 1 else 'rise or fall'}: things stay as they were. "
        f"\u201cOtherwise\u201d does not speak of that stretch."
        for (low, high), names in alike.items()
    ]


def _gap(bounds: Sequence[re.Match[str]]) -> tuple[str, str] | None:
    """The whole stretch in which some row leaves it open: from the lowest end to the least beginning above it."""
    ends = {m[2].partition(" to ")[0] for m in bounds if m[1] == "below"}
    begins = {m[2].rpartition(" to ")[2] for m in bounds if m[1] == "above"}
    amount = {text: read_quantity(text, bare=True).value for text in ends | begins}
    low = min(ends, key=amount.__getitem__, default="")
    above = [text for text in begins if low and amount[text] > amount[low]]
    return (low, min(above, key=amount.__getitem__)) if above else None


def _spoken(draft: Draft, rows: Sequence[Row]) -> list[int]:
    """Inputs that some row does not leave at "any"."""
    return [p for p in range(len(draft.inputs)) if any(len(row.allowed[p]) < _size(draft, p) for row in rows)]


def _size(draft: Draft, place: int) -> int:
    for derived in draft.derived:
        if derived.how == "parity" and place in derived.members[1:]:
            return 1
    return draft.inputs[place].size


def _order(draft: Draft, row: Row) -> tuple[object, ...]:
    """The liveliest first, then as the columns have it, "any" last."""
    outcome = draft.outcomes[row.outcome]
    lively = tuple(-max(states) if CHATTERING not in states else -99 for states in outcome)
    fired = -max((max(s) for m, s in zip(draft.members, outcome, strict=True) if _fires(draft, m)), default=0)
    cells = tuple((len(v) == _size(draft, p), sorted(v)) for p, v in enumerate(row.allowed))
    return (fired, lively, cells)


def _fires(draft: Draft, member: int) -> bool:
    return "fired" in draft.gathering.things[member].states


def _wants_live(draft: Draft, rows: Sequence[Row]) -> bool:
    """Whether every row wants just this of the supply, that it is not dead."""
    places = [p for p, found in enumerate(draft.inputs) if found.what == "supply"]
    names = [supply.name for supply in draft.gathering.supplies]
    if not places or "dead" not in names or not rows:
        return False
    place, dead = places[0], names.index("dead")
    alive = frozenset(range(len(names))) - {dead}
    said = [row.allowed[place] == alive or _never_at(draft, row, place, dead) for row in rows]
    return all(said) and any(row.allowed[place] == alive for row in rows)


def _never_at(draft: Draft, row: Row, place: int, value: int) -> bool:
    """Whether a row says "any" of an input that never has a value in it."""
    return len(row.allowed[place]) == draft.inputs[place].size and not any(
        vector[place] == value and seen == row.outcome and _covers(draft, row, vector)
        for vector, seen in draft.points.items()
    )


def _heads(draft: Draft, spoken: Sequence[int]) -> list[tuple[tuple[int, ...], str]]:
    """Columns: the places each speaks of, and its heading."""
    heads: list[tuple[tuple[int, ...], str]] = []
    taken: set[int] = set()
    for place in spoken:
        if place in taken:
            continue
        derived = next((d for d in draft.derived if place in d.members), None)
        places = derived.members if derived is not None else _same_item(draft, place, spoken)
        taken.update(places)
        names = dict.fromkeys(_head(draft.gathering, draft.inputs[p]) for p in places)
        heads.append((places, joint_name(list(names))))
    return heads


def _same_item(draft: Draft, place: int, spoken: Sequence[int]) -> tuple[int, ...]:
    """A memory, with the other memories of its item."""
    if draft.inputs[place].what in ("supply", "lever"):
        return (place,)
    head = _head(draft.gathering, draft.inputs[place])
    memories = [p for p in spoken if draft.inputs[p].what not in ("supply", "lever")]
    return tuple(p for p in memories if _head(draft.gathering, draft.inputs[p]) == head)


def _head(gathering: Gathered, found: Input) -> str:
    if found.what == "supply":
        return "supply"
    if found.what == "lever":
        return crew_name(gathering.plant, gathering.scales[found.number].lever)
    name = gathering.plant.network.variables[found.number].name
    return lowered(name_of(gathering.plant, name.rpartition(".")[0]))


def _cell(draft: Draft, row: Row, places: Sequence[int]) -> str:
    derived = next((d for d in draft.derived if places[0] in d.members), None)
    if derived is None:
        said = [_words(draft, place, row.allowed[place], row) for place in places]
        return listed([words for words in said if words != ANY]) or ANY
    if derived.how == "parity":
        return _parity_cell(draft, derived, row)
    return _pair_cell(draft, row.allowed[places[0]], row.allowed[places[1]], places[0], row)


def _words(draft: Draft, place: int, values: frozenset[int], row: Row) -> str:
    found, gathering = draft.inputs[place], draft.gathering
    if len(values) == found.size:
        return ANY
    match found.what:
        case "supply":
            return _supply_words(gathering, values)
        case "lever":
            scale = gathering.scales[found.number]
            if scale.edges:
                return _interval_words(draft, place, scale, values, row)
            return position_cell(gathering.plant, scale.lever, values)
        case "timer":
            return "running" if 1 in values else "not running"
        case "coil":
            return "pulled in" if 1 in values else "released"
        case "sensed":
            return "so" if 1 in values else "not so"
        case _:
            return _latch_words(gathering.plant, found.number, 1 in values)


def _latch_words(plant: Plant, variable: int, is_set: bool) -> str:
    record = plant.network.variables[variable]
    word = record.name.rpartition(".")[2].replace("-", " ")
    if (
        record.latch is not None
        and record.latch.release_after is not None
        and word in ("run", "runs", "running")
    ):
        return "running" if is_set else "run out"
    return word if is_set else f"not {word}"


def _supply_words(gathering: Gathered, values: frozenset[int]) -> str:
    names = [supply.name for supply in gathering.supplies]
    alive = {n for n, name in enumerate(names) if name != "dead"}
    if values == alive and len(alive) < len(names):
        return "live"
    return " or ".join(names[n] for n in sorted(values))


def _interval_words(draft: Draft, place: int, scale: Scale, values: frozenset[int], row: Row) -> str:
    low, high = min(values), max(values)
    edges = scale.edges
    dimension = draft.gathering.plant.network.levers[scale.lever].dimension
    if low == high:
        for edge in edges:
            if scale.values[low] == edge.value:
                return f"at {as_written(edge.value, dimension)}"
    lower = _edge(draft, place, scale, low - 1, row, rising=True) if low > 0 else None
    upper = _edge(draft, place, scale, high, row, rising=False) if high < len(edges) else None
    if lower is None:
        return f"below {upper}"
    if upper is None:
        return f"above {lower}"
    return f"{lower} to {upper}"


def _edge(draft: Draft, place: int, scale: Scale, number: int, row: Row, *, rising: bool) -> str:
    """An edge in words; where only samples stand on either side, it is sought between them."""
    edge = scale.edges[number]
    dimension = draft.gathering.plant.network.levers[scale.lever].dimension
    if edge.exact:
        return as_written(edge.value, dimension)
    inside = number + 1 if rising else number
    found = _sought(draft, place, scale, inside, inside - 1 if rising else inside + 1, row)
    if not found:
        return f"about {_rounded(edge.value, dimension)}"
    span = draft.gathering.plant.network.levers[scale.lever]
    if max(found) - min(found) <= CLOSE * (span.high - span.low):
        return f"about {_rounded(sum(found) / len(found), dimension)}"
    return f"about {_rounded(min(found), dimension)} to {_rounded(max(found), dimension)}"


CLOSE = 0.03
"""Thresholds that lie closer than this share of the range are told as one."""


def _rounded(value: float, dimension: str) -> str:
    return as_written(float(f"{value:.3g}" if dimension else f"{value:.2g}"), dimension)


MOST_SOUGHT = 3
HALVINGS = 8


def _sought(draft: Draft, place: int, scale: Scale, inside: int, outside: int, row: Row) -> list[float]:
    """Where the row's outcome begins, coming from outside: a value for each of a few neighbouring states."""
    plant, found = draft.gathering.plant, []
    for state, vector in zip(draft.gathering.states, draft.vectors, strict=True):
        beyond = (*vector[:place], inside, *vector[place + 1 :])
        if (
            vector[place] != outside
            or draft.points.get(beyond) != row.outcome
            or draft.points[vector] == row.outcome
        ):
            continue
        if not _covers(draft, row, beyond):
            continue
        low, high = state.memory.levers[scale.lever], scale.values[inside]
        near = None
        for _ in range(HALVINGS):
            middle = (low + high) / 2
            there = settle(plant.solver, moved(state.memory, {scale.lever: middle}), near=near)
            near = there.solution
            seen = draft.gathering.seen(there)
            wanted = tuple((seen[m],) for m in draft.members) == draft.outcomes[row.outcome]
            low, high = (low, middle) if wanted else (middle, high)
        found.append((low + high) / 2)
        if len(found) >= MOST_SOUGHT:
            break
    return found


def _covers(draft: Draft, row: Row, vector: Point) -> bool:
    values = list(vector)
    for derived in draft.derived:
        if derived.how == "parity":
            values[derived.members[0]] = sum(vector[p] for p in derived.members) % 2
            for p in derived.members[1:]:
                values[p] = 0
        else:
            a, b = derived.members
            values[a], values[b] = sorted((vector[a], vector[b]))
    return row.covers(tuple(values))


# -- variables taken together --------------------------------------------------------------------------------


def _parity_cell(draft: Draft, derived: Derived, row: Row) -> str:
    values = row.allowed[derived.members[0]]
    if len(values) == 2:
        return ANY
    odd = 1 in values
    words = [_position_list(draft, place) for place in derived.members]
    if len(derived.members) > 2 or len(set(words)) > 1:
        if len(words) == 2:
            (a, b), (c, d) = words
            return f"{a} with {d}, or {b} with {c}" if odd else f"{a} with {c}, or {b} with {d}"
        return f"an {'odd' if odd else 'even'} number {words[0][1]}"
    first, second = words[0]
    return f"one {first}, one {second}" if odd else f"both {first} or both {second}"


def _position_list(draft: Draft, place: int) -> tuple[str, str]:
    found = draft.inputs[place]
    if found.what == "lever":
        scale = draft.gathering.scales[found.number]
        if not scale.edges:
            plant = draft.gathering.plant
            return position_cell(plant, scale.lever, (0,)), position_cell(plant, scale.lever, (1,))
    whole = Row(tuple(frozenset(range(i.size)) for i in draft.inputs), 0)
    return _words(draft, place, frozenset({0}), whole), _words(draft, place, frozenset({1}), whole)


def _parity_sayings(draft: Draft, columns: Sequence[tuple[str, int]]) -> list[str]:
    said = []
    for derived in draft.derived:
        if derived.how != "parity":
            continue
        names = [_head(draft.gathering, draft.inputs[p]) for p in derived.members]
        what = listed([lowered(head) for head, _ in columns])
        each, others = ("Either", "other stands") if len(names) == 2 else ("Any one", "others stand")
        said.append(f"{each} of the {joint_name(names)} changes the {what}, however the {others}.")
    return said


def _needle_sayings(draft: Draft) -> list[str]:
    """That a needle follows a tank, or whatever moves it smoothly."""
    gathering = draft.gathering
    needles = [lowered(gathering.things[m].name) for m in draft.members if gathering.things[m].dials]
    levers = [f"the {crew_name(gathering.plant, lever)}" for lever in gathering.smooth]
    return (
        [f"The {listed(needles)} follow{'s' * (len(needles) == 1)} {listed(levers)}."]
        if needles and levers
        else []
    )


def _pair_cell(draft: Draft, lower: frozenset[int], higher: frozenset[int], place: int, row: Row) -> str:
    """Two like levers of which it does not matter which is which."""
    size = draft.inputs[place].size
    whole = size - 1

    def words(values: frozenset[int]) -> str:
        return _words(draft, place, values, row)

    if len(lower) == size and len(higher) == size:
        return ANY
    if len(higher) == size:
        return f"{'either' if 0 in lower else 'both'} {words(lower)}"
    if len(lower) == size:
        return f"{'either' if whole in higher else 'both'} {words(higher)}"
    if lower == higher:
        return f"both {words(lower)}"
    if max(lower) < min(higher):
        return f"one {words(lower)}, the other {words(higher)}"
    either_low = f"{'either' if 0 in lower else 'both'} {words(lower)}"
    either_high = f"{'either' if whole in higher else 'both'} {words(higher)}"
    return f"{either_low} and {either_high}"


# -- what is seen --------------------------------------------------------------------------------------------


def _thing_columns(draft: Draft) -> list[tuple[str, int]]:
    """Headings of what is seen, things that say the same under one; each with a member to read it from."""
    columns: list[list[int]] = []
    things = draft.gathering.things
    for member in draft.members:
        for column in columns:
            same = all(state.seen[member] == state.seen[column[0]] for state in draft.gathering.states)
            if same and things[member].states == things[column[0]].states and not things[member].dials:
                column.append(member)
                break
        else:
            columns.append([member])
    return [(joint_name([things[m].name for m in column]), column[0]) for column in columns]


def _outcome_word(draft: Draft, outcome: int, member: int) -> str:
    thing = draft.gathering.things[member]
    states = draft.outcomes[outcome][draft.members.index(member)]
    return " or ".join(thing.word(state) for state in reversed(states))


def _seen_words(draft: Draft, row: Row, member: int) -> str:
    word = _outcome_word(draft, row.outcome, member)
    thing = draft.gathering.things[member]
    if not thing.dials or word not in ("reading", "reading or reading"):
        return word
    states = [
        state
        for state, vector in zip(draft.gathering.states, draft.vectors, strict=True)
        if draft.points[vector] == row.outcome and _covers(draft, row, vector)
    ]
    return f"shows {_marks(draft.gathering, thing, states)}"


def _marks(gathering: Gathered, thing: Thing, states: Sequence[State]) -> str:
    dials = [dial for other in gathering.things for dial in other.dials]
    said = []
    for dial in thing.dials:
        record = gathering.plant.network.indications[dial]
        marks = [mark for state in states if (mark := state.shown[dials.index(dial)]) is not None]
        if not marks:
            continue
        low, high = as_written(min(marks), record.dimension), as_written(max(marks), record.dimension)
        if low.partition(" ")[2] == high.partition(" ")[2]:
            low = low if low == high else low.partition(" ")[0]
        scale = record.name.rpartition(".")[2].replace("-", " ")
        label = f" ({scale})" if len(thing.dials) > 1 else ""
        said.append((high if low == high else f"{low} to {high}") + label)
    return ", ".join(said)


# -- what is remembered, and what goes wrong -----------------------------------------------------------------


def _memory_sayings(draft: Draft, spoken: Sequence[int]) -> list[str]:
    said = []
    for place in spoken:
        found = draft.inputs[place]
        if found.what in ("latch", "coil", "timer"):
            said.append(_memory_saying(draft.gathering, found.number))
    return list(dict.fromkeys(said))


def _causes(gathering: Gathered) -> dict[int, str]:
    """What the crew does to pull in each coil, where that is one row's worth."""
    found: dict[int, str] = {}
    plain = [i for i in inputs_of(gathering) if i.what in ("supply", "lever")]
    vectors = [tuple(value_of(gathering, state, i) for i in plain) for state in gathering.states]
    for number in gathering.variables:
        if gathering.plant.network.variables[number].what != "coil":
            continue
        seen = [(int(state.memory.variables[number] != 0),) for state in gathering.states]
        if not decides(vectors, seen, range(len(plain))):
            continue
        points = {vector: outcome[0] for vector, outcome in zip(vectors, seen, strict=True)}
        rows = reduced_table([i.axis for i in plain], points, otherwise=0).rows
        if len(rows) == 1:
            found[number] = _cause(gathering, plain, rows[0])
    return {number: words for number, words in found.items() if words}


def _cause(gathering: Gathered, inputs: Sequence[Input], row: Row) -> str:
    parts = []
    for found, values in zip(inputs, row.allowed, strict=True):
        if (
            found.what == "supply"
            and len(values) < found.size
            and (words := _supply_words(gathering, values)) != "live"
        ):
            parts.append(f"the supply is {words}")
        if found.what != "lever" or len(values) == found.size:
            continue
        scale = gathering.scales[found.number]
        if scale.edges:
            return ""
        parts.append(stands(gathering.plant, scale.lever, sorted(values)))
    return " and ".join(parts)


def _holding_saying(gathering: Gathered, number: int, item: str) -> str:
    """A relay that holds itself in: the settings that always pull it in, and those that always release it."""
    plain = [i for i in inputs_of(gathering) if i.what in ("supply", "lever")]
    ends: dict[Point, set[int]] = {}
    for state in gathering.states:
        vector = tuple(value_of(gathering, state, i) for i in plain)
        ends.setdefault(vector, set()).add(int(state.memory.variables[number] != 0))
    points = {vector: seen.pop() if len(seen) == 1 else HOLDS for vector, seen in ends.items()}
    rows = reduced_table([i.axis for i in plain], points, otherwise=HOLDS).rows
    said = {n: [_cause(gathering, plain, row) for row in rows if row.outcome == n] for n in (0, 1)}
    if not all(said[0]) or not all(said[1]) or not said[0] or not said[1]:
        return f"Whether the {item} is pulled in depends on what was done before."
    return f"The {item} pulls in when {' or '.join(said[1])}, and stays in until {' or '.join(said[0])}."


HOLDS = 2
"""Pulled in or released, as it was before."""


def _memory_saying(gathering: Gathered, number: int) -> str:
    plant, causes = gathering.plant, _causes(gathering)
    variable = plant.network.variables[number]
    item = lowered(name_of(plant, variable.name.rpartition(".")[0]))
    if variable.latch is None:
        return _holding_saying(gathering, number, item)
    rule = variable.latch
    starts = rule.set_on or rule.set
    begins = condition_words(plant, starts, causes=causes) if starts is not None else "it is set by hand"
    if rule.set_after is not None:
        begins = f"{as_written(rule.set_after, 'time')} after {begins}"
    word = _latch_words(plant, number, True)
    own = isinstance(rule.release, StateIs) and rule.release.variable == number
    if rule.release_after is not None and own:
        lasts = as_written(rule.release_after, "time")
        return f"The {item} is {word} for {lasts} from the moment that {begins}."
    ends = rule.release_on or rule.release
    until = condition_words(plant, ends, causes=causes) if ends is not None else "it is reset by hand"
    if rule.release_after is not None:
        until = f"{as_written(rule.release_after, 'time')} after {until}"
    return f"The {item} is {word} from when {begins}, until {until}."


_HAPPENS = {"blown": "blows", "race": "may end either way", "chatters": "never comes to rest: it chatters"}


def _warnings(gathering: Gathered) -> list[str]:
    """What goes wrong on the way, each with the first setting in which it does."""
    said: dict[tuple[str, tuple[str, ...]], str] = {}
    plant = gathering.plant
    for number, what, names in gathering.events:
        if what not in _HAPPENS or (what, names) in said:
            continue
        subject = listed([_the(name_of(plant, name)) for name in names if not name.startswith("sensed ")])
        setting = _setting(gathering, gathering.states[number])
        said[what, names] = f"{setting}, {subject} {_HAPPENS[what]}."
    return list(said.values())[:MOST_WARNINGS]


def _the(name: str) -> str:
    return lowered(name) if name[-1:].isdigit() else f"the {lowered(name)}"


def _setting(gathering: Gathered, state: State) -> str:
    plant, parts = gathering.plant, []
    for scale in gathering.scales:
        value = state.memory.levers[scale.lever]
        if value != plant.network.levers[scale.lever].start:
            parts.append(stands(plant, scale.lever, (value,)))
    alive = [supply.name for supply in gathering.supplies if supply.name != "dead"]
    if len(alive) > 1:
        parts.append(f"the supply is {gathering.supplies[state.supply].name}")
    return "When " + listed(parts) if parts else "With everything at rest"
