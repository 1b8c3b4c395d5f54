"""What a file is, judged by its first bytes alone; its name is only quoted, never believed."""

import math

from .refusal import PictureRefused

MEDIA_TYPES = {
    "jpeg": "image/jpeg",
    "png": "image/png",
    "webp": "image/webp",
    "heic": "image/heic",
    "pdf": "application/pdf",
}
PNG_MARK = b"\x89PNG\r\n\x1a\n"
SEND_PICTURE = "Send the picture itself as JPEG, PNG, WebP or HEIC."

_HEIC_BRANDS = {b"heic", b"heix", b"heim", b"heis"}
# Two containers share these brands with HEIC; which one it is stands among the compatible brands.
_SHARED_BRANDS = {b"mif1", b"mif2", b"miaf"}
_STRANGERS = (
    (b"PK\x03\x04", "a ZIP archive"),
    (b"PK\x05\x06", "an empty ZIP archive"),
    (b"%!", "a PostScript program"),
    (b"\xc5\xd0\xd3\xc6", "a PostScript program"),
    (b"GIF8", "a GIF"),
    (b"BM", "a BMP bitmap"),
    (b"II*\x00", "a TIFF or camera raw file"),
    (b"MM\x00*", "a TIFF or camera raw file"),
    (b"8BPS", "a layered drawing file"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"Rar!", "a RAR archive"),
    (b"7z\xbc\xaf\x27\x1c", "a 7z archive"),
    (b"MZ", "a program"),
    (b"\x7fELF", "a program"),
)


def kind_of(data: bytes) -> str | None:
    """'jpeg', 'png', 'webp', 'heic' or 'pdf' by content, or None for everything else."""
    if data.startswith(b"\xff\xd8\xff"):
        return "jpeg"
    if data.startswith(PNG_MARK):
        return "png"
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "webp"
    if data.startswith(b"%PDF-"):
        return "pdf"
    major, others = _brands(data)
    if major in _HEIC_BRANDS or (major in _SHARED_BRANDS and others & _HEIC_BRANDS):
        return "heic"
    return None


def stranger(data: bytes) -> str:
    """Names a file that is no picture of ours, in words that end '... is ___.'"""
    if data.startswith(b"%PDF-"):
        return "a PDF"
    for mark, name in _STRANGERS:
        if data.startswith(mark):
            return name
    major, others = _brands(data)
    if major:
        return "an AVIF picture" if {b"avif", b"avis"} & (others | {major}) else "a film or sound recording"
    return _text_kind(data[:2048])


def quoted(declared_name: str) -> str:
    """'The file "name"', the name made printable and short; 'The file' when it has none."""
    name = "".join(c for c in declared_name if c.isprintable()).strip()
    if len(name) > 60:
        name = name[:45] + "..." + name[-12:]
    return f'The file "{name}"' if name else "The file"


def refuse_size(data: bytes, max_bytes: int, name: str) -> None:
    """Refuses an empty file and one over max_bytes. name: as made by `quoted`."""
    if not data:
        raise PictureRefused(f"{name} is empty.", "Send it again; the first copy was probably broken off.")
    if len(data) > max_bytes:
        stated = math.ceil(len(data) / 1e5) / 10  # upwards: a byte too much must not read as just enough
        problem = f"{name} has {stated:.1f} MB; at most {max_bytes / 1e6:g} MB are taken."
        raise PictureRefused(problem, "Send it smaller: most cameras and phones offer a medium size.")


def _brands(data: bytes) -> tuple[bytes, set[bytes]]:
    """Major and compatible brands of an ISO base media file; (b'', empty) for any other file."""
    if data[4:8] != b"ftyp":
        return b"", set()
    end = min(int.from_bytes(data[:4], "big"), 512, len(data))
    return data[8:12], {data[i : i + 4] for i in range(16, end - 3, 4)}


def _text_kind(head: bytes) -> str:
    try:
        text = head.decode("utf-8", "strict").lower()
    except UnicodeDecodeError as fault:
        # A letter cut in two by the 2048 byte window is still text.
        if fault.start < len(head) - 3:
            return "of no kind that is known here"
        text = head[: fault.start].decode("utf-8").lower()
    if "\x00" in text:
        return "of no kind that is known here"
    if "<svg" in text:
        return "an SVG drawing"
    return "a web page" if "<html" in text or "<!doctype html" in text else "plain text"
