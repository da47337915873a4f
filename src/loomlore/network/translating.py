"""Sentences into conditions: names looked up, positions and states made into numbers.

The words are the record's, the numbers the network's; this module and :mod:`loomlore.network.building` are
the one bridge between them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from loomlore.network.conditions import (
    AllOf,
    AnyOf,
    Condition,
    Constant,
    LeverCompare,
    LeverIs,
    Limits,
    Measured,
    NotSo,
    StateIs,
)
from loomlore.network.model import Branch, Indication, Lever, Variable
from loomlore.record.installation import Installation
from loomlore.record.naming import Reference, Unresolved, resolve
from loomlore.sentences import And, Compare, Holds, Is, Not, Or, Sentence, Test

__all__ = ["Doubt", "Lexicon"]

NO_BINDING = "Say with binds which condition or control it follows."
NO_METER = "Give the scale to an item that has a meter or ratio coils, and at least two points."

OVER_RUN = 3.0
"""A lamp that gives three times its rated light is over-run: 24 V lamps at 33 V."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """A name that stands for nothing here: why, and whether only because it is not fitted."""

    name: str
    message: str
    hint: str
    not_fitted: bool


@dataclass(kw_only=True)
class Lexicon:
    """All names of one network, while it is built and after.

    ``doubts`` gathers the names that could not be found; a test on one is unknown.
    """

    installation: Installation
    levers: list[Lever]
    lever_of: dict[str, int]
    branches: Sequence[Branch]
    branch_of: Mapping[str, int]
    node_of: Mapping[str, int]
    variables: list[Variable]
    variable_of: dict[str, int]
    indications: Sequence[Indication]
    indication_of: Mapping[str, int]
    thresholds: dict[int, set[float]] = field(default_factory=dict)
    doubts: dict[str, Doubt] = field(default_factory=dict)
    _made: dict[tuple[Sentence, str], Condition] = field(default_factory=dict)

    def condition(self, sentence: Sentence | None, *, within: str = "") -> Condition:
        """Translate a sentence; ``within`` an item it sees its kind's own names only."""
        if sentence is None:
            return Constant(True)
        key = (sentence, within)
        if key not in self._made:
            self._made[key] = self._translated(sentence, within)
        return self._made[key]

    def remembered(self, sentence: Sentence | None, *, within: str) -> Condition:
        """Translate a sentence for a contact: what it measures becomes a variable."""
        return self._sensed(self.condition(sentence, within=within))

    def measured(self, condition: Measured) -> Condition:
        """A measured test as a variable, for what depends on it as a contact does."""
        return self._sensed(condition)

    def _translated(self, sentence: Sentence, within: str) -> Condition:
        match sentence:
            case And(parts):
                return AllOf(tuple(self.condition(p, within=within) for p in parts))
            case Or(parts):
                return AnyOf(tuple(self.condition(p, within=within) for p in parts))
            case Not(part):
                return NotSo(self.condition(part, within=within))
            case Holds():
                return self._holds(sentence, within)
            case Is():
                made = self._is(sentence, within)
                return NotSo(made) if sentence.negated else made
            case Compare():
                return self._compare(sentence, within)

    def _find(self, test: Test, within: str) -> Reference | None:
        name = test.measure.name if isinstance(test, Compare) else test.name
        if isinstance(test, Compare):
            sense = "compare" if test.measure.of == "name" else test.measure.of
        else:
            sense = "is" if isinstance(test, Is) else "holds"
        words = test.words if isinstance(test, Is) else ()
        found = resolve(name, self.installation, within=within, sense=sense, words=words)
        if isinstance(found, Unresolved):
            self.doubts[name] = Doubt(name, found.message, found.hint, found.absent_fit)
            return None
        return found

    def _doubt(self, name: str, message: str, hint: str) -> Condition:
        self.doubts[name] = Doubt(name, message, hint, False)
        return Constant(None)

    def _holds(self, test: Holds, within: str) -> Condition:
        found = self._find(test, within)
        if found is None:
            return Constant(None)
        match found.what:
            case "latch":
                return StateIs(self.variable_of[found.id], (1,))
            case "cam":
                return self._cam(found.id)
            case "fit":
                return Constant(found.id in self.installation.fits)
            case _:
                return self._doubt(
                    test.name, f"{test.name!r} is no yes-or-no.", "Write 'is' and a word behind it."
                )

    def _cam(self, name: str) -> Condition:
        item, _, cam = name.rpartition(".")
        return self.condition(self.installation.equipment[item].cams[cam])

    def _is(self, test: Is, within: str) -> Condition:
        found = self._find(test, within)
        if found is None:
            return Constant(None)
        match found.what:
            case "control" | "condition" | "follow":
                if found.id not in self.lever_of:
                    return self._doubt(test.name, f"{found.id!r} follows nothing.", NO_BINDING)
                return self._lever_is(self.lever_of[found.id], test)
            case "fit":
                return Constant((found.id in self.installation.fits) == ("fitted" in test.words))
            case "element":
                return self._element_is(found, test)
            case "group":
                return self._group_is(found, test)
            case "scale":
                values = _chosen(("no-power", "off-scale", "reading"), test)
                number = self.indication_of.get(found.id)
                if number is None:
                    return self._doubt(test.name, f"{test.name!r} is a scale without a meter.", NO_METER)
                return Measured("shown", number, values=values)
            case _:
                return self._doubt(
                    test.name, f"{test.name!r} has no such words.", "Leave out what follows 'is'."
                )

    def _lever_is(self, lever: int, test: Is) -> Condition:
        positions = self.levers[lever].positions
        values = _chosen(positions, test)
        if not values:
            hint = f"Write one of: {', '.join(positions)}." if positions else "Compare it with <, <=, >, >=."
            return self._doubt(test.name, f"{test.name!r} is never {' '.join(test.words)!r}.", hint)
        return LeverIs(lever, values)

    def _element_is(self, found: Reference, test: Is) -> Condition:
        branch = self.branch_of.get(found.id)
        if branch is None:
            return self._doubt(test.name, f"{test.name!r} has no element.", "Name one that conducts.")
        if test.words == ("over-run",):
            volts = getattr(self.branches[branch].law, "volts", 0.0) * OVER_RUN ** (1 / 3.4)
            b = self.branches[branch]
            return AnyOf(
                (
                    Measured("volts", b.a, b.b, limits=((">=", volts),)),
                    Measured("volts", b.a, b.b, limits=(("<=", -volts),)),
                )
            )
        values = _chosen(self.branches[branch].law.states, test)
        memory = self.branches[branch].memory
        if memory >= 0 and len(self.branches[branch].law.states) == 2:
            return StateIs(memory, values)
        return Measured("state", branch, values=values)

    def _group_is(self, found: Reference, test: Is) -> Condition:
        item, _, group = found.id.rpartition(".")
        names = self.installation.equipment[item].groups[group]
        branches = tuple(self.branch_of[f"{item}.{name}"] for name in names)
        values = _chosen(self.branches[branches[0]].law.states, test)
        return Measured("group", branches[0], values=values, group=branches)

    def _compare(self, test: Compare, within: str) -> Condition:
        found = self._find(test, within)
        if found is None:
            return Constant(None)
        limits: Limits = tuple((sign, quantity.value) for sign, quantity in test.limits)
        match found.what:
            case "control" | "condition" | "follow":
                if found.id not in self.lever_of:
                    return self._doubt(found.id, f"{found.id!r} follows nothing.", NO_BINDING)
                lever = self.lever_of[found.id]
                self.thresholds.setdefault(lever, set()).update(value for _, value in limits)
                return LeverCompare(lever, limits)
            case "scale":
                return self._shown(found.id, limits)
            case "terminal":
                return Measured("volts", self.node_of[found.id], 0, limits=limits)
            case "cable" | "element" | "contact":
                name = f"cable:{found.id}" if found.what == "cable" else found.id
                branch = self.branch_of.get(name)
                if branch is None:
                    return self._doubt(
                        found.id, f"{found.id!r} is recorded, not solved.", "Name one that conducts."
                    )
                b = self.branches[branch]
                if test.measure.of == "amps in":
                    return Measured("amps", branch, limits=limits)
                if test.measure.of == "volts across":
                    return Measured("volts", b.a, b.b, limits=limits)
                return self._shown(found.id, limits)
            case _:
                return self._doubt(
                    found.id, f"{found.id!r} has no amount.", "Compare volts, amps, or a range."
                )

    def _shown(self, name: str, limits: Limits) -> Condition:
        for scale, number in self.indication_of.items():
            if scale.startswith(name):
                return Measured("shown", number, limits=limits)
        return self._doubt(name, f"{name!r} shows no number.", "Write 'volts across' or 'amps in' before it.")

    def _sensed(self, condition: Condition) -> Condition:
        match condition:
            case AllOf(parts):
                return AllOf(tuple(self._sensed(p) for p in parts))
            case AnyOf(parts):
                return AnyOf(tuple(self._sensed(p) for p in parts))
            case NotSo(part):
                return NotSo(self._sensed(part))
            case Measured():
                name = f"sensed {condition}"
                if name not in self.variable_of:
                    self.variable_of[name] = len(self.variables)
                    self.variables.append(Variable(name=name, what="sensed", test=condition))
                return StateIs(self.variable_of[name], (1,))
            case _:
                return condition


def _chosen(words: Sequence[str], test: Is) -> tuple[int, ...]:
    """Numbers of the words that a test names, a span counted through."""
    if test.span:
        if test.words[0] in words and test.words[1] in words:
            first, last = words.index(test.words[0]), words.index(test.words[1])
            return tuple(range(min(first, last), max(first, last) + 1))
        return ()
    return tuple(n for n, word in enumerate(words) if word in test.words)
