"""A bench to be spoken to in tests: a small invented dossier in a folder of its own, and a client that is let in."""

from pathlib import Path

from loomlore.bench.guarding import Guard
from loomlore.bench.serving import bench_application
from small_record import PAGE

HOST = "127.0.0.1:8765"
ORIGIN = f"http://{HOST}"

LAMP = """\
[dossier]
format = 1
title  = "A lamp of an invented aeroplane"
supply = "24 V"

[item]
battery   = { kind = "battery", rating = "24 V 20 Ah" }
switch    = { kind = "switch" }
push      = { kind = "push" }
lamp      = { kind = "lamp", rating = "24 V 6 W" }
other     = { kind = "lamp", rating = "24 V 6 W" }
bad-joint = { kind = "heater", rating = "24 V 0.000576 W" }

[service.lamp]
title   = "Lamp"
account = "The switch lights one lamp, the push the other."

[service.lamp.cables]
L1 = { from = "battery.+", to = "switch.1", size = "14/.0076 in", length = "1 m" }
L2 = { from = "switch.2", to = "lamp.1", size = "14/.0076 in", length = "1 m" }
L3 = { from = "lamp.2", to = "earth", size = "14/.0076 in", length = "1 m" }
L4 = { from = "battery.-", to = "earth", size = "14/.0076 in", length = "1 m" }
L5 = { from = "battery.+", to = "push.1", size = "14/.0076 in", length = "1 m" }
L6 = { from = "push.2", to = "other.1", size = "14/.0076 in", length = "1 m" }
L7 = { from = "other.2", to = "earth", size = "14/.0076 in", length = "1 m" }
L8 = { from = "battery.+", to = "bad-joint.1", size = "14/.0076 in", length = "1 m" }

[source]
handbook = { title = "Handbook", nature = "handbook", date = "1937" }

[[statement]]
id     = "lit"
source = "handbook 1"
words  = "The switch lights the lamp."
when   = "switch is on"
then   = "lamp is lit"

[[statement]]
id     = "wrong"
source = "handbook 2"
words  = "The lamp is always out."
when   = "switch is on"
then   = "lamp is out"

[procedure]
light = { title = "Lighting up", steps = [
  { do = { switch = "on" }, see = "lamp is lit" },
  { do = { switch = "off" }, see = "lamp is lit", text = "Switch off." },
] }
"""


def dossier(folder: Path, text: str = PAGE) -> Path:
    """A dossier of one file in a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "page.toml").write_text(text, encoding="utf-8")
    return folder


def guarded(folder: Path) -> tuple[object, Guard]:
    """The application of a dossier, and its door."""
    guard = Guard(hosts=frozenset({HOST, "localhost:8765"}), port=8765)
    return bench_application(folder, guard=guard), guard


def let_in(folder: Path) -> object:
    """A client of the bench that has its cookie."""
    from starlette.testclient import TestClient

    application, guard = guarded(folder)
    client = TestClient(application, base_url=ORIGIN, headers={"Origin": ORIGIN})
    assert client.get(f"/?token={guard.fresh_token()}").status_code == 200
    return client


def drawn(client: object, service: str) -> None:
    """Wait until a service's plate is drawn."""
    for _ in range(100):
        if client.post("/drawn", json={"service": service}).json()["drawn"]:
            return
    raise AssertionError(f"the plate of {service} is not drawn")
