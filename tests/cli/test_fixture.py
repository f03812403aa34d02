"""`cuedeck fixture` as a user runs it, on sound GDTF files and on hostile ones. Nothing is ever unpacked to disk."""

from __future__ import annotations

import io
import os
import random
import re
import struct
import subprocess
import sys
import zipfile
import zlib
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest

from cuedeck.cli.main import main
from cuedeck.errors import Refusal
from cuedeck.folder.folder import ShowFolder
from cuedeck.folder.gdtf_file import MOST_ENTRIES, read_archive
from cuedeck.folder.types_file import add_types_file, types_path
from cuedeck.rig.gdtf.fixture_types import GdtfRefused, import_type
from cuedeck.rig.types import types_file_text
from cuedeck.show.source import read_source
from tests.rig.gdtf.gdtf_files import RICH, archive, channel, channel_set, description, function, mode, write_gdtf

ROOT = Path(__file__).parents[2]
MUTATIONS = int(os.environ.get("CUEDECK_MUTATIONS", "600"))
CHUNK = 100
MOST_MEMORY_BYTES = 700_000_000
"""Of the whole process, as the system counts it, for the most expensive files that fit the limits."""


@pytest.fixture
def show(tmp_path: Path) -> Path:
    folder = tmp_path / "show"
    folder.mkdir()
    (folder / "show.yaml").write_text("cuedeck: 2   # ours\n", encoding="utf-8")
    return folder


def refused(path: Path) -> str:
    with pytest.raises(Refusal) as caught:
        import_type(read_archive(path), str(path))
    return str(caught.value)


# --- What the command does ---


def test_show_prints_the_modes_and_writes_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = write_gdtf(tmp_path)
    assert main(["fixture", "show", str(path), "--mode", "Full 16 bit"]) == 0
    printed = capsys.readouterr()
    assert printed.out.splitlines()[:7] == [
        "Tallow 4, Osier Works (GDTF 1.2)",
        "",
        "mode 'Full 16 bit': 19 slots",
        "  slots  channel                             default        snap   ranges",
        "  1-2    intensity 16-bit",
        "  3      red                                 value 255",
        "  4      green",
    ]
    assert "note: emitter 'UV' has no measured colour and is left out\n" in printed.err
    assert list(tmp_path.iterdir()) == [path]


def test_import_writes_a_types_file_that_reads_back(
    show: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = write_gdtf(tmp_path)
    assert main(["fixture", "import", str(path), "--into", str(show), "--name", "cell wash"]) == 0
    out = capsys.readouterr().out
    assert "types/cell-wash.yaml: cell wash, 'Full 16 bit' 19 slots, 'Cells' 10 slots, '1' 1 slot\n" in out
    assert "types/cell-wash.yaml" in out.splitlines()[-1]
    text = (show / "types" / "cell-wash.yaml").read_text(encoding="utf-8")
    assert text.splitlines()[:2] == [
        f"# From the GDTF file '{path.name}', data version 1.2: Tallow 4 by Osier Works.",
        "# Slots: 'Full 16 bit' 19 slots, 'Cells' 10 slots, '1' 1 slot.",
    ]
    types = read_source("types.yaml", text.encode()).data["types"]
    assert types == {"cell wash": import_type(RICH, "f").description}
    assert [one.name for one in (show / "types").iterdir()] == ["cell-wash.yaml"]


def test_a_types_file_is_written_over_only_when_asked(
    show: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = write_gdtf(tmp_path)
    words = ["fixture", "import", str(path), "--into", str(show)]
    assert main(words) == 0
    (show / "types" / "tallow-4.yaml").write_text("mine", encoding="utf-8")
    assert main(words) == 1
    assert "this file is there already; give --name NAME, or --replace to write over it" in capsys.readouterr().err
    assert (show / "types" / "tallow-4.yaml").read_text(encoding="utf-8") == "mine"
    assert main([*words, "--replace", "--mode", "1"]) == 0
    assert "- intensity" in (show / "types" / "tallow-4.yaml").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("", ["types/tallow-4.yaml"]),
        ("include:\n", ["types/tallow-4.yaml"]),
        ("include: []\n", ["types/tallow-4.yaml"]),
        ("include: looks.yaml\n", ["looks.yaml", "types/tallow-4.yaml"]),
        ("include: [looks.yaml]  # mine\n", ["looks.yaml", "types/tallow-4.yaml"]),
        ("include:\n  - looks.yaml\n  # mine\ntitle: a\n", ["looks.yaml", "types/tallow-4.yaml"]),
        ("include: [types/tallow-4.yaml]\n", ["types/tallow-4.yaml"]),
        ("include: types/tallow-4.yaml\n", "types/tallow-4.yaml"),
        ("include: ./types/tallow-4.yaml\n", "./types/tallow-4.yaml"),
        ("include: [looks/../types//tallow-4.yaml]\n", ["looks/../types//tallow-4.yaml"]),
    ],
)
def test_the_show_includes_the_types_file_and_keeps_the_rest_of_its_text(
    before: str, after: object, show: Path, tmp_path: Path
) -> None:
    text = f"cuedeck: 2   # ours\n{before}"
    (show / "show.yaml").write_text(text, encoding="utf-8")
    assert main(["fixture", "import", str(write_gdtf(tmp_path)), "--into", str(show)]) == 0
    written = (show / "show.yaml").read_bytes()
    assert read_source("show.yaml", written).data["include"] == after
    assert written.startswith(b"cuedeck: 2   # ours\n")
    assert (b"# mine" in written) == ("# mine" in before)


def test_a_show_whose_include_is_odd_is_left_alone_and_no_types_file_is_written(
    show: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    odd = "cuedeck: 2\ninclude: {a: b}\n"
    (show / "show.yaml").write_text(odd, encoding="utf-8")
    assert main(["fixture", "import", str(write_gdtf(tmp_path)), "--into", str(show)]) == 1
    assert (show / "show.yaml").read_text(encoding="utf-8") == odd
    assert "'include' in the show is no list of files" in capsys.readouterr().err
    assert not (show / "types").exists()


def test_a_type_that_the_show_has_already_is_not_taken_over(
    show: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = "cuedeck: 2\ntypes: {lamp: {channels: [intensity]}}\n"
    (show / "show.yaml").write_text(text, encoding="utf-8")
    assert main(["fixture", "import", str(write_gdtf(tmp_path)), "--into", str(show), "--name", "lamp"]) == 1
    assert "the show has a type 'lamp' already, at show.yaml:2:9: give --name NAME" in capsys.readouterr().err
    assert not (show / "types").exists()


@pytest.mark.parametrize("name", ["", "  ", "a\x1bb", "x" * 81])
def test_a_name_that_a_show_cannot_use_is_refused(
    name: str, show: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["fixture", "import", str(write_gdtf(tmp_path)), "--into", str(show), "--name", name]) == 1
    assert "the name of a type cannot be" in capsys.readouterr().err
    assert not (show / "types").exists()


def test_importing_where_no_show_is_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["fixture", "import", str(write_gdtf(tmp_path)), "--into", str(tmp_path)]) == 1
    assert "there is no show.yaml in" in capsys.readouterr().err


def test_importing_outside_of_a_show_says_how_to_name_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["fixture", "import", str(write_gdtf(tmp_path))]) == 1
    assert "there is no show in the current folder: add --into SHOW" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("name", "path"),
    [
        ("Cell Wash 4", "types/cell-wash-4.yaml"),
        ("../../etc/passwd", "types/etc-passwd.yaml"),
        ("ランプ", "types/fixture.yaml"),
    ],
)
def test_the_name_of_a_types_file_stays_in_its_folder(name: str, path: str) -> None:
    assert types_path(name) == path


def test_a_types_folder_that_leads_out_of_the_show_is_not_written_to(show: Path, tmp_path: Path) -> None:
    (tmp_path / "outside").mkdir()
    (show / "types").symlink_to(tmp_path / "outside")
    with pytest.raises(Refusal, match="this path leads out of the show folder"):
        add_types_file(ShowFolder(show), "a", "x", replace=True)
    assert list((tmp_path / "outside").iterdir()) == []


# --- Hostile archives ---


def raw_archive(*entries: tuple[zipfile.ZipInfo | str, bytes]) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as file:
        for info, content in entries:
            file.writestr(info, content)
    return packed.getvalue()


def link() -> zipfile.ZipInfo:
    info = zipfile.ZipInfo("wheels")
    info.external_attr = 0o120777 << 16
    return info


def marked_encrypted() -> bytes:
    raw = bytearray(archive({"description.xml": RICH}))
    for signature, at in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        raw[raw.index(signature) + at] |= 1
    return bytes(raw)


def with_two_descriptions() -> bytes:
    raw = raw_archive(("description.xml", RICH), ("description.xmk", RICH))
    return raw.replace(b"description.xmk", b"description.xml")


def claiming_to_be_small(content: bytes) -> bytes:
    """Return an archive whose headers say that a large description is ten bytes long."""
    raw = bytearray(archive({"description.xml": content}))
    for signature, at in ((b"PK\x03\x04", 22), (b"PK\x01\x02", 24)):
        start = raw.index(signature) + at
        raw[start : start + 4] = struct.pack("<I", 10)
    return bytes(raw)


DESCRIPTION = ("description.xml", RICH)


UNSOUND = (
    (b"", "this is no sound zip archive"),
    (b"no archive at all", "this is no sound zip archive"),
    (RICH, "this is no sound zip archive"),
    (raw_archive(("thumbnail.png", b"")), "the archive has no description.xml at its root"),
    (raw_archive(("inside/description.xml", RICH)), "the archive has no description.xml at its root"),
    (raw_archive(DESCRIPTION, ("/etc/x", b"")), "the entry '/etc/x' has a path that leads out"),
    (raw_archive(DESCRIPTION, ("wheels/../../x", b"")), "has a path that leads out"),
    (raw_archive(DESCRIPTION, ("..\\x", b"")), "has a path that leads out"),
    (raw_archive(DESCRIPTION, ("C:\\x", b"")), "has a path that leads out"),
    (raw_archive(DESCRIPTION, (link(), b"/etc")), "the entry 'wheels' is a link"),
    (with_two_descriptions(), "the archive has two entries 'description.xml'"),
    (marked_encrypted(), "the entry 'description.xml' is encrypted"),
    (archive({"description.xml": RICH}, zipfile.ZIP_LZMA), "packed in an unusual way"),
    (archive({"description.xml": RICH}, zipfile.ZIP_BZIP2), "packed in an unusual way"),
    (raw_archive(DESCRIPTION, *((f"e{n}", b"") for n in range(MOST_ENTRIES))), "more than 2,000 entries"),
    (archive({"description.xml": bytes(11_000_000)}), "the description is larger than 10 MB unpacked"),
    (claiming_to_be_small(RICH), "this is no sound zip archive"),
    (archive({"description.xml": RICH})[:-40], "this is no sound zip archive"),
)


@pytest.mark.parametrize(("content", "words"), UNSOUND, ids=[words for _, words in UNSOUND])
def test_an_archive_that_is_not_sound_is_refused_with_its_name_and_cause(
    content: bytes, words: str, tmp_path: Path
) -> None:
    path = tmp_path / "odd.gdtf"
    path.write_bytes(content)
    message = refused(path)
    assert message.startswith(str(path))
    assert words in message
    assert re.search(r"; \w|\n    \w", message), "a cure is given"


def test_a_path_that_is_no_file_is_refused(tmp_path: Path) -> None:
    assert "this is no file; give the path of a .gdtf file" in refused(tmp_path)
    assert "cannot be read: no such file or directory" in refused(tmp_path / "none.gdtf")


def test_a_directory_of_millions_of_entries_is_not_read(tmp_path: Path) -> None:
    path = tmp_path / "wide.gdtf"
    directory = (b"PK\x01\x02" + bytes(42)) * 200_000
    path.write_bytes(directory + b"PK\x05\x06" + struct.pack("<4H2IH", 0, 0, 1, 1, len(directory), 0, 0))
    assert "its directory is far too large" in refused(path)


def _spaces_archive() -> bytes:
    """Return an archive whose description unpacks to 500 MB of spaces."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as file, file.open("description.xml", "w") as entry:
        for _ in range(500):
            entry.write(b" " * 1_000_000)
    return packed.getvalue()


def references(count: int) -> str:
    cells = "".join(f'<GeometryReference Name="r{n}" Geometry="Cell"/>' for n in range(count))
    return f'<Geometries><Geometry Name="Body">{cells}</Geometry><Beam Name="Cell"/></Geometries>'


SETS = "".join(channel_set(f"name {n}", f"{n % 256}/1") for n in range(300))
EXPENSIVE: dict[str, Callable[[], bytes]] = {
    "half a gigabyte of spaces": _spaces_archive,
    "ranges in every cell of every mode": lambda: archive(
        {
            "description.xml": description(
                "".join(
                    mode(
                        f"m{n}",
                        channel("1", "Gobo1", function("Gobo1", sets=SETS), geometry="Cell", DMXBreak="Overwrite"),
                    )
                    for n in range(250)
                ),
                geometries=(
                    '<Geometries><Geometry Name="Body">'
                    + "".join(
                        f'<GeometryReference Name="r{n}" Geometry="Cell"><Break DMXOffset="{n}"/></GeometryReference>'
                        for n in range(1, 513)
                    )
                    + '</Geometry><Beam Name="Cell"/></Geometries>'
                ),
            )
        }
    ),
    "virtual channels in thousands of cells": lambda: archive(
        {
            "description.xml": description(
                mode("m", channel("None", "Dimmer", geometry="Cell") * 20_000), geometries=references(10_000)
            )
        }
    ),
    "ninety thousand ranges": lambda: archive(
        {
            "description.xml": description(
                mode("m", channel("1", "Gobo1", function("Gobo1", sets=channel_set("same", "0/1") * 90_000)))
            )
        }
    ),
    "ten megabytes of text": lambda: archive({"description.xml": b"<GDTF>" + b"x" * 9_900_000}),
    "one attribute of nine megabytes": lambda: archive({"description.xml": b'<GDTF a="' + b"x" * 9_000_000 + b'"/>'}),
}


@pytest.mark.skipif(sys.platform != "linux", reason="the limit on memory is that of Linux")
@pytest.mark.parametrize("kind", EXPENSIVE)
def test_an_expensive_file_costs_bounded_memory(kind: str, tmp_path: Path) -> None:
    path = tmp_path / "dear.gdtf"
    path.write_bytes(EXPENSIVE[kind]())
    code = (
        "import resource, sys\n"
        f"resource.setrlimit(resource.RLIMIT_AS, ({MOST_MEMORY_BYTES}, {MOST_MEMORY_BYTES}))\n"
        "from cuedeck.cli.main import main\n"
        "sys.exit(main(sys.argv[1:]))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, "fixture", "show", str(path)],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    assert done.returncode in (0, 1), done.stderr[-2000:]
    assert "Traceback" not in done.stderr
    assert "MemoryError" not in done.stderr


# --- Damaged files ---

ODD_TEXTS = (
    *("", " ", "None", "none", "0", "-1", "1e999", "nan", "inf", "9" * 400, "1/0", "0/1", "255/1s", "1/9", "a,b", "1,"),
    *("1,2,3,4,5", "65536", "65537", "512", "513", "Overwrite", "999", "1.513", "127.512", "Yes", "On", "Body", "Cell"),
    *("NoFeature", "Dimmer", "CTC", "ColorAdd_R", "50%", "value 3", "fixed 3", "x" * 1500, "\u202e", "日本", "a&amp;b"),
    *("0.3,0.3,100", "0,0,0", "0.3,0.3", "level", "like", "x 16-bit inverted", "{}{what}%s", "&#10;", "&lt;", "10"),
)
_VALUE = re.compile(rb'"[^"]*"')
_TAG = re.compile(rb"<[^>]*>")


def damaged(generator: random.Random) -> bytes:
    """Return the archive of the rich file, damaged in its XML or in its bytes."""
    kind = generator.choice(("bytes", "value", "value", "value", "tag", "attribute", "cut"))
    if kind == "bytes":
        packed = bytearray(archive({"thumbnail.png": b"picture", "description.xml": RICH}))
        for _ in range(generator.randint(1, 4)):
            packed[generator.randrange(len(packed))] = generator.randrange(256)
        return bytes(packed)
    text = RICH
    for _ in range(generator.randint(1, 5)):
        text = _damaged_text(generator, text, kind)
    return archive({"description.xml": text})


def _damaged_text(generator: random.Random, text: bytes, kind: str) -> bytes:
    if kind == "cut":
        start = generator.randrange(len(text))
        return text[:start] + text[start + generator.randint(1, 200) :]
    found = list((_VALUE if kind == "value" else _TAG).finditer(text))
    if not found:
        return text
    chosen, other = generator.choice(found), generator.choice(found)
    if kind == "value":
        return text[: chosen.start() + 1] + generator.choice(ODD_TEXTS).encode() + text[chosen.end() - 1 :]
    if kind == "tag":  # one tag more, or another in its place
        keep = chosen.start() if generator.random() < 0.5 else chosen.end()
        return text[:keep] + other[0] + text[chosen.end() :]
    without = re.sub(rb' \w+="[^"]*"', b"", chosen[0], count=1)
    return text[: chosen.start()] + without + text[chosen.end() :]


@pytest.mark.parametrize("start", range(0, MUTATIONS, CHUNK))
def test_a_damaged_file_is_imported_or_refused_and_nothing_else(start: int, tmp_path: Path) -> None:
    outcomes = Counter[str]()
    path = tmp_path / "damaged.gdtf"
    for number in range(start, start + CHUNK):
        path.write_bytes(damaged(random.Random(number)))  # noqa: S311 - damage, no secret
        try:
            found = import_type(read_archive(path), str(path))
        except Refusal as refusal:
            unprintable = not str(refusal).replace("\n", "").isprintable()
            outcomes["unprintable" if unprintable else "refused"] += 1
            continue
        except Exception as error:
            raise AssertionError(f"seed {number}: {type(error).__name__}") from error
        text = types_file_text(found.name, found.description, found.notes)
        assert read_source("f", text.encode()).data == {"types": {found.name: found.description}}, f"seed {number}"
        outcomes["imported"] += 1
    assert outcomes["unprintable"] == 0
    assert min(outcomes["imported"], outcomes["refused"]) > CHUNK // 20, (
        "the damage is neither always deadly nor always harmless"
    )


def test_pygdtf_failing_in_any_way_is_a_refusal_that_keeps_the_cause(monkeypatch: pytest.MonkeyPatch) -> None:
    import pygdtf

    class Failing(pygdtf.DmxChannel):  # type: ignore[misc]
        def _read_xml(self, *_: object, **__: object) -> None:
            raise zlib.error("odd")

    monkeypatch.setattr(pygdtf, "DmxChannel", Failing)
    with pytest.raises(GdtfRefused, match=r"f\.gdtf: pygdtf cannot read its description \(error: odd\)") as caught:
        import_type(RICH, "f.gdtf")
    assert isinstance(caught.value.__cause__, zlib.error)
