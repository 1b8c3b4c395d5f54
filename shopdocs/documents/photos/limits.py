"""How large a picture may be before it is looked at any further."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Limits:
    """Ceilings for one file at the door; the caller passes them in from the settings.

    max_bytes: size of the file as sent, in bytes (25 MB).
    max_pixels: width times height as the header states them, before anything is decoded. A third of it
    for WebP and four fifths for HEIC, whose decoders need more memory for each.
    min_side: pixels that the longer side must have (0: any), for a picture that is to show something.
    max_pages: pages of a PDF given as proof.
    """

    max_bytes: int = 25_000_000
    max_pixels: int = 50_000_000
    max_pages: int = 100
    min_side: int = 0
