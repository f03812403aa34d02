"""`cuedeck check`: what is wrong in a show, where, and what to write instead."""

from __future__ import annotations

import argparse
import json
import sys

from cuedeck.cli import exits
from cuedeck.cli.arguments import add_show


def add_arguments(parser: argparse.ArgumentParser) -> None:
    add_show(parser, may_be_here=True)
    parser.add_argument("--json", action="store_true", help="print the problems as JSON")


def run(options: argparse.Namespace) -> int:
    """Print every problem; the exit code says whether one of them is an error."""
    from cuedeck.folder.folder import ShowFolder
    from cuedeck.show.problems import ProblemsFound, counted

    folder = ShowFolder(options.show)
    try:
        problems = folder.open().problems
    except ProblemsFound as found:
        problems = found.problems
    if options.json:
        rows = [
            {
                "file": problem.place.file,
                "line": problem.place.line,
                "column": problem.place.column,
                "severity": problem.severity.value,
                "what": problem.what,
                "cure": problem.cure,
            }
            for problem in problems
        ]
        print(json.dumps({"show": options.show, "problems": rows}, indent=2))
    else:
        for problem in problems:
            print(problem)
        errors = sum(problem.is_error for problem in problems)
        total = f"{counted(errors, 'error')}, {counted(len(problems) - errors, 'warning')}"
        print(f"{options.show}: {total}", file=sys.stderr)
    return exits.WRONG if any(problem.is_error for problem in problems) else exits.DONE
