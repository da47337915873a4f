"""Write docs/schemas/*.json from the shapes of the answers; a test holds the files to what this makes.

python3 dev.py run docs/make_schemas.py
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter

from loomlore.answers import shapes

FOLDER = Path(__file__).parent / "schemas"

ANSWERS = {name.removesuffix("Data").lower(): getattr(shapes, name) for name in shapes.__all__ if name in {
    "CheckData", "OperateData", "SourcesData", "FunctionsData", "CablesData", "LoadsData", "FaultsData",
    "DrawData", "ImportData", "LocateData", "CardsData", "EnteredData",
}}  # fmt: skip


def schemas() -> dict[str, dict[str, Any]]:
    """JSON Schema of every answer, by file name."""
    made = {}
    for name, shape in ANSWERS.items():
        schema = TypeAdapter(shape).json_schema()
        schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
        made[f"{name}.json"] = schema
    return made


def main() -> None:
    """Write them."""
    FOLDER.mkdir(exist_ok=True)
    for name, schema in schemas().items():
        (FOLDER / name).write_text(json.dumps(schema, indent=2, sort_keys=True) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
