"""Proofs of purchase: pictures and quiet PDFs pass, everything that could act is refused."""

import hashlib
import io
import zlib

import piexif
import pikepdf
import pytest
from pikepdf import Array, Dictionary, Name, Pdf, String

from shopdocs.documents.photos import proof
from shopdocs.documents.photos.limits import Limits
from shopdocs.documents.photos.proof import examine_pdf
from shopdocs.documents.photos.refusal import PictureRefused

LIMITS = Limits()


def pdf_bytes(pages=1, change=None, **options):
    pdf = Pdf.new()
    for _ in range(pages):
        pdf.add_blank_page(page_size=(400, 600))
    if change:
        change(pdf)
    out = io.BytesIO()
    pdf.save(out, **options)
    return out.getvalue()


def refused(data, limits=LIMITS):
    with pytest.raises(PictureRefused) as caught:
        examine_pdf(data, limits=limits, declared_name="receipt.pdf")
    assert caught.value.remedy
    return caught.value.problem


def test_a_pdf_is_counted_and_kept_as_it_is():
    data = pdf_bytes(3)
    seen = examine_pdf(data, limits=LIMITS)
    assert (seen.kind, seen.media_type, seen.pages) == ("pdf", "application/pdf", 3)
    assert (seen.size, seen.sha256) == (len(data), hashlib.sha256(data).hexdigest())


def test_an_invoice_with_its_data_attached_is_taken():
    def attach(pdf):
        pdf.attachments["order.xml"] = b"<order/>"

    assert examine_pdf(pdf_bytes(change=attach), limits=LIMITS).pages == 1


@pytest.mark.parametrize("user", ["", "secret"])
def test_a_locked_pdf_is_refused(user):
    data = pdf_bytes(encryption=pikepdf.Encryption(owner="owner", user=user))
    assert "locked" in refused(data)


def on_open(pdf):
    pdf.Root.OpenAction = Dictionary(S=Name.JavaScript, JS=String("app.alert(1)"))


def named_script(pdf):
    action = pdf.make_indirect(Dictionary(S=Name.JavaScript, JS=String("x()")))
    pdf.Root.Names = Dictionary(JavaScript=Dictionary(Names=Array([String("a"), action])))


def launched(pdf):
    link = Dictionary(Type=Name.Annot, Subtype=Name.Link, Rect=[0, 0, 9, 9], A=Dictionary(S=Name.Launch, F=String("a")))
    pdf.pages[0].Annots = Array([link])


def chained(pdf):
    goal = Dictionary(
        S=Name.GoTo, D=Array([pdf.pages[0].obj, Name.Fit]), Next=Dictionary(S=Name.SubmitForm, F=String("h"))
    )
    pdf.Root.OpenAction = goal


def form_program(pdf):
    pdf.Root.AcroForm = Dictionary(Fields=Array([]), XFA=String("<xdp/>"))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (on_open, "a script"),
        (named_script, "a script"),
        (launched, "starts a program"),
        (chained, "sends data away"),
        (form_program, "form with a program"),
    ],
)
@pytest.mark.parametrize("mode", [pikepdf.ObjectStreamMode.disable, pikepdf.ObjectStreamMode.generate])
def test_a_pdf_that_acts_is_refused_wherever_it_hides_it(change, words, mode):
    assert words in refused(pdf_bytes(change=change, object_stream_mode=mode))


def test_a_plain_link_to_a_page_is_no_act():
    def link(pdf):
        pdf.Root.OpenAction = Dictionary(S=Name.GoTo, D=Array([pdf.pages[0].obj, Name.Fit]))

    assert examine_pdf(pdf_bytes(change=link), limits=LIMITS).pages == 1


def test_a_broken_or_cut_off_pdf_is_refused():
    whole = pdf_bytes(2)
    for data in (b"%PDF-1.7\n", whole[: len(whole) // 2], whole[:-40], whole[:200] + whole[260:]):
        assert "damaged or cut-off" in refused(data)


def test_pages_and_bytes_are_limited():
    assert "has 0 pages" in refused(pdf_bytes(0))
    assert "has 4 pages; 1 to 3" in refused(pdf_bytes(4), limits=Limits(max_pages=3))
    assert "at most 0.0001 MB" in refused(pdf_bytes(), limits=Limits(max_bytes=100))


def swollen(millions):
    """A PDF of a few kilobytes whose object stream unfolds to so many million bytes."""
    table = b"1 0 2 30 "
    press = zlib.compressobj(9)
    body = press.compress(table + b"<</Type/Catalog/Pages 2 0 R>> <</Type/Pages/Kids[]/Count 0>>")
    body += b"".join(press.compress(b" " * 1_000_000) for _ in range(millions)) + press.flush()
    out = b"%PDF-1.5\n"
    third = len(out)
    head = b"3 0 obj<</Type/ObjStm/N 2/First 9/Filter/FlateDecode/Length %d>>stream\n" % len(body)
    out += head + body + b"\nendstream endobj\n"
    rows = ((0, 0, 255), (2, 3, 0), (2, 3, 1), (1, third, 0), (1, len(out), 0))
    table = b"".join(bytes([t]) + a.to_bytes(4, "big") + bytes([g]) for t, a, g in rows)
    end = b"\nendstream endobj\nstartxref\n%d\n%%%%EOF" % len(out)
    return out + b"4 0 obj<</Type/XRef/Size 5/Root 1 0 R/W[1 4 1]/Length %d>>stream\n%s" % (len(table), table) + end


def test_a_pdf_that_unfolds_to_gigabytes_is_stopped_while_unfolding():
    assert "has 0 pages" in refused(swollen(1))  # well formed: only its size stands in its way
    assert "damaged" in refused(swollen(100))


ADDRESS = Dictionary(S=Name.URI, URI=String("https://elsewhere.example/seen"))


def opens_address(pdf):
    pdf.Root.OpenAction = ADDRESS


def address_on_event(pdf):
    pdf.pages[0].obj.AA = Dictionary(O=ADDRESS)


def address_after_another(pdf):
    pdf.Root.OpenAction = Dictionary(S=Name.GoTo, D=Array([0, Name.Fit]), Next=Array([ADDRESS]))


def jumps_away(pdf):
    pdf.Root.OpenAction = Dictionary(S=Name.GoToR, F=String("elsewhere.pdf"), D=Array([0, Name.Fit]))


def jumps_inside(pdf):
    pdf.Root.OpenAction = Dictionary(S=Name.GoToE, T=Dictionary(R=Name.C, N=String("more.pdf")))


def plays(pdf):
    pdf.Root.OpenAction = Dictionary(S=Name.Rendition, OP=0)


def fetched_page(pdf):
    stream = pdf.make_stream(b"")
    stream.F = Dictionary(Type=Name.Filespec, FS=Name.URL, F=String("https://elsewhere.example/page"))
    pdf.pages[0].obj.Contents = stream


def program_inside(pdf):
    pdf.attachments["setup.exe"] = b"MZ" + bytes(100)


def program_called_data(pdf):
    pdf.attachments["order.xml"] = b"MZ" + bytes(100)


@pytest.mark.parametrize(
    "change",
    [
        opens_address, address_on_event, address_after_another, jumps_away, jumps_inside, plays, fetched_page,
        program_inside, program_called_data,
    ],
)  # fmt: skip
def test_what_reaches_beyond_its_pages_is_refused(change):
    assert "that holds" in refused(pdf_bytes(change=change))


def test_an_address_that_somebody_must_click_is_taken():
    def link(pdf):
        note = Dictionary(Type=Name.Annot, Subtype=Name.Link, Rect=Array([0, 0, 9, 9]), A=ADDRESS)
        pdf.pages[0].obj.Annots = Array([note])

    assert examine_pdf(pdf_bytes(change=link), limits=LIMITS).pages == 1


@pytest.mark.parametrize("jpeg", [b"", b"\xff\xd8\xff\xe1 no picture", b"GIF89a"])
def test_a_photo_inside_that_cannot_be_read_is_refused(jpeg):
    def show(pdf):
        image = pikepdf.Stream(pdf, b"")
        image.Subtype, image.Width, image.Height = Name.Image, 800, 600
        image.write(jpeg, filter=Name.DCTDecode)
        pdf.pages[0].obj.Resources = Dictionary(XObject=Dictionary(Photo=image))

    assert "cannot be read" in refused(pdf_bytes(change=show))


@pytest.mark.parametrize("packed", [False, True])
@pytest.mark.parametrize(
    ("exif", "taken"),
    [
        ({"GPS": {1: b"N", 2: ((41, 1), (24, 1), (30, 1)), 3: b"W", 4: ((93, 1), (6, 1), (11, 1))}}, False),
        ({"Exif": {0xA431: b"SN-4471"}}, False),
        ({"Exif": {0x9003: b"2026:04:17 09:41:12"}}, True),
    ],
)
def test_a_photo_inside_tells_neither_its_place_nor_its_camera(make, exif, taken, packed):
    jpeg = make["encoded"](make["bench"](), "JPEG", exif=piexif.dump(exif))

    def show(pdf):
        image = pikepdf.Stream(pdf, b"")
        image.Subtype, image.Width, image.Height = Name.Image, 800, 600
        if packed:
            image.write(zlib.compress(jpeg), filter=Array([Name.FlateDecode, Name.DCTDecode]))
        else:
            image.write(jpeg, filter=Name.DCTDecode)
        pdf.pages[0].obj.Resources = Dictionary(XObject=Dictionary(Photo=image))

    data = pdf_bytes(change=show)
    if taken:
        assert examine_pdf(data, limits=LIMITS).pages == 1
    else:
        assert "camera" in refused(data)


def test_a_pdf_of_too_many_parts_is_refused_when_they_are_counted(monkeypatch):
    def add(pdf):
        pdf.Root.Parts = pikepdf.Array([pikepdf.Array([pikepdf.Dictionary(N=n) for n in range(40)]) for _ in range(5)])

    data = pdf_bytes(change=add)
    assert examine_pdf(data, limits=LIMITS).pages == 1
    monkeypatch.setattr(proof, "_MAX_OBJECTS", 200)
    assert "too many parts" in refused(data)
