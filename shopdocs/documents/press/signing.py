"""A signed copy of a paper: the paper's bytes untouched, and behind them a signature by a certificate.

The form is that of PAdES (ETSI EN 319 142-1): a detached signature over the whole file, in a field that shows nothing on the page.
Nothing is fetched: no time stamp, no answer about revocation, so the moment it names is this machine's. pyhanko does the
work; it is an optional package, and nothing of it is loaded before a copy is asked for.
"""

from __future__ import annotations

import datetime as dt
from io import BytesIO

from shopdocs.problems import BadInput

FIELD = "ShopSignature"


def signed_copy(pdf: bytes, *, certificate: bytes, password: str, reason: str, now: dt.datetime) -> bytes:
    """`pdf` with a signature appended. `certificate`: the bytes of a PKCS#12 file, with its key. BadInput outside its days."""
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
    from pyhanko.sign import fields, signers

    class Appended(IncrementalPdfFileWriter):
        """Leaves the metadata as they were drawn, which say what the paper is: the signature carries its own moment."""

        def _update_meta(self) -> None:
            return

    signer = signers.SimpleSigner.load_pkcs12_data(certificate, [], password.encode())
    held = signer.signing_cert
    first, last = held.not_valid_before, held.not_valid_after
    if not first <= now <= last:
        problem = f"The installation's certificate holds from {first:%Y-%m-%d} to {last:%Y-%m-%d}."
        raise BadInput("certificate", problem, "Put the renewed one in the place of SIGNING_FILE.")
    told = signers.PdfSignatureMetadata(
        field_name=FIELD, md_algorithm="sha256", subfilter=fields.SigSeedSubFilter.PADES, reason=reason
    )
    # A box of no size on the first page: ISO 19005-3, 6.3.3 asks for no appearance of such a one.
    field = fields.SigFieldSpec(sig_field_name=FIELD, on_page=0, box=(0, 0, 0, 0))
    out = signers.PdfSigner(told, signer=signer, new_field_spec=field).sign_pdf(Appended(BytesIO(pdf)))
    made: bytes = out.getvalue()
    return made
