"""The last pass over a drawn file: structure tags, XMP metadata, the sRGB output intent, the facts as an attachment.

Aims at ISO 19005-3 level B (PDF/A-3b) rule by rule; tests/published says which rules are tested. The
pass adds nothing that depends on a clock or on chance, so the same drawing gives the same bytes.
"""

from __future__ import annotations

import functools
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import Any
from xml.sax.saxutils import escape

import pikepdf
from PIL import ImageCms

from shopdocs.documents.press.schema import FILE_NAME, MEDIA_TYPE, facts_file
from shopdocs.documents.press.sheets import Sheet
from shopdocs.documents.press.structure import Node

PRODUCER = "Shopdocs press"
CELLS = ("TD", "TH")  # kept when empty: the rows of a table stay of one length


@functools.cache
def srgb() -> bytes:
    """An sRGB profile with its date of making set to 1 Jan 2000: the library writes the clock there."""
    data = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    data[24:36] = b"".join(part.to_bytes(2, "big") for part in (2000, 1, 1, 0, 0, 0))
    return bytes(data)


@dataclass(frozen=True, kw_only=True)
class Enclosure:
    """A file inside the paper, beside its facts: the same said for programs. `relation`: a name of ISO 32000-2, table 43.

    `xmp`: what the paper's metadata say of it, as descriptions in RDF; plain text of ours, never a user's.
    """

    name: str
    media_type: str
    relation: str
    about: str
    data: bytes
    xmp: str = ""


def archive(pdf: bytes, sheet: Sheet, root: Node, enclosed: Sequence[Enclosure] = ()) -> bytes:
    """`pdf` with its structure under `root`, its metadata, what its colours mean, and the files `enclosed` in it."""
    with pikepdf.open(BytesIO(pdf)) as document:
        _structure(document, root)
        _colours(document)
        _metadata(document, sheet, enclosed)
        _enclose(document, sheet, (facts_enclosure(sheet), *enclosed))
        out = BytesIO()
        document.save(out, deterministic_id=True, object_stream_mode=pikepdf.ObjectStreamMode.generate)
    return out.getvalue()


def _colours(document: pikepdf.Pdf) -> None:
    profile = document.make_stream(srgb(), N=3)
    document.Root.OutputIntents = pikepdf.Array(
        [
            pikepdf.Dictionary(
                Type=pikepdf.Name.OutputIntent,
                S=pikepdf.Name.GTS_PDFA1,
                OutputConditionIdentifier=pikepdf.String("sRGB"),
                Info=pikepdf.String("sRGB IEC61966-2.1"),
                DestOutputProfile=profile,
            )
        ]
    )


def facts_enclosure(sheet: Sheet) -> Enclosure:
    """What the paper prints, as the source of its figures."""
    about = "The facts that this paper prints, as JSON"
    return Enclosure(name=FILE_NAME, media_type=MEDIA_TYPE, relation="Source", about=about, data=facts_file(sheet))


def _enclose(document: pikepdf.Pdf, sheet: Sheet, enclosed: Sequence[Enclosure]) -> None:
    """Attach the files with their relationship to the paper (ISO 19005-3, 6.8), by name."""
    specs = {one.name: _attached(document, sheet, one) for one in enclosed}
    document.Root.AF = pikepdf.Array(list(specs.values()))
    names: Any = document.Root.get("/Names", pikepdf.Dictionary())
    listed = [part for name in sorted(specs) for part in (pikepdf.String(name), specs[name])]
    names.EmbeddedFiles = pikepdf.Dictionary(Names=pikepdf.Array(listed))
    document.Root.Names = names


def _attached(document: pikepdf.Pdf, sheet: Sheet, one: Enclosure) -> Any:
    kind = pikepdf.Name("/" + one.media_type)
    stream = document.make_stream(one.data, Type=pikepdf.Name.EmbeddedFile, Subtype=kind)
    stream.Params = pikepdf.Dictionary(
        ModDate=pikepdf.String(_stamp(sheet)),
        Size=len(one.data),
        CheckSum=pikepdf.String(hashlib.md5(one.data, usedforsecurity=False).digest()),
    )
    return document.make_indirect(
        pikepdf.Dictionary(
            Type=pikepdf.Name.Filespec,
            F=pikepdf.String(one.name),
            UF=pikepdf.String(one.name),
            Desc=pikepdf.String(one.about),
            AFRelationship=pikepdf.Name("/" + one.relation),
            EF=pikepdf.Dictionary(F=stream, UF=stream),
        )
    )


def _stamp(sheet: Sheet) -> str:
    return f"D:{sheet.issued_on:%Y%m%d}120000+00'00'"


XMP = """<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/">
<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
<rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:xmp="http://ns.adobe.com/xap/1.0/"
 xmlns:pdf="http://ns.adobe.com/pdf/1.3/" xmlns:pdfaid="http://www.aiim.org/pdfa/ns/id/">
<dc:title><rdf:Alt><rdf:li xml:lang="x-default">{title}</rdf:li></rdf:Alt></dc:title>
<dc:description><rdf:Alt><rdf:li xml:lang="x-default">{subject}</rdf:li></rdf:Alt></dc:description>
<dc:creator><rdf:Seq><rdf:li>{author}</rdf:li></rdf:Seq></dc:creator>
<dc:language><rdf:Bag><rdf:li>{language}</rdf:li></rdf:Bag></dc:language>
<xmp:CreatorTool>{tool}</xmp:CreatorTool><xmp:CreateDate>{made}</xmp:CreateDate><xmp:ModifyDate>{made}</xmp:ModifyDate>
<pdf:Producer>{producer}</pdf:Producer>
<pdfaid:part>3</pdfaid:part><pdfaid:conformance>B</pdfaid:conformance>
</rdf:Description>
{enclosed}</rdf:RDF>
</x:xmpmeta>
<?xpacket end="w"?>
"""


def _metadata(document: pikepdf.Pdf, sheet: Sheet, enclosed: Sequence[Enclosure]) -> None:
    """XMP and the older information dictionary, saying the same."""
    info: Any = document.docinfo
    for key in ("/Keywords", "/Trapped"):
        if key in info:
            del info[key]
    stamp = pikepdf.String(_stamp(sheet))
    info.Producer, info.CreationDate, info.ModDate = pikepdf.String(PRODUCER), stamp, stamp
    told = {
        "title": str(info.Title),
        "subject": str(info.Subject),
        "author": str(info.Author),
        "tool": str(info.Creator),
        "language": sheet.language,
        "made": f"{sheet.issued_on.isoformat()}T12:00:00+00:00",
        "producer": PRODUCER,
    }
    more = "".join(one.xmp for one in enclosed)
    xmp = XMP.format(enclosed=more, **{key: escape(value) for key, value in told.items()})
    stream = document.make_stream(xmp.encode("utf-8"), Type=pikepdf.Name.Metadata, Subtype=pikepdf.Name.XML)
    document.Root.Metadata = stream


def _structure(document: pikepdf.Pdf, root: Node) -> None:
    """Write the tree below `root`, and for each page the list that leads from its pieces back to it."""
    pages = [page.obj for page in document.pages]
    pieces: list[dict[int, Any]] = [{} for _ in pages]
    tree = document.make_indirect(pikepdf.Dictionary(Type=pikepdf.Name.StructTreeRoot))
    tree.K = _element(document, root, tree, pages, pieces)
    numbers: Any = pikepdf.Array()
    for at, page in enumerate(pages):
        page.StructParents = at
        page.Tabs = pikepdf.Name.S
        owners = pikepdf.Array([pieces[at][number] for number in range(len(pieces[at]))])
        numbers.extend([at, document.make_indirect(owners)])
    tree.ParentTree = document.make_indirect(pikepdf.Dictionary(Nums=numbers))
    tree.ParentTreeNextKey = len(pages)
    document.Root.StructTreeRoot = tree
    document.Root.MarkInfo = pikepdf.Dictionary(Marked=True)


def _element(document: pikepdf.Pdf, node: Node, parent: Any, pages: list[Any], pieces: list[dict[int, Any]]) -> Any:
    made: Any = document.make_indirect(
        pikepdf.Dictionary(Type=pikepdf.Name.StructElem, S=pikepdf.Name("/" + node.tag), P=parent)
    )
    kids: list[Any] = []
    home: int | None = None
    for kid in node.kids:
        if isinstance(kid, Node):
            if kid.kids or kid.tag in CELLS:
                kids.append(_element(document, kid, made, pages, pieces))
            continue
        at, number = kid
        pieces[at][number] = made
        if home is None:
            home = at
            made.Pg = pages[at]
        kids.append(
            number
            if at == home
            else pikepdf.Dictionary(
                Type=pikepdf.Name.MCR,
                Pg=pages[at],
                MCID=number,
            )
        )
    made.K = pikepdf.Array(kids)
    if node.alt:
        made.Alt = pikepdf.String(node.alt)
    if node.tag == "TH":
        made.A = pikepdf.Dictionary(O=pikepdf.Name.Table, Scope=pikepdf.Name.Column)
    if node.box:
        made.A = pikepdf.Dictionary(O=pikepdf.Name.Layout, BBox=pikepdf.Array([round(edge, 2) for edge in node.box]))
    return made
