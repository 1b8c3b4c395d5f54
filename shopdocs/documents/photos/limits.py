"""How large a picture may be before it is looked at any further."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Limits:
    """Ceilings for one file at the door; the caller passes them in from the settings.

    max_bytes: size of the file as sent, in bytes (25 MB).
    max_pixels: width times height as the header states them, before anything is decoded.
    max_memory: bytes that reading it may take, told from the header too (memory.py): a WebP, or a JPEG in several
    passes, reaches this before max_pixels.
    min_side: pixels that the longer side must have (0: any), for a picture that is to show something.
    max_pages: pages of a PDF given as proof.
    """

    max_bytes: int = 25_000_000
    max_pixels: int = 50_000_000
    max_memory: int = 300_000_000
    max_pages: int = 100
    min_side: int = 0
