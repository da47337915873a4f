"""Function tables: what was gathered of a service, brought down to rows in the crew's words.

Each thing seen is a table of its own; things that always agree share one, and so do things whose joint table
has fewer rows than their own together. What a row speaks of, in this order: the supply, the levers in the
record's order, and what the installation remembers, where the levers alone do not decide. What relays do is
left out wherever levers decide it. Where everything needs the supply alive that is said once, above.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from loomlore.behaviour.functions import (
    CHATTERING,
    Gathered,
    Scale,
    State,
    Thing,
    gathered_outcomes,
    seen_in,
    supplies_of,
)
from loomlore.behaviour.readings import name_of
from loomlore.behaviour.reducing import Axis, Derived, Point, Reduced, Row, derivations, derived_points, reduced_table
from loomlore.behaviour.telling import condition_words, crew_name, joint_name, listed, lowered, position_cell, stands
from loomlore.network.building import Plant
from loomlore.network.conditions import StateIs
from loomlore.network.settling import moved, settle
from loomlore.quantities import as_written

__all__ = ["FunctionRow", "FunctionTable", "ServiceFunctions", "function_tables"]

OTHERWISE = "otherwise"
ANY = "any"
MOST_JOINED = 6
"""So many different outcomes at most in a table that several things share."""
FEW = 2
"""Tables of so few inputs are joined even where that saves no row."""
WEIGHTS = {"supply": 0.9, "lever": 1.0, "latch": 1.2, "timer": 1.3, "coil": 1.6, "sensed": 2.0}


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

    ``supplies`` are its kinds of supply and how each comes about; ``settings`` is how many were worked through,
    ``whole`` that none was left out for their number; ``warnings`` what blows or may go either way.
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
    tables = [table for gathering in gathered for table in _tables(gathering)]
    supplies = supplies_of(plant, service)
    said = [(s.name, listed(s.orders) if s.orders else "everything at rest") for s in supplies]
    named = any(table.live or "supply" in table.columns for table in tables)
    record = plant.installation.dossier.services[service]
    return ServiceFunctions(
        service=service,
        title=record.title or record.name,
        fed_by=listed([lowered(name_of(plant, feed)) for feed in record.feed]),
        supplies=tuple(said) if named and len(said) > 1 else (),
        tables=tuple(tables),
        settings=sum(gathering.settings for gathering in gathered),
        whole=all(gathering.whole for gathering in gathered),
        warnings=tuple(dict.fromkeys(w for gathering in gathered for w in _warnings(gathering))),
    )


# -- what a row can speak of -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Input:
    """A variable of the table. ``number`` is the place of its scale, or its variable's number."""

    what: str
    number: int
    size: int
    ordered: bool = False

    @property
    def axis(self) -> Axis:
        """As the reduction sees it."""
        return Axis(self.size, self.ordered, WEIGHTS[self.what])


def _inputs(gathering: Gathered) -> tuple[_Input, ...]:
    found = []
    if len(gathering.supplies) > 1:
        found.append(_Input("supply", 0, len(gathering.supplies)))
    for place, scale in enumerate(gathering.scales):
        found.append(_Input("lever", place, len(scale.values), bool(scale.edges)))
    network = gathering.plant.network
    for number in gathering.variables:
        variable = network.variables[number]
        if variable.what in ("latch", "coil", "sensed"):
            if len({s.memory.variables[number] for s in gathering.states}) > 1:
                found.append(_Input(variable.what, number, 2))
        if variable.latch is not None and len({_running(s, number) for s in gathering.states}) > 1:
            found.append(_Input("timer", number, 2))
    return tuple(found)


def _running(state: State, variable: int) -> bool:
    return any(left is not None for left in state.memory.timers[2 * variable : 2 * variable + 2])


def _value(gathering: Gathered, state: State, found: _Input) -> int:
    match found.what:
        case "supply":
            return state.supply
        case "lever":
            scale = gathering.scales[found.number]
            return scale.place(state.memory.levers[scale.lever])
        case "timer":
            return int(_running(state, found.number))
        case _:
            return int(state.memory.variables[found.number] != 0)


# -- from states to points --------------------------------------------------------------------------------------

Outcome = tuple[tuple[int, ...], ...]
"""For each thing its state; several where the same setting has been seen to end in several."""


@dataclass(frozen=True, kw_only=True, eq=False)
class _Draft:
    """A table on its way: which things, what decides, the points, and their reduction."""

    gathering: Gathered
    members: tuple[int, ...]
    inputs: tuple[_Input, ...]
    points: Mapping[Point, int]
    outcomes: tuple[Outcome, ...]
    quiet: int
    reduced: Reduced
    derived: tuple[Derived, ...] = ()
    vectors: tuple[Point, ...] = ()

    @property
    def count(self) -> int:
        """Rows in all, the last one too."""
        return len(self.reduced.rows) + 1


def _drafted(gathering: Gathered, members: tuple[int, ...], all_inputs: tuple[_Input, ...], vectors: Sequence[Point]) -> _Draft:
    seen = [tuple(state.seen[m] for m in members) for state in gathering.states]
    inputs, projected = _deciding(all_inputs, vectors, seen)
    ends: dict[Point, set[tuple[int, ...]]] = {}
    for vector, outcome in zip(projected, seen, strict=True):
        ends.setdefault(vector, set()).add(outcome)
    as_outcome = {vector: tuple(tuple(sorted(set(s))) for s in zip(*found, strict=True)) for vector, found in ends.items()}
    outcomes = tuple(sorted(set(as_outcome.values())))
    points = {vector: outcomes.index(outcome) for vector, outcome in as_outcome.items()}
    quiet = _quiet(gathering, members, outcomes, points)
    axes = [found.axis for found in inputs]
    reduced, derived = _reduced(gathering, inputs, axes, points, quiet)
    return _Draft(
        gathering=gathering,
        members=members,
        inputs=inputs,
        points=points,
        outcomes=outcomes,
        quiet=quiet,
        reduced=reduced,
        derived=derived,
        vectors=tuple(projected),
    )


def _deciding(
    inputs: tuple[_Input, ...], vectors: Sequence[Point], seen: Sequence[tuple[int, ...]]
) -> tuple[tuple[_Input, ...], list[Point]]:
    """Leave out what need not be spoken of, the least readable first."""
    order = sorted(range(len(inputs)), key=lambda n: (-WEIGHTS[inputs[n].what], -n))
    kept = list(range(len(inputs)))
    whole = _spread(vectors, seen)
    for place in order:
        fewer = [n for n in kept if n != place]
        if _spread([tuple(v[n] for n in fewer) for v in vectors], seen) == whole or (
            whole == 0 and _decides(vectors, seen, fewer)
        ):
            kept = fewer
    return tuple(inputs[n] for n in kept), [tuple(v[n] for n in kept) for v in vectors]


def _decides(vectors: Sequence[Point], seen: Sequence[tuple[int, ...]], places: Sequence[int]) -> bool:
    known: dict[Point, tuple[int, ...]] = {}
    return all(known.setdefault(tuple(v[n] for n in places), s) == s for v, s in zip(vectors, seen, strict=True))


def _spread(vectors: Sequence[Point], seen: Sequence[tuple[int, ...]]) -> int:
    """How many states share their setting with one of another outcome."""
    ends: dict[Point, set[tuple[int, ...]]] = {}
    for vector, outcome in zip(vectors, seen, strict=True):
        ends.setdefault(vector, set()).add(outcome)
    return sum(len(ends[vector]) > 1 for vector in vectors)


def _quiet(gathering: Gathered, members: Sequence[int], outcomes: Sequence[Outcome], points: Mapping[Point, int]) -> int:
    """The outcome that is left to "otherwise": all at rest, or else the commonest."""
    still = tuple((gathering.things[m].quiet,) for m in members)
    if still in outcomes:
        return outcomes.index(still)
    counts = [sum(found == n for found in points.values()) for n in range(len(outcomes))]
    return counts.index(max(counts))


def _reduced(
    gathering: Gathered, inputs: Sequence[_Input], axes: Sequence[Axis], points: Mapping[Point, int], quiet: int
) -> tuple[Reduced, tuple[Derived, ...]]:
    """Reduce as it stands, then with variables taken together where that saves rows."""
    best, used = reduced_table(axes, points, otherwise=quiet), ()
    if len(best.rows) < 2:
        return best, used
    alike = [
        (a, b)
        for a, b in combinations(range(len(inputs)), 2)
        if inputs[a].what == inputs[b].what == "lever" and _same_scale(gathering, inputs[a].number, inputs[b].number)
    ]
    for candidate in derivations(axes, points, alike):
        together = derived_points(axes, points, candidate)
        if together is None:
            continue
        fewer = reduced_table(together[0], together[1], otherwise=quiet)
        if len(fewer.rows) < len(best.rows) and all(_can_be_said(row, candidate, axes) for row in fewer.rows):
            best, axes, points, used = fewer, together[0], together[1], (*used, candidate)
    return best, used


def _can_be_said(row: Row, derived: Derived, axes: Sequence[Axis]) -> bool:
    """Whether "either" and "both" say what a row allows the lower and the higher of two."""
    if derived.how == "parity":
        return True
    lower, higher = (row.allowed[place] for place in derived.members)
    top = axes[derived.members[0]].size - 1
    return lower == higher or all(0 in values or top in values for values in (lower, higher))


def _same_scale(gathering: Gathered, a: int, b: int) -> bool:
    first, second = gathering.scales[a], gathering.scales[b]
    levers = gathering.plant.network.levers
    one, other = levers[first.lever], levers[second.lever]
    return (one.positions, first.values, first.edges) == (other.positions, second.values, second.edges)


# -- which things share a table ----------------------------------------------------------------------------------


def _tables(gathering: Gathered) -> list[FunctionTable]:
    inputs = _inputs(gathering)
    vectors = [tuple(_value(gathering, state, found) for found in inputs) for state in gathering.states]
    drafts = [_drafted(gathering, members, inputs, vectors) for members in _agreeing(gathering)]
    while (joined := _best_joined(drafts, inputs, vectors)) is not None:
        drafts = joined
    drafts.sort(key=lambda draft: draft.members)
    return [_told(draft) for draft in drafts]


def _agreeing(gathering: Gathered) -> list[tuple[int, ...]]:
    """Things that agree in every state: the one's state tells the other's."""
    classes: list[list[int]] = []
    for place in range(len(gathering.things)):
        for members in classes:
            pairs = {(state.seen[members[0]], state.seen[place]) for state in gathering.states}
            if len({a for a, _ in pairs}) == len({b for _, b in pairs}) == len(pairs):
                members.append(place)
                break
        else:
            classes.append([place])
    return [tuple(members) for members in classes]


def _best_joined(drafts: list[_Draft], inputs: tuple[_Input, ...], vectors: Sequence[Point]) -> list[_Draft] | None:
    best: tuple[int, int, int, _Draft] | None = None
    for a, b in combinations(range(len(drafts)), 2):
        one, other = drafts[a], drafts[b]
        if not set(one.inputs) & set(other.inputs) or len(one.outcomes) * len(other.outcomes) > 2 * MOST_JOINED:
            continue
        both = _drafted(one.gathering, tuple(sorted(one.members + other.members)), inputs, vectors)
        saved = one.count + other.count - both.count
        same = set(one.inputs) == set(other.inputs) == set(both.inputs) and len(both.inputs) <= FEW
        if len(both.outcomes) <= MOST_JOINED and saved > (-1 if same else 0) and (best is None or saved > best[0]):
            best = (saved, a, b, both)
    if best is None:
        return None
    return [draft for n, draft in enumerate(drafts) if n not in best[1:3]] + [best[3]]


# -- into words ------------------------------------------------------------------------------------------------


def _told(draft: _Draft) -> FunctionTable:
    gathering = draft.gathering
    rows = sorted(draft.reduced.rows, key=lambda row: _order(draft, row))
    live = _wants_live(draft, rows) and len(_spoken(draft, rows)) > 1
    spoken = [p for p in _spoken(draft, rows) if not (live and draft.inputs[p].what == "supply")]
    heads = _heads(draft, spoken)
    columns = _thing_columns(draft)
    return FunctionTable(
        columns=tuple(head for _, head in heads),
        things=tuple(head for head, _ in columns),
        rows=tuple(
            FunctionRow(
                tuple(_cell(draft, row, places) for places, _ in heads),
                tuple(_seen_words(draft, row, member) for _, member in columns),
            )
            for row in rows
        ),
        otherwise=tuple(_outcome_word(draft, draft.quiet, member) for _, member in columns),
        live=live,
        exact=draft.reduced.exact,
        sayings=tuple((*_parity_sayings(draft, columns), *_memory_sayings(draft, spoken))),
    )


def _spoken(draft: _Draft, rows: Sequence[Row]) -> list[int]:
    """Inputs that some row does not leave at "any"."""
    return [p for p in range(len(draft.inputs)) if any(len(row.allowed[p]) < _size(draft, p) for row in rows)]


def _size(draft: _Draft, place: int) -> int:
    for derived in draft.derived:
        if derived.how == "parity" and place in derived.members[1:]:
            return 1
    return draft.inputs[place].size


def _order(draft: _Draft, row: Row) -> tuple[object, ...]:
    """The liveliest first, then as the columns have it, "any" last."""
    outcome = draft.outcomes[row.outcome]
    lively = tuple(-max(states) if CHATTERING not in states else -99 for states in outcome)
    cells = tuple((len(v) == _size(draft, p), sorted(v)) for p, v in enumerate(row.allowed))
    return (lively, cells)


def _wants_live(draft: _Draft, rows: Sequence[Row]) -> bool:
    """Whether every row wants just this of the supply, that it is not dead."""
    places = [p for p, found in enumerate(draft.inputs) if found.what == "supply"]
    names = [supply.name for supply in draft.gathering.supplies]
    if not places or "dead" not in names or not rows:
        return False
    alive = frozenset(n for n, name in enumerate(names) if name != "dead")
    return all(row.allowed[places[0]] == alive for row in rows)


def _heads(draft: _Draft, spoken: Sequence[int]) -> list[tuple[tuple[int, ...], str]]:
    """Columns: the places each speaks of, and its heading."""
    heads: list[tuple[tuple[int, ...], str]] = []
    taken: set[int] = set()
    for place in spoken:
        if place in taken:
            continue
        derived = next((d for d in draft.derived if place in d.members), None)
        places = derived.members if derived is not None else (place,)
        taken.update(places)
        heads.append((places, joint_name([_head(draft.gathering, draft.inputs[p]) for p in places])))
    return heads


def _head(gathering: Gathered, found: _Input) -> str:
    if found.what == "supply":
        return "supply"
    if found.what == "lever":
        return crew_name(gathering.plant, gathering.scales[found.number].lever)
    name = gathering.plant.network.variables[found.number].name
    return lowered(name_of(gathering.plant, name.rpartition(".")[0]))


def _cell(draft: _Draft, row: Row, places: Sequence[int]) -> str:
    derived = next((d for d in draft.derived if places[0] in d.members), None)
    if derived is None:
        return _words(draft, places[0], row.allowed[places[0]], row)
    if derived.how == "parity":
        return _parity_cell(draft, derived, row)
    return _pair_cell(draft, row.allowed[places[0]], row.allowed[places[1]], places[0], row)


def _words(draft: _Draft, place: int, values: frozenset[int], row: Row) -> str:
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
    if record.latch is not None and record.latch.release_after is not None and word in ("run", "runs", "running"):
        return "running" if is_set else "run out"
    return word if is_set else f"not {word}"


def _supply_words(gathering: Gathered, values: frozenset[int]) -> str:
    names = [supply.name for supply in gathering.supplies]
    alive = {n for n, name in enumerate(names) if name != "dead"}
    if values == alive and len(alive) > 1:
        return "live"
    return " or ".join(names[n] for n in sorted(values))


def _interval_words(draft: _Draft, place: int, scale: Scale, values: frozenset[int], row: Row) -> str:
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


def _edge(draft: _Draft, place: int, scale: Scale, number: int, row: Row, *, rising: bool) -> str:
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


MOST_SOUGHT = 4
HALVINGS = 9


def _sought(draft: _Draft, place: int, scale: Scale, inside: int, outside: int, row: Row) -> list[float]:
    """Where the row's outcome begins, coming from outside: one value for each of a few neighbouring states."""
    plant, found = draft.gathering.plant, []
    things = tuple(draft.gathering.things[m] for m in draft.members)
    for state, vector in zip(draft.gathering.states, draft.vectors, strict=True):
        beyond = vector[:place] + (inside,) + vector[place + 1 :]
        if vector[place] != outside or draft.points.get(beyond) != row.outcome or draft.points[vector] == row.outcome:
            continue
        if not _covers(draft, row, beyond):
            continue
        low, high = state.memory.levers[scale.lever], scale.values[inside]
        for _ in range(HALVINGS):
            middle = (low + high) / 2
            there = settle(plant.solver, moved(state.memory, {scale.lever: middle}))
            wanted = tuple((s,) for s in seen_in(plant, things, there)) == draft.outcomes[row.outcome]
            low, high = (low, middle) if wanted else (middle, high)
        found.append((low + high) / 2)
        if len(found) >= MOST_SOUGHT:
            break
    return found


def _covers(draft: _Draft, row: Row, vector: Point) -> bool:
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


# -- variables taken together ------------------------------------------------------------------------------------


def _parity_cell(draft: _Draft, derived: Derived, row: Row) -> str:
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


def _position_list(draft: _Draft, place: int) -> tuple[str, str]:
    found = draft.inputs[place]
    if found.what == "lever":
        scale = draft.gathering.scales[found.number]
        if not scale.edges:
            return tuple(position_cell(draft.gathering.plant, scale.lever, (n,)) for n in (0, 1))  # type: ignore[return-value]  two
    whole = Row(tuple(frozenset(range(i.size)) for i in draft.inputs), 0)
    return tuple(_words(draft, place, frozenset({n}), whole) for n in (0, 1))  # type: ignore[return-value]  two


def _parity_sayings(draft: _Draft, columns: Sequence[tuple[str, int]]) -> list[str]:
    said = []
    for derived in draft.derived:
        if derived.how != "parity":
            continue
        names = [_head(draft.gathering, draft.inputs[p]) for p in derived.members]
        what = listed([lowered(head) for head, _ in columns])
        each = "Either" if len(names) == 2 else "Any one"
        said.append(f"{each} of the {joint_name(names)} changes the {what}, however the other{'s' * (len(names) > 2)} "
                    f"stand{'s' * (len(names) == 2)}.")
    return said


def _pair_cell(draft: _Draft, lower: frozenset[int], higher: frozenset[int], place: int, row: Row) -> str:
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


# -- what is seen ----------------------------------------------------------------------------------------------


def _thing_columns(draft: _Draft) -> list[tuple[str, int]]:
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


def _outcome_word(draft: _Draft, outcome: int, member: int) -> str:
    thing = draft.gathering.things[member]
    states = draft.outcomes[outcome][draft.members.index(member)]
    return " or ".join(thing.word(state) for state in reversed(states))


def _seen_words(draft: _Draft, row: Row, member: int) -> str:
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


# -- what is remembered, and what goes wrong ------------------------------------------------------------------------


def _memory_sayings(draft: _Draft, spoken: Sequence[int]) -> list[str]:
    said = []
    for place in spoken:
        found = draft.inputs[place]
        if found.what in ("latch", "coil", "timer"):
            said.append(_memory_saying(draft.gathering, found.number))
    return list(dict.fromkeys(said))


def _causes(gathering: Gathered) -> dict[int, str]:
    """What the crew does to pull in each coil, where that is one row's worth."""
    found: dict[int, str] = {}
    plain = [i for i in _inputs(gathering) if i.what in ("supply", "lever")]
    vectors = [tuple(_value(gathering, state, i) for i in plain) for state in gathering.states]
    for number in gathering.variables:
        if gathering.plant.network.variables[number].what != "coil":
            continue
        seen = [(int(state.memory.variables[number] != 0),) for state in gathering.states]
        if not _decides(vectors, seen, range(len(plain))):
            continue
        points = {vector: outcome[0] for vector, outcome in zip(vectors, seen, strict=True)}
        rows = reduced_table([i.axis for i in plain], points, otherwise=0).rows
        if len(rows) == 1:
            found[number] = _cause(gathering, plain, rows[0])
    return {number: words for number, words in found.items() if words}


def _cause(gathering: Gathered, inputs: Sequence[_Input], row: Row) -> str:
    parts = []
    for found, values in zip(inputs, row.allowed, strict=True):
        if found.what != "lever" or len(values) == found.size:
            continue
        scale = gathering.scales[found.number]
        if scale.edges:
            return ""
        parts.append(stands(gathering.plant, scale.lever, sorted(values)))
    return " and ".join(parts)


def _memory_saying(gathering: Gathered, number: int) -> str:
    plant, causes = gathering.plant, _causes(gathering)
    variable = plant.network.variables[number]
    item = lowered(name_of(plant, variable.name.rpartition(".")[0]))
    if variable.latch is None:
        return f"The {item} depends on what was done before: once pulled in, it may hold itself in."
    rule = variable.latch
    starts = rule.set_on or rule.set
    begins = condition_words(plant, starts, causes=causes) if starts is not None else "it is set by hand"
    if rule.set_after is not None:
        begins = f"{as_written(rule.set_after, 'time')} after {begins}"
    word = _latch_words(plant, number, True)
    own = isinstance(rule.release, StateIs) and rule.release.variable == number
    if rule.release_after is not None and own:
        return f"The {item} is {word} for {as_written(rule.release_after, 'time')} from the moment that {begins}."
    ends = rule.release_on or rule.release
    until = condition_words(plant, ends, causes=causes) if ends is not None else "it is reset by hand"
    if rule.release_after is not None:
        until = f"{as_written(rule.release_after, 'time')} after {until}"
    return f"The {item} is {word} from when {begins}, until {until}."


def _warnings(gathering: Gathered) -> list[str]:
    said = []
    for number, what, names in gathering.events[:MOST_JOINED]:
        if what == "fired":
            continue
        state, plant = gathering.states[number], gathering.plant
        listed_names = listed([lowered(name_of(plant, name)) for name in names if not name.startswith("sensed ")])
        happens = f"{listed_names} blows" if what == "blown" else f"{listed_names} may end either way"
        said.append(f"{_setting(gathering, state)}: {happens}.")
    return said


def _setting(gathering: Gathered, state: State) -> str:
    plant, parts = gathering.plant, []
    for scale in gathering.scales:
        value = state.memory.levers[scale.lever]
        if value != plant.network.levers[scale.lever].start:
            parts.append(stands(plant, scale.lever, (value,)))
    if len(gathering.supplies) > 1:
        parts.append(f"the supply is {gathering.supplies[state.supply].name}")
    return "When " + listed(parts) if parts else "With everything at rest"
