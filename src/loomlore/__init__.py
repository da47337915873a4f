"""loomlore: one written record of a historic aircraft's electrical installation, proved by computation.

The public names of the package are listed in ``_EXPORTS``, each with the module that defines it. A module is
read only when one of its names is asked for: ``import loomlore`` costs next to nothing, whatever the package
grows to. Nothing inside the package imports this module.
"""

from importlib import import_module
from typing import Any

from loomlore.version import VERSION

__version__ = VERSION

# public name -> the module that defines it; in the order of the alphabet
_EXPORTS: dict[str, str] = {
    "cables": "loomlore.answers.cables",
    "cards": "loomlore.answers.cards",
    "check": "loomlore.answers.check",
    "draw": "loomlore.answers.draw",
    "functions": "loomlore.answers.functions",
    "import_list": "loomlore.answers.bring",
    "loads": "loomlore.answers.loads",
    "locate": "loomlore.answers.locate",
    "new": "loomlore.answers.start",
    "open_dossier": "loomlore.answers.opening",
    "operate": "loomlore.answers.operate",
    "sources": "loomlore.answers.sources",
    "study_faults": "loomlore.answers.faults",
}

__all__ = ["__version__", *_EXPORTS]  # noqa: PLE0604 - the keys are strings, as their type says


def __getattr__(name: str) -> Any:
    """The public object called `name`, from the module that defines it."""
    if name not in _EXPORTS:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(import_module(_EXPORTS[name]), name)
    globals()[name] = value  # found at once the next time
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *_EXPORTS})
