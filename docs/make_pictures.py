"""Draw the pictures of the README and the documents anew.

python3 dev.py run docs/make_pictures.py
"""

from __future__ import annotations

from pathlib import Path

from loomlore.answers.opening import open_dossier
from loomlore.behaviour.operating import operated, read_setting, rest
from loomlore.drawing.painting import write_png
from loomlore.drawing.plates import Said, service_plate
from loomlore.drawing.states import plate_state

ROOT = Path(__file__).parents[1]
FOLDER = Path(__file__).parent / "pictures"
PLATES = {
    "wheel-indicator": {},
    "horn": {"master-switch": "on", "port-wheel": "moving", "port-throttle": 0.1},
}


def main() -> None:
    """Draw them."""
    opened = open_dossier(ROOT / "examples" / "mail-amphibian")
    plant = opened.plant()
    for service, setting in PLATES.items():
        state, words = None, ""
        if setting:
            moves, findings = read_setting(plant, setting)
            assert not findings, findings
            state = plate_state(plant, operated(plant, rest(plant), moves))
            words = ", ".join(f"{name.replace('-', ' ')} {value}" for name, value in setting.items())
        drawn = service_plate(plant, service, said=Said(standard="Mail", setting=words), state=state)
        (FOLDER / f"plate-{service}.png").write_bytes(write_png(drawn.scenes[0], dots_per_inch=96))


if __name__ == "__main__":
    main()
