#!/usr/bin/env python3
"""Set loomlore up beside this file, and run it, its tests and its checks.

    python3 dev.py demo               the demonstration, on the invented example
    python3 dev.py run ARGUMENTS      the command loomlore: dev.py run check examples/...
    python3 dev.py test [ARGUMENTS]   every test; arguments go to pytest
    python3 dev.py lint               ruff and mypy, changing nothing
    python3 dev.py format             lay the source out, and mend what can be mended by rule
    python3 dev.py bench [ARGUMENTS]  the benchmarks; arguments go to pytest
    python3 dev.py search [ARGUMENTS] the long random searches; arguments go to pytest
    python3 dev.py setup [run|dev]    only set up: what the tool needs, or what work on it needs
    python3 dev.py pins [--upgrade]   write requirements/ anew from pyproject.toml

The first command makes .venv beside this file and installs into it exactly what requirements/run.txt or
requirements/dev.txt pins, each file checked against its hash. Later ones find that nothing is to do and
start at once; when a pin has changed, .venv is made anew. LOOMLORE_VENV names another folder for it.

Only the standard library is used here, and only syntax that Python 3.6 reads, so that an old Python can
say what is wrong instead of stumbling over this file.
"""

import hashlib
import os
import subprocess
import sys

OLDEST = (3, 11)
if sys.version_info < OLDEST:
    sys.exit(
        f"loomlore needs Python 3.11 or later; this is Python {sys.version_info[0]}.{sys.version_info[1]} "
        f"({sys.executable}).\n"
        "What to do: run this file with a later one, for example: python3.12 dev.py demo"
    )

ROOT = os.path.dirname(os.path.abspath(__file__))
VENV = os.path.abspath(os.environ.get("LOOMLORE_VENV") or os.path.join(ROOT, ".venv"))
WINDOWS = os.name == "nt"
SCRIPTS = os.path.join(VENV, "Scripts" if WINDOWS else "bin")
PYTHON = os.path.join(SCRIPTS, "python.exe" if WINDOWS else "python")
COMMAND = os.path.join(SCRIPTS, "loomlore-script.py" if WINDOWS else "loomlore")

# The stamp says that this script made the folder, for which Python and place, and which pins are in it.
STAMP = os.path.join(VENV, "loomlore-setup.txt")
LAYOUT = "1"  # raise it when a folder made by an earlier dev.py will no longer do

# What a set of pins contains besides itself, so that work on loomlore can also run it.
PIN_SETS = {"run": ["run"], "dev": ["run", "dev"]}

# Settings of pip, and of Python, that would put packages elsewhere, or others than were pinned. Where to
# fetch from (index, proxy, certificates) is the user's business and stays.
UNWANTED_SETTINGS = """
    PIP_BUILD_CONSTRAINT PIP_CONSTRAINT PIP_DRY_RUN PIP_NO_BINARY PIP_NO_DEPS PIP_ONLY_BINARY PIP_PREFIX
    PIP_PYTHON PIP_REPORT PIP_REQUIREMENT PIP_ROOT PIP_TARGET PIP_USER PYTHONHOME PYTHONPATH
""".split()


class Trouble(Exception):
    """Something the person at the keyboard can mend; the message says how."""


# ---- setting up ------------------------------------------------------------------------------------------


def pins_path(pins: str) -> str:
    """Where the pins called `pins` stand."""
    return os.path.join(ROOT, "requirements", pins + ".txt")


def digest(pins: str) -> str:
    """A digest of one file of pins, the same whatever line ends the checkout has."""
    try:
        with open(pins_path(pins), "rb") as file:
            return hashlib.sha256(file.read().replace(b"\r\n", b"\n")).hexdigest()[:32]
    except FileNotFoundError:
        raise Trouble(f"{pins_path(pins)} is missing.\nWhat to do: restore it from the repository.") from None


def place() -> str:
    """What a set-up folder is tied to: scripts in it name their own path, and packages their Python."""
    version = f"{sys.version_info[0]}.{sys.version_info[1]}"
    return " ".join(["made", LAYOUT, version, hashlib.sha256(VENV.encode()).hexdigest()[:16]])


def read_stamp() -> list[str] | None:
    """The lines of the stamp, or None where no folder of ours is."""
    try:
        with open(STAMP, encoding="utf-8") as file:
            return file.read().splitlines()
    except (FileNotFoundError, NotADirectoryError):
        return None


def write_stamp(lines: list[str]) -> None:
    """Write the stamp whole or not at all: an interrupted set-up is never taken for a finished one."""
    with open(STAMP + ".new", "w", encoding="utf-8") as file:
        file.write("\n".join(lines) + "\n")
    os.replace(STAMP + ".new", STAMP)


def set_up(pins: str) -> None:
    """Make the folder hold the set called `pins`; where it already does, return at once."""
    stamp = read_stamp()
    wanted = [f"{name} {digest(name)}" for name in PIN_SETS[pins]]
    current = [place(), *(f"{name} {digest(name)}" for name in PIN_SETS)]
    usable = stamp is not None and stamp[:1] == [place()] and set(stamp) <= set(current)
    if usable and set(wanted) <= set(stamp or ()) and os.path.exists(PYTHON):
        return
    if not usable or not os.path.exists(PYTHON):
        make_venv(stamp)
        stamp = [place()]
    install(pins)
    write_package_links()
    write_stamp([place(), *sorted({*(stamp or ())[1:], *wanted})])


def make_venv(stamp: list[str] | None) -> None:
    """Make the folder anew; one that this script did not make is never touched."""
    if stamp is None and os.path.lexists(VENV) and (not os.path.isdir(VENV) or os.listdir(VENV)):
        raise Trouble(
            f"{VENV} is there, but this script did not make it, and will not change it.\n"
            "What to do: move it away, or name another folder: LOOMLORE_VENV=FOLDER"
        )
    import importlib.util
    import shutil

    if not all(importlib.util.find_spec(module) for module in ("venv", "ensurepip")):
        raise Trouble(
            f"This Python ({sys.executable}) cannot make a virtual environment: "
            "its module venv or ensurepip is missing.\n"
            "What to do: on Debian and Ubuntu, apt install python3-venv; elsewhere install Python whole."
        )
    say(f"making {VENV}")
    if stamp is not None:
        shutil.rmtree(VENV)
    os.makedirs(VENV, exist_ok=True)
    write_stamp(["begun"])
    # the interpreter itself, not one in a virtual environment that may be the very folder just removed
    interpreter = getattr(sys, "_base_executable", None) or sys.executable
    done = subprocess.run([interpreter, "-m", "venv", VENV], env=clean_environment(), check=False)
    if done.returncode:
        raise Trouble(
            "The virtual environment could not be made; the reason stands above.\n"
            "What to do: on Debian and Ubuntu, apt install python3-venv; then run the same command again."
        )


def install(pins: str) -> None:
    """Install one set of pins with plain pip: wheels only, every file checked against its hash."""
    with open(pins_path(pins), encoding="utf-8") as file:
        count = sum(1 for line in file if "==" in line)
    say(f"installing {count} pinned packages, once")
    command = "-m pip install --quiet --quiet --no-input --disable-pip-version-check".split()
    command += ["--require-hashes", "--only-binary", ":all:", "--requirement", pins_path(pins)]
    done = subprocess.run(
        [PYTHON, *command], env=clean_environment(), stderr=subprocess.PIPE, errors="replace", check=False
    )
    if done.returncode:
        sys.stderr.write(done.stderr)
        raise Trouble(advice(done.stderr))


def advice(said: str) -> str:
    """What to do about an installation that failed, from what pip said."""
    if "DO NOT MATCH THE HASHES" in said or "Hashes are required" in said:
        return (
            "A package that was fetched is not the one that was pinned, and was not installed.\n"
            "What to do: look at the mirror that pip is set to (python3 -m pip config list); if all is well "
            "there, restore requirements/ from the repository."
        )
    if "No matching distribution" in said and "from versions: none" not in said:
        return (
            f"A pinned package has no ready-built file for this machine ({sys.platform}) and this Python "
            f"({sys.version_info[0]}.{sys.version_info[1]}).\n"
            "What to do: run this file with Python 3.11, 3.12 or 3.13, for which they all have one."
        )
    if "No space left" in said:
        return "The disk is full.\nWhat to do: free two gigabytes, and run the same command again."
    return (
        "The packages could not be fetched.\n"
        "What to do: see that this machine reaches the network, or set pip to the proxy or mirror that it "
        "has to go through (python3 -m pip config list shows what it is set to); then run the same command "
        "again."
    )


def write_package_links() -> None:
    """Let the folder's Python import the package from src, and put the command loomlore there; no build."""
    import sysconfig

    packages = sysconfig.get_path("purelib", "venv", {"base": VENV, "platbase": VENV})
    source = os.path.join(ROOT, "src")
    if os.path.splitdrive(source)[0] == os.path.splitdrive(packages)[0]:
        # From there to src: plain ASCII even where the path to the tree is not. Older Pythons read the file
        # in the code page of the machine.
        source = os.path.relpath(source, packages)
    with open(os.path.join(packages, "loomlore.pth"), "w", encoding="utf-8") as file:
        file.write(source + "\n")
    lines = ["import sys", "from loomlore.cli import main", "sys.exit(main())"]
    if WINDOWS:
        with open(os.path.join(SCRIPTS, "loomlore.cmd"), "w", encoding="utf-8") as file:
            file.write('@"%~dp0python.exe" "%~dp0loomlore-script.py" %*\n')
    else:
        # A shell starts Python, since a first line of its own may neither be long nor hold a blank.
        lines[:0] = ["#!/bin/sh", f'\'\'\'exec\' "{PYTHON}" "$0" "$@"', "' '''"]
    with open(COMMAND, "w", encoding="utf-8") as file:
        file.write("\n".join(lines) + "\n")
    os.chmod(COMMAND, 0o755)


def clean_environment() -> dict[str, str]:
    """The environment without the settings that would lead an installation astray."""
    return {name: value for name, value in os.environ.items() if name not in UNWANTED_SETTINGS}


def say(text: str) -> None:
    """Say on the error stream what goes on, so that a command's own output stays clean."""
    sys.stderr.write(f"dev.py: {text}\n")
    sys.stderr.flush()


# ---- the commands ----------------------------------------------------------------------------------------


def hand_over(*arguments: str) -> int:
    """Go on as the folder's Python with these arguments; where the system has no such call, wait for it.

    No caller lets Python look for modules in the folder one is in: it may be a dossier from a stranger.
    """
    environment = clean_environment()
    sys.stdout.flush()
    if not WINDOWS:
        os.execve(PYTHON, [PYTHON, *arguments], environment)
    return subprocess.run([PYTHON, *arguments], env=environment, check=False).returncode


def run_module(*arguments: str) -> int:
    """Run a module of the folder's Python and come back; the result is its exit code, 1 if it was killed."""
    sys.stdout.flush()
    code = subprocess.run([PYTHON, "-m", *arguments], env=clean_environment(), check=False).returncode
    return code if code >= 0 else 1


def from_root(arguments: list[str]) -> list[str]:
    """Go to the tree's root, keeping arguments right that name a file from where the command was given."""
    kept = []
    for argument in arguments:
        name, mark, rest = argument.partition("::")
        there = not name.startswith("-") and os.path.exists(name)
        kept.append((os.path.abspath(name) if there else name) + mark + rest)
    os.chdir(ROOT)
    return kept


def demo(arguments: list[str]) -> int:
    """Run the demonstration."""
    set_up("run")
    return hand_over("-P", "-m", "loomlore.demo", *arguments)


def run(arguments: list[str]) -> int:
    """Run the command loomlore, from the folder one is in."""
    set_up("run")
    return hand_over(COMMAND, *arguments)


def test(arguments: list[str]) -> int:
    """Run the tests."""
    set_up("dev")
    return hand_over("-m", "pytest", *from_root(arguments))


def bench(arguments: list[str]) -> int:
    """Run the benchmarks: in their order, one at a time, since they watch ratios within one run."""
    set_up("dev")
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)  # start-up would be timed with every module compiled anew
    return hand_over("-m", "pytest", "-p", "no:randomly", *(from_root(arguments) or ["benchmarks"]))


def search(arguments: list[str]) -> int:
    """Run the long random searches."""
    set_up("dev")
    os.environ["LOOMLORE_HYPOTHESIS"] = "search"
    return hand_over("-m", "pytest", "-m", "search", *from_root(arguments))


def lint(arguments: list[str]) -> int:
    """Check the source: rules, layout and types; all three, so that one sees everything at once."""
    set_up("dev")
    os.chdir(ROOT)
    checks = [["ruff", "check", "."], ["ruff", "format", "--check", "."], ["mypy"]]
    return max(run_module(*check, *arguments) for check in checks)


def tidy(arguments: list[str]) -> int:
    """Mend what ruff can mend by rule, and lay the source out."""
    set_up("dev")
    os.chdir(ROOT)
    changes = [["ruff", "check", "--fix", "--exit-zero", "."], ["ruff", "format", "."]]
    return max(run_module(*change, *arguments) for change in changes)


def only_set_up(arguments: list[str]) -> int:
    """Set up, and nothing else."""
    pins = arguments[0] if arguments else "dev"
    if pins not in PIN_SETS or len(arguments) > 1:
        raise Trouble("setup takes one word: run (what the tool needs) or dev (what work on it needs).")
    set_up(pins)
    say(f"{VENV} holds what requirements/{pins}.txt pins")
    return 0


def renew_pins(arguments: list[str]) -> int:
    """Write requirements/ anew: dev first, then run held to the same versions.

    One file serves every system and Python (markers tell them apart). Neither names a place to fetch from.
    """
    set_up("dev")
    os.chdir(ROOT)
    options = "pip compile pyproject.toml --universal --only-binary :all: --generate-hashes --quiet".split()
    options += ["--no-annotate", "--no-header", "--python-version", f"{OLDEST[0]}.{OLDEST[1]}"]
    for pins, more in [("dev", ["--all-extras"]), ("run", ["--constraint", pins_path("dev")])]:
        if run_module("uv", *options, *more, "--output-file", pins_path(pins), *arguments):
            raise Trouble("The pins could not be worked out; the reason stands above.")
        with open(pins_path(pins), encoding="utf-8") as file:
            if any("://" in line or line.startswith("-") for line in file):
                raise Trouble(
                    f"{pins_path(pins)} now names a place to fetch from, which must not be published.\n"
                    "What to do: find the setting of uv that asks for it, take it out, and renew them again."
                )
    say("requirements/ is written; the next command sets up anew if a pin has changed")
    return 0


COMMANDS = {
    "demo": demo,
    "run": run,
    "test": test,
    "lint": lint,
    "format": tidy,
    "bench": bench,
    "search": search,
    "setup": only_set_up,
    "pins": renew_pins,
}


def main(arguments: list[str]) -> int:
    """Do what the command line asks; the exit code is that of what was run, or 2 for wrong use."""
    if not arguments or arguments[0] in ("help", "-h", "--help"):
        print(__doc__)
        return 0 if arguments else 2
    command = COMMANDS.get(arguments[0])
    if command is None:
        say(f"there is no command {arguments[0]!r}; there are: {', '.join(COMMANDS)}")
        return 2
    try:
        return command(arguments[1:])
    except Trouble as trouble:
        say(str(trouble))
    except OSError as error:
        say(f"{error}\nWhat to do: see that the folder may be written, and that nothing in it is in use.")
    except KeyboardInterrupt:
        say("stopped")
        return 130
    return 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
