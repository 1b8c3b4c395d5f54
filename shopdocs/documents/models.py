"""Files, photos, documents and letters. A row is the job; the queue is only a doorbell (principle 1)."""

from __future__ import annotations

from django.db import models

from shopdocs.shops.models import User
from shopdocs.shops.scoping import ShopRecord


class StoredFile(ShopRecord):
    """Bytes kept as they came, found again by their SHA-256. The same bytes are kept once per shop."""

    sha256 = models.CharField(max_length=64)
    size = models.PositiveBigIntegerField()
    media_type = models.CharField(max_length=100)
    place = models.CharField(max_length=200, help_text="name in the storage")

    class Meta(ShopRecord.Meta):
        constraints = [models.UniqueConstraint(fields=["shop", "sha256"], name="same_bytes_once_per_shop")]


class Photo(ShopRecord):
    """A picture or proof that came in: the untouched original, and the copies that papers print (large and small)."""

    class Moment(models.TextChoices):
        CHECK_IN = "check_in", "at check-in"
        BEFORE = "before", "before repair"
        AFTER = "after", "after repair"
        SERIAL_PLATE = "serial_plate", "serial plate"
        HOUR_METER = "hour_meter", "hour meter"
        LABEL = "label", "emission label"
        PROOF = "proof", "proof of purchase"

    class Clock(models.TextChoices):
        ORIGINAL = "original", "when it was taken"
        DIGITIZED = "digitized", "when it was digitized"
        CHANGED = "changed", "when the file was changed"

    subject = models.CharField(max_length=80, help_text="kind:id of what it belongs to, such as order:...")
    about = models.CharField(max_length=80, blank=True, help_text="kind:id of what it proves, such as finding:...")
    original = models.ForeignKey(StoredFile, on_delete=models.PROTECT, related_name="+")
    printable = models.ForeignKey(StoredFile, null=True, on_delete=models.PROTECT, related_name="+")
    small = models.ForeignKey(StoredFile, null=True, on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=10, help_text="jpeg, png, webp, heic or pdf, by content")
    width = models.PositiveIntegerField(default=0)
    height = models.PositiveIntegerField(default=0)
    taken_at = models.DateTimeField(null=True, help_text="the camera's own time, as evidence")
    taken_from = models.CharField(
        max_length=10, choices=Clock, blank=True, help_text="which of the camera's times that is; empty without one"
    )
    has_gps = models.BooleanField(default=False)
    moment = models.CharField(max_length=20, choices=Moment)
    caption = models.CharField(max_length=400, blank=True)
    by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    warnings = models.JSONField(default=list)
    marks = models.JSONField(
        default=list, blank=True, help_text="arrows, circles, a scale bar over the picture, as facts.PhotoMark"
    )
    fingerprint = models.CharField(
        max_length=512, blank=True, help_text="perceptual hash, to see duplicates; empty for a plain picture"
    )

    class Meta(ShopRecord.Meta):
        indexes = [models.Index(fields=["shop", "subject", "created_at"], name="photo_by_subject")]


class Attempted(ShopRecord):
    """A row that a worker carries out: claimed under a lease, tried again with growing pauses, never lost."""

    class State(models.TextChoices):
        WAITING = "waiting", "waiting"
        WORKING = "working", "being worked on"
        DONE = "done", "done"
        STOPPED = "stopped", "stopped: needs a person"

    state = models.CharField(max_length=10, choices=State, default=State.WAITING)
    attempts = models.PositiveSmallIntegerField(default=0)
    try_at = models.DateTimeField(help_text="not before this moment; while working, when the lease ends")
    lease = models.UUIDField(null=True, help_text="whose turn it is; a worker that lost its turn records nothing")
    problem = models.TextField(blank=True)
    done_at = models.DateTimeField(null=True)

    class Meta(ShopRecord.Meta):
        abstract = True
        indexes = [models.Index(fields=["state", "try_at"], name="%(class)s_due")]


class Document(Attempted):
    """One paper: its frozen sheet first, drawn second. `pdf` appears when a worker has drawn it."""

    kind = models.CharField(max_length=40)
    subject = models.CharField(max_length=80)
    number = models.CharField(max_length=40)
    title = models.CharField(max_length=200)
    sheet = models.JSONField()
    sheet_sha256 = models.CharField(max_length=64)
    pages = models.PositiveIntegerField(default=0)
    replaced = models.JSONField(default=list, help_text="characters that no font could print")
    pdf = models.ForeignKey(StoredFile, null=True, on_delete=models.PROTECT, related_name="+")
    signed = models.ForeignKey(
        StoredFile, null=True, on_delete=models.PROTECT, related_name="+", help_text="a copy signed by the certificate"
    )
    by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta(Attempted.Meta):
        indexes = [
            *Attempted.Meta.indexes,
            models.Index(fields=["shop", "subject", "created_at"], name="document_by_subject"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=~models.Q(state="done") | models.Q(pdf__isnull=False), name="done_document_has_pdf"
            )
        ]


class Letter(Attempted):
    """One e-mail, sent once. `sent_bytes` is the message exactly as it was handed to the mail server."""

    kind = models.CharField(max_length=40)
    subject = models.CharField(max_length=80)
    to_address = models.CharField(max_length=320)
    to_name = models.CharField(max_length=200, blank=True)
    from_name = models.CharField(max_length=200, blank=True)
    reply_to = models.CharField(max_length=320, blank=True)
    heading = models.CharField(max_length=200)
    body = models.TextField()
    message_id = models.CharField(max_length=200, unique=True)
    documents = models.ManyToManyField(Document, related_name="letters")
    enclosures = models.ManyToManyField(StoredFile, related_name="+", help_text="files sent along as they came in")
    sent_bytes = models.ForeignKey(StoredFile, null=True, on_delete=models.PROTECT, related_name="+")
    by = models.ForeignKey(User, null=True, on_delete=models.PROTECT, related_name="+")
    handed_over = models.BooleanField(default=False, help_text="set just before the mail server is asked to take it")

    class Meta(Attempted.Meta):
        indexes = [
            *Attempted.Meta.indexes,
            models.Index(fields=["shop", "subject", "created_at"], name="letter_by_subject"),
        ]
