"""A PDF/A-1b twin of a paper, and what an independent checker of PDF/A-1b says of it.

The checker, PDFBox Preflight (Debian: libpdfbox2-java, libactivation-java, libjaxb-api-java), knows part 1 only. So the
twin is the same drawing with the same fonts, pictures, metadata and tags, but it names part 1, carries no attachment and
no object streams, and says its colours by a profile of ICC version 2 (part 1 allows no later one).
"""

from __future__ import annotations

import os
import shutil
import struct
import subprocess
import xml.etree.ElementTree as ElementTree
from collections.abc import Mapping
from io import BytesIO
from pathlib import Path

import pikepdf
import pytest

JARS = Path("/usr/share/java")
NEEDED = ("preflight", "pdfbox2", "fontbox2", "xmpbox", "commons-logging", "javax.activation", "jaxb-api")


def require_checker() -> None:
    """Skips, or fails in CI, where the checker is not installed."""
    missing = [f"{name}.jar" for name in NEEDED if not (JARS / f"{name}.jar").exists()]
    missing += [] if shutil.which("java") else ["java"]
    if missing:
        told = f"no independent check of PDF/A-1b: {', '.join(missing)} not found. Install libpdfbox2-java and its friends."
        if os.environ.get("CI"):
            pytest.fail(told)
        pytest.skip(told)


def twin(pdf: bytes) -> bytes:
    """The paper as a file of PDF/A-1b: see above for what differs."""
    with pikepdf.open(BytesIO(pdf)) as document:
        del document.Root.AF
        del document.Root.Names.EmbeddedFiles
        for spec in [one for one in document.objects if isinstance(one, pikepdf.Dictionary) and "/EF" in one]:
            del spec.EF
        document.Root.OutputIntents[0].DestOutputProfile = document.make_stream(srgb_version_2(), N=3)
        xmp = document.Root.Metadata.read_bytes()
        assert xmp.count(b"<pdfaid:part>3<") == 1
        document.Root.Metadata.write(xmp.replace(b"<pdfaid:part>3<", b"<pdfaid:part>1<"))
        out = BytesIO()
        document.save(
            out, deterministic_id=True, object_stream_mode=pikepdf.ObjectStreamMode.disable, force_version="1.4"
        )
    return out.getvalue()


def srgb_version_2() -> bytes:
    """A small ICC profile of version 2.1: sRGB's primaries adapted to D50 (IEC 61966-2-1), gamma 2.2 as its curve."""

    def fixed(*values: float) -> bytes:
        return b"".join(struct.pack(">i", round(value * 65536)) for value in values)

    def xyz(*values: float) -> bytes:
        return b"XYZ \0\0\0\0" + fixed(*values)

    name = b"sRGB twin\0"
    curve = b"curv\0\0\0\0" + struct.pack(">IH", 1, round(2.2 * 256)) + b"\0\0"
    tags = {
        b"desc": b"desc\0\0\0\0" + struct.pack(">I", len(name)) + name + b"\0" * 78 + b"\0\0",
        b"cprt": b"text\0\0\0\0" + b"public domain\0\0\0",
        b"wtpt": xyz(0.9642, 1.0, 0.8249),
        b"rXYZ": xyz(0.4361, 0.2225, 0.0139),
        b"gXYZ": xyz(0.3851, 0.7169, 0.0971),
        b"bXYZ": xyz(0.1431, 0.0606, 0.7141),
        b"rTRC": curve,
        b"gTRC": curve,
        b"bTRC": curve,
    }
    at = 128 + 4 + 12 * len(tags)
    table, body = struct.pack(">I", len(tags)), b""
    for key, data in tags.items():
        table += key + struct.pack(">II", at + len(body), len(data))
        body += data + b"\0" * (-len(data) % 4)
    head = struct.pack(">I4sI4s4s4s", at + len(body), b"\0" * 4, 0x02100000, b"mntr", b"RGB ", b"XYZ ")
    head += struct.pack(">6H", 2000, 1, 1, 0, 0, 0) + b"acsp" + b"\0" * 28 + fixed(0.9642, 1.0, 0.8249)
    return head + b"\0" * (128 - len(head)) + table + body


def verdicts(files: Mapping[str, bytes], folder: Path) -> dict[str, list[str]]:
    """Per file what the checker finds wrong, as 'code: words (times)'; an empty list means that it is clean."""
    places = {name: folder / f"{name.replace(' ', '-')}.pdf" for name in files}
    for name, place in places.items():
        place.write_bytes(files[name])
    listed = folder / "all.txt"
    listed.write_text("".join(f"{place}\n" for place in places.values()))
    command = [
        "java", "-Djava.awt.headless=true", "-cp", ":".join(str(JARS / f"{name}.jar") for name in NEEDED),
        "org.apache.pdfbox.preflight.Validator_A1b", "xml", "batch", str(listed),
    ]  # fmt: skip
    subprocess.run(command, check=False, capture_output=True, timeout=300, cwd=folder)
    return {name: _faults(place.with_name(place.name + ".preflight.xml")) for name, place in places.items()}


def _faults(result: Path) -> list[str]:
    """Raises when the checker has left no verdict: silence is not consent."""
    root = ElementTree.fromstring(result.read_text())
    valid = root.find("isValid")
    assert valid is not None and valid.text in ("true", "false"), result.read_text()[:400]
    faults = [f"{one.findtext('code')}: {one.findtext('details')} ({one.get('count')})" for one in root.iter("error")]
    assert (valid.text == "true") == (not faults), "the verdict and its list disagree"
    return faults
