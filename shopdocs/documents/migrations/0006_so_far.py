"""The tables as they stand, made in one go: a new database need not walk every step that led here."""

import django.db.models.deletion
import uuid
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    # A database that went this way step by step counts as being here; one that stands between goes on step by step.
    replaces = [
        ('documents', '0001_initial'),
        ('documents', '0002_initial'),
        ('documents', '0003_enclosures'),
        ('documents', '0004_photo_marks'),
        ('documents', '0005_small_copies'),
        ('documents', '0006_signed_copies'),
    ]

    initial = True

    dependencies = [
        ('shops', '0001_initial'),
    ]

    operations = [
        migrations.CreateModel(
            name='StoredFile',
            fields=[
                ('id', models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('updated_at', models.DateTimeField(auto_now=True)),
                ('version', models.PositiveIntegerField(default=1)),
                ('sha256', models.CharField(max_length=64)),
                ('size', models.PositiveBigIntegerField()),
                ('media_type', models.CharField(max_length=100)),
                ('place', models.CharField(help_text='name in the storage', max_length=200)),
                ('shop', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='shops.shop')),
            ],
            options={
                'ordering': ('created_at', 'id'),
                'abstract': False,
                'constraints': [models.UniqueConstraint(fields=('shop', 'sha256'), name='same_bytes_once_per_shop')],
            },
        ),
        migrations.CreateModel(
            name='Document',
            fields=[
                ('id', models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('updated_at', models.DateTimeField(auto_now=True)),
                ('version', models.PositiveIntegerField(default=1)),
                ('state', models.CharField(choices=[('waiting', 'waiting'), ('working', 'being worked on'), ('done', 'done'), ('stopped', 'stopped: needs a person')], default='waiting', max_length=10)),
                ('attempts', models.PositiveSmallIntegerField(default=0)),
                ('try_at', models.DateTimeField(help_text='not before this moment; while working, when the lease ends')),
                ('lease', models.UUIDField(help_text='whose turn it is; a worker that lost its turn records nothing', null=True)),
                ('problem', models.TextField(blank=True)),
                ('done_at', models.DateTimeField(null=True)),
                ('kind', models.CharField(max_length=40)),
                ('subject', models.CharField(max_length=80)),
                ('number', models.CharField(max_length=40)),
                ('title', models.CharField(max_length=200)),
                ('sheet', models.JSONField()),
                ('sheet_sha256', models.CharField(max_length=64)),
                ('pages', models.PositiveIntegerField(default=0)),
                ('replaced', models.JSONField(default=list, help_text='characters that no font could print')),
                ('by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('shop', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='shops.shop')),
                ('pdf', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='documents.storedfile')),
                ('signed', models.ForeignKey(help_text='a copy signed by the certificate', null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='documents.storedfile')),
            ],
            options={
                'ordering': ('created_at', 'id'),
                'abstract': False,
                'indexes': [models.Index(fields=['state', 'try_at'], name='document_due'), models.Index(fields=['shop', 'subject', 'created_at'], name='document_by_subject')],
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('state', 'done'), _negated=True), ('pdf__isnull', False), _connector='OR'), name='done_document_has_pdf')],
            },
        ),
        migrations.CreateModel(
            name='Photo',
            fields=[
                ('id', models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('updated_at', models.DateTimeField(auto_now=True)),
                ('version', models.PositiveIntegerField(default=1)),
                ('subject', models.CharField(help_text='kind:id of what it belongs to, such as order:...', max_length=80)),
                ('about', models.CharField(blank=True, help_text='kind:id of what it proves, such as finding:...', max_length=80)),
                ('kind', models.CharField(help_text='jpeg, png, webp, heic or pdf, by content', max_length=10)),
                ('width', models.PositiveIntegerField(default=0)),
                ('height', models.PositiveIntegerField(default=0)),
                ('taken_at', models.DateTimeField(help_text="the camera's own time, as evidence", null=True)),
                ('has_gps', models.BooleanField(default=False)),
                ('moment', models.CharField(choices=[('check_in', 'at check-in'), ('before', 'before repair'), ('after', 'after repair'), ('serial_plate', 'serial plate'), ('hour_meter', 'hour meter'), ('label', 'emission label'), ('proof', 'proof of purchase')], max_length=20)),
                ('caption', models.CharField(blank=True, max_length=400)),
                ('warnings', models.JSONField(default=list)),
                ('marks', models.JSONField(blank=True, default=list, help_text='arrows, circles, a scale bar over the picture, as facts.PhotoMark')),
                ('fingerprint', models.CharField(blank=True, help_text='perceptual hash, to see duplicates', max_length=16)),
                ('by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('shop', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='shops.shop')),
                ('original', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='documents.storedfile')),
                ('printable', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='documents.storedfile')),
                ('small', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='documents.storedfile')),
            ],
            options={
                'ordering': ('created_at', 'id'),
                'abstract': False,
                'indexes': [models.Index(fields=['shop', 'subject', 'created_at'], name='photo_by_subject')],
            },
        ),
        migrations.CreateModel(
            name='Letter',
            fields=[
                ('id', models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('updated_at', models.DateTimeField(auto_now=True)),
                ('version', models.PositiveIntegerField(default=1)),
                ('state', models.CharField(choices=[('waiting', 'waiting'), ('working', 'being worked on'), ('done', 'done'), ('stopped', 'stopped: needs a person')], default='waiting', max_length=10)),
                ('attempts', models.PositiveSmallIntegerField(default=0)),
                ('try_at', models.DateTimeField(help_text='not before this moment; while working, when the lease ends')),
                ('lease', models.UUIDField(help_text='whose turn it is; a worker that lost its turn records nothing', null=True)),
                ('problem', models.TextField(blank=True)),
                ('done_at', models.DateTimeField(null=True)),
                ('kind', models.CharField(max_length=40)),
                ('subject', models.CharField(max_length=80)),
                ('to_address', models.CharField(max_length=320)),
                ('to_name', models.CharField(blank=True, max_length=200)),
                ('from_name', models.CharField(blank=True, max_length=200)),
                ('reply_to', models.CharField(blank=True, max_length=320)),
                ('heading', models.CharField(max_length=200)),
                ('body', models.TextField()),
                ('message_id', models.CharField(max_length=200, unique=True)),
                ('handed_over', models.BooleanField(default=False, help_text='set just before the mail server is asked to take it')),
                ('by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('documents', models.ManyToManyField(related_name='letters', to='documents.document')),
                ('shop', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='shops.shop')),
                ('enclosures', models.ManyToManyField(help_text='files sent along as they came in', related_name='+', to='documents.storedfile')),
                ('sent_bytes', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='documents.storedfile')),
            ],
            options={
                'ordering': ('created_at', 'id'),
                'abstract': False,
                'indexes': [models.Index(fields=['state', 'try_at'], name='letter_due'), models.Index(fields=['shop', 'subject', 'created_at'], name='letter_by_subject')],
            },
        ),
    ]
