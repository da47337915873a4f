"""``python3 dev.py demo``: the main job on the large example, as a visitor sees it first.

What is in the record, what is wrong with it, which of the sources' sentences hold, and one procedure played.
"""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path

from loomlore.answers.check import CheckAnswer, check
from loomlore.answers.opening import open_dossier
from loomlore.answers.operate import OperateAnswer, operate
from loomlore.answers.pages import CAUTION, Block, Entry, Heading, Paragraph, Table, as_text
from loomlore.answers.sources import SourcesAnswer, sources
from loomlore.behaviour.proving import VERDICTS

__all__ = ["main"]

EXAMPLE = Path(__file__).parents[2] / "examples" / "mail-amphibian"
PROCEDURE = "cold-start"
SHOWN = 4


def main() -> int:
    """Show the large example.

    Returns
    -------
    int
        An exit code.
    """
    started = time.perf_counter()
    opened = open_dossier(EXAMPLE)
    record = check(opened)
    proofs = sources(
        opened, standard=opened.dossier.header.standard, processes=os.cpu_count() or 1, readings=False
    )
    played = operate(opened, procedure=PROCEDURE)
    blocks = [*_record(record), *_proofs(proofs), *_procedure(played)]
    seconds = time.perf_counter() - started
    print(as_text([*blocks, *_how_to_go_on(seconds)], colour=sys.stdout.isatty()))
    return 0


def _record(record: CheckAnswer) -> list[Block]:
    rows = tuple((what, str(number)) for what, number in record.counts if number)
    blocks: list[Block] = [
        Heading(record.title, 1),
        Paragraph(
            "An invented aeroplane, its makers and documents invented too; all of it typed in as plain text."
        ),
        Table(("in the record", ""), rows, right=(1,)),
        Heading("What is wrong with the record"),
    ]
    blocks += [
        Entry(f.severity.word, f"{f.place}  {f.message}", (f.hint,), "doubt") for f in record.findings[:SHOWN]
    ]
    left = len(record.findings) - SHOWN
    if left > 0:
        blocks.append(Paragraph(f"and {left} more: loomlore check examples/mail-amphibian"))
    return blocks


def _proofs(proofs: SourcesAnswer) -> list[Block]:
    counts = tuple((v.replace("-", " "), str(proofs.count(v))) for v in VERDICTS if proofs.count(v))
    blocks: list[Block] = [
        Heading("Do the sources' sentences hold?"),
        Table(("verdict", "sentences"), counts, right=(1,)),
    ]
    page = proofs.page()
    for mark, most in (("proved", 1), ("proved if", 2), ("contradicted", SHOWN)):
        entries = [b for b in page if isinstance(b, Entry) and b.mark == mark]
        blocks += entries[:most]
    return blocks


def _procedure(played: OperateAnswer) -> list[Block]:
    blocks = [b for b in played.page() if not (isinstance(b, Paragraph) and b.text == CAUTION)]
    end = next(
        (n for n, b in enumerate(blocks) if isinstance(b, Heading) and b.text.startswith("How")), len(blocks)
    )
    return [Heading(f"A procedure, played: {played.title}"), *blocks[2:end]]


def _how_to_go_on(seconds: float) -> list[Block]:
    return [
        Heading("Go on"),
        Paragraph(f"All this took {seconds:.1f} s. Ask more, in the folder of this clone:"),
        Paragraph(".venv/bin/loomlore sources examples/mail-amphibian"),
        Paragraph(".venv/bin/loomlore operate examples/mail-amphibian --set master-switch=on"),
        Paragraph(".venv/bin/loomlore open examples/mail-amphibian    (in the browser, live)"),
        Paragraph("docs/tutorial.md types in a small aeroplane from its handbook page, step by step."),
        Paragraph(CAUTION, quiet=True),
    ]


if __name__ == "__main__":
    sys.exit(main())
