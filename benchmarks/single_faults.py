"""Every single fault of an installation, as cases."""

from random import Random

from loomlore.network.cases import Case, bridged, opened, shorted, stuck_closed
from loomlore.network.model import Network


def single_faults(network: Network) -> list[Case]:
    """Each branch open, each contact stuck closed, each node to earth, each cable to its neighbour in a loom."""
    cases = [opened(network, n) for n in range(len(network.branches))]
    cases += [stuck_closed(network, n) for n, b in enumerate(network.branches) if b.closed is not None]
    cases += [shorted(network, node) for node in range(1, len(network.node_names))]
    return cases + neighbours_bridged(network)


def neighbours_bridged(network: Network) -> list[Case]:
    """Bridges of loom neighbours: the next cable mostly, now and then one of another service."""
    random = Random("looms")
    cables = [b for b in network.branches if b.sort == "cable"]
    cases = []
    for place, cable in enumerate(cables):
        other = cables[(place + random.choice((1, 1, 2, 7))) % len(cables)]
        if cable.b and other.b and cable.b != other.b:
            cases.append(bridged(network, cable.b, other.b))
    return cases
