"""What no file of the repository may hold: where a machine fetches from, how its folders are called."""

import re
import shutil
import subprocess

import pytest

from architecture.source import ROOT, expect_none

# Written in pieces, so that this file does not hold what it looks for.
REGISTRIES = [
    ".".join(parts)
    for parts in [
        ("pypi", "org"),
        ("pythonhosted", "org"),
        ("npmjs", "org"),
        ("npmjs", "com"),
        ("debian", "org"),
        ("crates", "io"),
        ("golang", "org"),
        ("anaconda", "org"),
    ]
]
_HOST = re.compile(rf"(?<![\w-])({'|'.join(map(re.escape, REGISTRIES))})(?![\w-])", re.IGNORECASE)
_FOLDERS = ["work", "tmp", "farm", "root", "opt", r"home/[\w.-]+", r"Users/[\w.-]+"]
# at the start of a word, so that an address's or a relative path's inner part does not count
_MACHINE_PATH = re.compile(rf"(?<![\w.~}})\]>])(?:[A-Z]:)?[/\\]({'|'.join(_FOLDERS)})[/\\](?=[\w.])")
_INDEX_OPTION = re.compile(r"--(extra-)?ind" + r"ex-url[ =]+\S|--find-" + r"links[ =]+\S")
LOCK_FILE = re.compile(r"(.*/)?(uv\.lock|pylock(\..+)?\.toml)")


def faults(text: str) -> list[str]:
    """What in some text tells where a machine fetches from or keeps its files, each with its line."""
    return [
        f"{number}: {what} ({match.group().strip()})"
        for number, line in enumerate(text.splitlines(), 1)
        for what, pattern in [
            ("a registry's host", _HOST),
            ("a path of one machine", _MACHINE_PATH),
            ("an option that names a place to fetch from", _INDEX_OPTION),
        ]
        for match in pattern.finditer(line)
    ]


@pytest.fixture(scope="module")
def files() -> list[str]:
    """Every file that git knows or would take."""
    if not (ROOT / ".git").exists() or not shutil.which("git"):
        pytest.skip("this tree is no git checkout, or git is not installed")
    command = ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"]
    listed = subprocess.run(command, cwd=ROOT, capture_output=True, check=True).stdout.decode()
    return [name for name in listed.split("\0") if name]


def test_no_file_names_a_registry_or_a_machine(files):
    found = []
    for name in files:
        try:
            text = (ROOT / name).read_text(encoding="utf-8")
        except (UnicodeDecodeError, FileNotFoundError, IsADirectoryError):
            continue  # a picture; or removed, and git not told yet
        found += [f"{name}:{fault}" for fault in faults(text)]
    assert len(files) > 20, "the list of files is far too short to be the tree"
    expect_none(found)


def test_no_lock_file(files):
    expect_none(name for name in files if LOCK_FILE.fullmatch(name))


@pytest.mark.parametrize("host", REGISTRIES)
def test_host_is_found(host):
    assert faults(f"see https://{host}/simple")
    assert faults(f"see FILES.{host.upper()}.")
    assert not faults(f"see {host}anisation, or my{host}")


@pytest.mark.parametrize("folder", ["work", "tmp", "root", "opt", "home/anna", "Users/anna"])
def test_machine_path_is_found(folder):
    assert faults(f"kept in /{folder}/dossiers")
    assert faults(f"'/{folder}/x'")
    assert not faults(f"examples/{folder}/x")
    assert not faults(f"../{folder}/x and ./{folder}/x")


def test_index_option_is_found():
    assert faults("--ind" + "ex-url somewhere")
    assert faults("--extra-ind" + "ex-url=somewhere")
    assert faults("--find-" + "links wheels")


def test_several_faults_are_all_told():
    told = faults(f"a\n/{'tmp'}/x {REGISTRIES[0]}\n{REGISTRIES[1]}")
    assert [fault.partition(":")[0] for fault in told] == ["2", "2", "3"]


@pytest.mark.parametrize("name", ["uv.lock", "sub/uv.lock", "pylock.toml", "pylock.dev.toml"])
def test_lock_file_is_known(name):
    assert LOCK_FILE.fullmatch(name)


def test_other_files_are_not():
    assert not LOCK_FILE.fullmatch("examples/lock.toml")
