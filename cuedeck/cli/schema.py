"""`cuedeck schema`: the JSON Schema of the show file, for editors."""

from __future__ import annotations

import argparse
import json

from cuedeck.cli import exits


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--out", metavar="FILE", help="write it to a file, such as show.schema.json beside the show")


def run(options: argparse.Namespace) -> int:
    """Print the schema, or write it to a file."""
    from pathlib import Path

    from cuedeck.errors import Refusal
    from cuedeck.show.schema import show_schema

    text = json.dumps(show_schema(), indent=2, ensure_ascii=True) + "\n"
    if options.out is None:
        print(text, end="")
        return exits.DONE
    try:
        Path(options.out).write_text(text, encoding="utf-8")
    except (OSError, ValueError) as error:
        reason = (getattr(error, "strerror", None) or str(error)).lower()
        raise Refusal(f"'{options.out}' cannot be written: {reason}") from error
    name = Path(options.out).name
    print(f"{options.out}: beside the show, name it in the first line: # yaml-language-server: $schema={name}")
    return exits.DONE
