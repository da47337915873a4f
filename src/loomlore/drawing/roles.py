"""What every conductor is, computed from the record.

Method: reachability over the network's branches, contacts possibly closed. In this order, first come first
served:

* return: from the airframe (or, where no pole is earthed, the battery's far pole) over cables, joints and
  bonds;
* battery: from a battery's live pole over the same, no fuse and no contact passed;
* fused: behind a fuse, on the way to which only such contacts lie as the standing presumptions close (the
  master), or as stand closed in the supply itself (a battery link);
* switched: with any contact, but those that only a generator's own volts close;
* generated: from a generator, a magneto, or the ground supply, with any contact;
* return again: from the airframe with any contact (a lamp switched in its return);
* what is left but joined through a load takes the role of its supply; what is left then is never live.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from loomlore.behaviour.operating import Moves, operated, read_setting, rest
from loomlore.drawing.composing import selector_groups
from loomlore.network.building import Plant
from loomlore.network.model import Branch
from loomlore.record.equipment import Equipment
from loomlore.record.installation import Installation
from loomlore.sentences import And, Compare, Is, Sentence, tests_of

__all__ = ["Roles", "home_services", "roles"]

_WIRES = frozenset({"cable", "joint", "bond", "bolt"})
_THROUGH = frozenset({"conductor", "rheostat", "rectifier", "suppressor"})
_MACHINES = frozenset({"generator", "magneto"})


@dataclass(frozen=True)
class Roles:
    """The role of every node of a plant by name, and which contacts are closed at rest."""

    of_node: dict[str, str]
    shut: dict[str, bool]

    def shut_in(self, item: str) -> dict[str, bool]:
        """Return the contacts of an item by their short names."""
        start = f"{item}."
        return {
            name.removeprefix(start): closed for name, closed in self.shut.items() if name.startswith(start)
        }


def roles(plant: Plant) -> Roles:
    """Compute the role of every node.

    Parameters
    ----------
    plant : Plant
        The installation in one standard of fit, with its network.

    Returns
    -------
    Roles
        Keys of ``looks.ROLES`` by node name; contacts as they stand at rest.
    """
    still = rest(plant).solution
    moves = _presumed(plant)
    standing = operated(plant, rest(plant), moves).solution
    shut = {
        b.name: still.closed(n)
        for n, b in enumerate(plant.network.branches)
        if b.sort in ("contact", "joint")
    }
    supply = _supply_items(plant.installation)
    usual = {
        b.name: standing.closed(n) and (b.sort != "contact" or b.item in supply or not still.closed(n))
        for n, b in enumerate(plant.network.branches)
    }
    reach = _Reach(plant, usual)
    return Roles({name: reach.role(node) for name, node in plant.network.node_of.items()}, shut)


def home_services(joined: Installation) -> dict[str, str]:
    """Return the service that most cables of each item belong to; the first of equals.

    Parameters
    ----------
    joined : Installation
        The record in one standard of fit.

    Returns
    -------
    dict of str to str
        By item.
    """
    counts: dict[str, dict[str, int]] = defaultdict(lambda: defaultdict(int))
    for cable in joined.dossier.cables.values():
        for end in (cable.from_, cable.to):
            counts[end.partition(".")[0]][cable.service] += 1
    return {item: max(many, key=lambda service: many[service]) for item, many in counts.items()}


def _supply_items(joined: Installation) -> set[str]:
    """Return items of services without a feed: there a closed switch is the usual state."""
    services = joined.dossier.services
    return {
        item for item, home in home_services(joined).items() if home in services and not services[home].feed
    }


def _presumed(plant: Plant) -> Moves:
    """Read what the dossier's standing presumption sets: only plain ``x is y`` joined by "and" can be set."""
    given = plant.installation.dossier.header.given
    setting = {test.name: test.words[0] for test in _settable(given)}
    return read_setting(plant, setting)[0]


def _settable(sentence: Sentence | None) -> Iterable[Is]:
    parts = sentence.parts if isinstance(sentence, And) else (sentence,)
    for part in parts:
        if isinstance(part, Is) and not part.negated and len(part.words) == 1 and not part.span:
            yield part


class _Reach:
    """The reachability of one plant, pass by pass."""

    def __init__(self, plant: Plant, usual: dict[str, bool]) -> None:
        self.plant = plant
        self.usual = usual
        self.edges: dict[int, list[tuple[int, Branch]]] = {}
        for branch in plant.network.branches:
            self.edges.setdefault(branch.a, []).append((branch.b, branch))
            self.edges.setdefault(branch.b, []).append((branch.a, branch))
        self.groups = {
            f"{item}.{name}": f"{item}.{end}"
            for item, equipment in plant.installation.equipment.items()
            for end, names in selector_groups(equipment)
            for name in names
        }
        self.found: dict[int, str] = {}
        self._passes()

    def role(self, node: int) -> str:
        """Return a node's role."""
        return self.found.get(node, "never")

    def _passes(self) -> None:
        live, far, machines = self._poles()
        earthed = self.plant.installation.dossier.header.earthed
        home = {0} if earthed != "none" else far
        self._spread("return", home, self._is_wire)
        self._spread("battery", live, lambda b: self._is_wire(b) or self._is_through(b))
        self._spread("usual", live, lambda b: b.sort != "fuse" and self._is_usual(b))
        self._spread("fused", self._behind_fuses(), self._is_usual)
        self.found = {node: "switched" if role == "usual" else role for node, role in self.found.items()}
        self._spread("switched", live, self._is_possible)
        self._spread("generated", machines, self._is_possible)
        self._spread("return", home, self._is_possible)
        for role in ("fused", "switched", "generated"):
            starts = {node for node, known in self.found.items() if known == role}
            self._spread(role, starts, lambda b: b.sort != "contact" or self._is_possible(b))

    def _spread(self, role: str, starts: Iterable[int], passes: Callable[[Branch], bool]) -> None:
        """Give a role to all that is reached and has none.

        A selector passes one of its contacts on any one path.
        """
        ahead: list[tuple[int, frozenset[str]]] = [(node, frozenset()) for node in starts]
        seen: dict[int, list[frozenset[str]]] = {}
        while ahead:
            node, used = ahead.pop()
            if any(known <= used for known in seen.get(node, ())):
                continue
            seen.setdefault(node, []).append(used)
            if self.found.get(node) == "return" and role != "return":
                continue
            self.found.setdefault(node, role)
            for other, branch in self.edges.get(node, ()):
                group = self.groups.get(branch.name, "")
                if passes(branch) and not (group and group in used):
                    ahead.append((other, used | {group} if group else used))

    def _behind_fuses(self) -> set[int]:
        fuses = [branch for branch in self.plant.network.branches if branch.sort == "fuse"]
        pairs = [pair for fuse in fuses for pair in ((fuse.a, fuse.b), (fuse.b, fuse.a))]
        return {far for near, far in pairs if self.found.get(near) in ("battery", "usual")}

    def _poles(self) -> tuple[set[int], set[int], set[int]]:
        """Return the batteries' live poles, their far poles, and the live poles of other sources."""
        live: set[int] = set()
        far: set[int] = set()
        machines: set[int] = set()
        positive_earth = self.plant.installation.dossier.header.earthed == "positive"
        for branch in self.plant.network.branches:
            law = self._law(branch)
            pole, other = (branch.b, branch.a) if positive_earth else (branch.a, branch.b)
            if law in _MACHINES or (law == "battery" and self._is_ground_supply(branch)):
                machines.add(pole)
            elif law == "battery":
                live.add(pole)
                far.add(other)
        return live, far, machines

    def _equipment(self, branch: Branch) -> Equipment | None:
        return self.plant.installation.equipment.get(branch.item)

    def _law(self, branch: Branch) -> str:
        equipment = self._equipment(branch)
        if equipment is None or branch.sort not in ("element", "fuse"):
            return ""
        element = equipment.elements.get(branch.name.removeprefix(f"{branch.item}."))
        return element.law if element is not None else ""

    def _is_ground_supply(self, branch: Branch) -> bool:
        """A battery behind a plug of its own kind is the trolley's."""
        equipment = self._equipment(branch)
        return equipment is not None and bool(equipment.controls)

    def _is_wire(self, branch: Branch) -> bool:
        if branch.sort == "joint":
            return self.usual.get(branch.name, True)
        return branch.sort in _WIRES or (branch.sort == "contact" and branch.closed is None)

    def _is_through(self, branch: Branch) -> bool:
        law = self._law(branch)
        if law == "meter":
            element = self.plant.installation.equipment[branch.item].elements[branch.name.partition(".")[2]]
            return "current" in element.rating
        return law in _THROUGH and not self._is_shunt_coil(branch)

    def _is_shunt_coil(self, branch: Branch) -> bool:
        """A regulator's or cut-out's coil is a load, though the record has it as a plain resistance."""
        equipment = self._equipment(branch)
        ends = {branch.a, branch.b}
        return (
            equipment is not None
            and equipment.symbol in ("regulator", "cut-out")
            and bool(ends & {self.plant.network.node_of.get(f"{branch.item}.E", -1), 0})
        )

    def _is_usual(self, branch: Branch) -> bool:
        if branch.sort == "contact" and branch.closed is not None:
            return self.usual[branch.name] and not self._is_own_volts(branch)
        return self._is_wire(branch) or self._is_through(branch) or branch.sort == "fuse"

    def _is_possible(self, branch: Branch) -> bool:
        if branch.sort == "contact":
            return not self._is_own_volts(branch)
        return (
            branch.sort == "joint"
            or self._is_wire(branch)
            or self._is_through(branch)
            or branch.sort == "fuse"
        )

    def _is_own_volts(self, branch: Branch) -> bool:
        """A cut-out's contact: closed by a latch that measures volts."""
        equipment = self._equipment(branch)
        if equipment is None:
            return False
        contact = equipment.contacts.get(branch.name.removeprefix(f"{branch.item}."))
        names = (
            [getattr(t, "name", "") for t in tests_of(contact.closed)] if contact and contact.closed else []
        )
        latches = [equipment.latches[name] for name in names if name in equipment.latches]
        tests = [t for latch in latches if latch.set is not None for t in tests_of(latch.set)]
        return any(isinstance(test, Compare) and test.measure.of.startswith("volts") for test in tests)
