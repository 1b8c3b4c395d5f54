"""A proof of purchase that is a PDF: it must do nothing but show pages."""

import hashlib
from collections.abc import Set
from dataclasses import dataclass
from decimal import Decimal
from io import BytesIO

import pikepdf
from pikepdf.settings import set_qpdf_limits

from .camera import told_by_camera
from .kinds import MEDIA_TYPES, quoted, refuse_size
from .limits import Limits
from .refusal import PictureRefused

_PRINT_ANEW = "Print it into a new PDF, or photograph the paper."
_ACTIVE = {
    "/JavaScript": "a script",
    "/Launch": "a command that starts a program",
    "/ImportData": "a command that loads other data",
    "/SubmitForm": "a command that sends data away",
    "/RichMediaExecute": "an embedded player",
    "/Rendition": "an embedded player",
    "/Movie": "an embedded player",
    "/Sound": "an embedded player",
    "/GoToR": "a jump into another file",
    "/GoToE": "a jump into a file inside it",
}
_LEADING = frozenset({"/OpenAction", "/AA", "/Next"})
_TELLING = _LEADING | {"/JS", "/XFA", "/F", "/EF", "/S", "/Subtype"}
"""The keys that `_active_in` and `_camera_in` ask for: a part without any of them is passed over, whose number may be large."""
_PLAIN = (int, str, Decimal, type(None))
_DATA = (".xml", ".json")
"""Endings of what may lie inside a PDF: the data of an electronic invoice."""
# So many are looked through in a second or two; a paper of a hundred pages should not need a thousand on each (no source).
_MAX_OBJECTS = 100_000
# Two megabytes of hostile PDF can unfold to gigabytes as soon as its objects are read. The ceiling holds
# for the whole process and must be set before threads start; nothing that we draw comes near it.
set_qpdf_limits(flate_max_memory=64_000_000, png_max_memory=64_000_000, run_length_max_memory=64_000_000)


@dataclass(frozen=True, slots=True)
class PdfProof:
    """A PDF that was taken in untouched. sha256: hex, of the bytes as sent. size: bytes."""

    kind: str
    media_type: str
    sha256: str
    size: int
    pages: int


def examine_pdf(data: bytes, *, limits: Limits, declared_name: str = "") -> PdfProof:
    """Describes a PDF; raises PictureRefused with the reason."""
    name = quoted(declared_name)
    refuse_size(data, limits.max_bytes, name)
    return PdfProof(
        kind="pdf",
        media_type=MEDIA_TYPES["pdf"],
        sha256=hashlib.sha256(data).hexdigest(),
        size=len(data),
        pages=_pages(data, limits, name),
    )


def _pages(data: bytes, limits: Limits, name: str) -> int:
    locked = PictureRefused(f"{name} is locked with a password or rights.", "Unlock it, or photograph the paper.")
    try:
        # No repair: a PDF that has to be mended may show something else in the next reader.
        with pikepdf.open(BytesIO(data), attempt_recovery=False, suppress_warnings=True) as pdf:
            if pdf.is_encrypted:
                raise locked
            _refuse_active(pdf, name, limits)
            pages = len(pdf.pages)
    except pikepdf.PasswordError as fault:
        raise locked from fault
    except PictureRefused:
        raise
    except Exception as fault:  # hostile bytes: any error, one meaning
        raise PictureRefused(f"{name} is a damaged or cut-off PDF.", _PRINT_ANEW) from fault
    if not 1 <= pages <= limits.max_pages:
        raise PictureRefused(f"{name} has {pages} pages; 1 to {limits.max_pages} are taken.", _PRINT_ANEW)
    return pages


def _refuse_active(pdf: pikepdf.Pdf, name: str, limits: Limits) -> None:
    waiting: list[pikepdf.Object] = [*pdf.objects, pdf.trailer]
    seen = 0
    while waiting:
        seen += 1
        if seen > _MAX_OBJECTS:
            raise PictureRefused(f"{name} is a PDF of too many parts.", _PRINT_ANEW)
        thing = waiting.pop()
        if isinstance(thing, pikepdf.Array):
            waiting.extend(_nested(list(thing)))
        elif isinstance(thing, pikepdf.Dictionary | pikepdf.Stream):
            keys = thing.keys()
            found = None if _TELLING.isdisjoint(keys) else _active_in(thing, keys) or _camera_in(thing, limits)
            if found:
                raise PictureRefused(f"{name} is a PDF that holds {found}.", _PRINT_ANEW)
            waiting.extend(_nested([thing[key] for key in keys]))


def _active_in(thing: pikepdf.Object, keys: Set[str]) -> str | None:
    if "/JS" in keys:
        return _ACTIVE["/JavaScript"]
    if "/XFA" in keys:
        return "a form with a program in it"
    if "/F" in keys and isinstance(thing, pikepdf.Stream):
        return "a part that is fetched from elsewhere"
    if not _LEADING.isdisjoint(keys) and _acts_by_itself(thing):
        return "a command that fetches an address by itself"
    if "/EF" in keys and not _is_data(thing):
        return "a file that is no data of an invoice"
    action = thing.get("/S") if "/S" in keys else None
    return _ACTIVE.get(str(action)) if isinstance(action, pikepdf.Name) else None


def _acts_by_itself(thing: pikepdf.Object) -> bool:
    """Whether an address is gone to without anybody's click: at opening, on an event, or after another action."""
    events = thing.get("/AA")
    by_itself = [thing.get("/OpenAction"), thing.get("/Next")]
    by_itself += [events[key] for key in events.keys()] if isinstance(events, pikepdf.Dictionary) else []  # noqa: SIM118
    several = [one for each in by_itself if isinstance(each, pikepdf.Array) for one in each]
    return any(isinstance(one, pikepdf.Dictionary) and one.get("/S") == "/URI" for one in (*by_itself, *several))


def _is_data(thing: pikepdf.Object) -> bool:
    """Whether the file inside is data by its names and by how it begins, which is what other readers go by."""
    names = [str(thing[key]).lower() for key in ("/F", "/UF") if key in thing]
    begun = [thing.EF[key].read_bytes().lstrip(b"\xef\xbb\xbf \t\r\n")[:1] for key in thing.EF.keys()]  # noqa: SIM118
    return (
        bool(names) and all(name.endswith(_DATA) for name in names) and all(one in (b"<", b"{", b"[") for one in begun)
    )


def _camera_in(thing: pikepdf.Object, limits: Limits) -> str | None:
    """A proof is enclosed as it came, so a photo in it must not tell more than the shop's own photos do.

    One that cannot be looked into is refused too: other readers may find in it what ours does not.
    """
    if not isinstance(thing, pikepdf.Stream) or thing.get("/Subtype") != "/Image":
        return None
    filters = thing.get("/Filter")
    chain = list(filters) if isinstance(filters, pikepdf.Array) else [filters]
    if chain[-1:] != [pikepdf.Name.DCTDecode]:
        return None
    data = thing.read_raw_bytes()
    if len(chain) > 1:  # pikepdf takes off all wrappings or none: a copy without the last one gives the JPEG
        with pikepdf.new() as scratch:
            wrapped = pikepdf.Stream(scratch, data)
            wrapped.Filter = pikepdf.Array(chain[:-1])
            data = wrapped.read_bytes()
    try:
        told = told_by_camera(data, limits=limits)
    except PictureRefused:
        return "a photo that cannot be read by itself"
    return "a photo with its place or its camera's serial number" if told.place or told.serial else None


def _nested(parts: list[pikepdf.Object]) -> list[pikepdf.Object]:
    """Those that hold others and stand here themselves; what is referred to by number is in pdf.objects already."""
    return [
        part
        for part in parts
        if not isinstance(part, _PLAIN)
        and isinstance(part, pikepdf.Dictionary | pikepdf.Array | pikepdf.Stream)
        and not part.is_indirect
    ]
