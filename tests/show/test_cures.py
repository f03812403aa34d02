"""Cures are tried: each word of two whole shows is spoilt, what the cure says is written, and the problem goes."""

from __future__ import annotations

import errno
import json
import os
import re
from collections.abc import Iterator

import pytest
import yaml

from cuedeck.show.problems import Place, Problem, ProblemsFound
from cuedeck.timeline.opening import open_show
from tests.show.mutations import WHOLE, Files

_WRITE = re.compile(r"write(?: it as| it with a point:)? '([^']*)'(?: instead)?")
_SUCH_AS = re.compile(r"write [^',]+ such as (?:'([^']+)'|([^,']+?))(?:,| or |$).*")


def opened(files: Files) -> tuple[Problem, ...]:
    def read(name: str) -> bytes:
        if name not in files:
            raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT))
        return files[name]

    try:
        return open_show(read).problems
    except ProblemsFound as found:
        return found.problems


def scalars(text: str) -> Iterator[tuple[int, int, str]]:
    for token in yaml.scan(text, Loader=yaml.CSafeLoader):
        if isinstance(token, yaml.ScalarToken) and token.value:
            yield token.start_mark.index, token.end_mark.index, token.value


def spoilt(word: str) -> Iterator[str]:
    """Yield a word with slips of the hand, without its unit, with a wrong unit, and with a comma for its point."""
    middle = len(word) // 2
    if len(word) > 4:
        yield word[:middle] + word[middle + 1 :]
        yield word[: middle - 1] + word[middle] + word[middle - 1] + word[middle + 1 :]
        yield word.upper()
    if re.search(r"\d", word):
        yield re.sub(r"\s*[A-Za-z%]+$", "", word)
        yield re.sub(r"[A-Za-z%]+$", "furlong", word)
        yield word.replace(".", ",")


def written(word: str) -> str:
    return word if re.fullmatch(r"[A-Za-z\d][\w .%/+-]*", word) else json.dumps(word)


def mended(text: str, place: Place, cure: str) -> str | None:
    """Return a text with what a cure says written where the problem is; None where that takes a person."""
    lines = text.split("\n")
    index = sum(len(line) + 1 for line in lines[: place.line - 1]) + place.column - 1
    spot = next((one for one in scalars(text) if one[0] == index), None)
    says = _WRITE.fullmatch(cure) or _SUCH_AS.fullmatch(cure)
    if spot is None or says is None:
        return None
    new = says[1] or says[2]
    return f"{text[:index]}{written(new)}{text[spot[1] :]}"


@pytest.mark.parametrize("files", WHOLE, ids=["demo", "every key"])
def test_what_a_cure_says_takes_the_problem_away(files: Files) -> None:
    tried = 0
    for name in (name for name in files if name.endswith(".yaml")):
        text = files[name].decode()
        for start, end, word in list(scalars(text))[::5]:
            for wrong in dict.fromkeys(spoilt(word)):
                broken = f"{text[:start]}{written(wrong)}{text[end:]}"
                for problem in opened({**files, name: broken.encode()}) if wrong != word else ():
                    assert "''" not in problem.cure, problem
                    new = mended(broken, problem.place, problem.cure) if problem.place.file == name else None
                    if new is not None:
                        tried += 1
                        after = opened({**files, name: new.encode()})
                        assert problem not in after, f"{word} as {wrong}: {problem}"
    assert tried > 100


@pytest.mark.parametrize(
    ("number", "cure"),
    [
        (errno.ENOENT, "write the path of a "),
        (errno.EISDIR, "write the path of a "),
        (errno.ENAMETOOLONG, "write the path of a "),
        (errno.EACCES, "look at who may read the file"),
        (errno.EPERM, "look at who may read the file"),
        (errno.ELOOP, "put the file itself there"),
        (errno.EIO, "see whether another program can open it"),
    ],
)
@pytest.mark.parametrize("line", ["include: [a.yaml]", 'shots: {"1": {move: a.csv}}'])
def test_a_file_that_cannot_be_read_has_the_cure_of_the_reason(line: str, number: int, cure: str) -> None:
    def read(name: str) -> bytes:
        if name == "show.yaml":
            return f"cuedeck: 2\n{line}\n".encode()
        raise OSError(number, os.strerror(number))

    (problem,) = open_show(read).errors
    assert os.strerror(number).lower() in problem.what
    assert problem.cure.startswith(cure)


@pytest.mark.parametrize("head", ["time s,,", ",,", "time s, ,slide mm"])
def test_a_table_without_names_is_never_told_to_choose_among_nothing(head: str) -> None:
    show = b'cuedeck: 2\nshots: {"1": {move: {file: a.csv, columns: {Time: time s, Slide: slide mm}}}}\n'
    files = {"show.yaml": show, "a.csv": f"{head}\n0,0,0\n1,1,1\n".encode()}
    problems = open_show(files.__getitem__).errors
    assert problems
    assert all("''" not in problem.cure and "' '" not in problem.cure for problem in problems)
