"""The tables as they stand, made in one go: a new database need not walk every step that led here."""

import django.contrib.auth.models
import django.contrib.auth.validators
import django.core.validators
import django.db.models.deletion
import django.utils.timezone
import shopdocs.shops.models
import uuid
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    # A database that went this way step by step counts as being here; one that stands between goes on step by step.
    replaces = [
        ('shops', '0001_initial'),
        ('shops', '0002_own_rules'),
        ('shops', '0003_storage_after_notice'),
        ('shops', '0004_tax_tables'),
        ('shops', '0005_rates_by_skill'),
        ('shops', '0006_shop_version'),
        ('shops', '0007_claim_camera_facts'),
        ('shops', '0008_measures_of_papers'),
        ('shops', '0009_electronic_invoice'),
        ('shops', '0010_corrected_rates'),
    ]

    initial = True

    dependencies = [
        ('auth', '0012_alter_user_first_name_max_length'),
    ]

    operations = [
        migrations.CreateModel(
            name='Shop',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('slug', models.SlugField(unique=True)),
                ('name', models.CharField(max_length=200)),
                ('street', models.CharField(blank=True, max_length=200)),
                ('city', models.CharField(blank=True, max_length=120)),
                ('region', models.CharField(blank=True, help_text='State or province, as its post office writes it', max_length=60)),
                ('postcode', models.CharField(blank=True, max_length=20)),
                ('country', models.CharField(default='US', max_length=2)),
                ('phone', models.CharField(blank=True, max_length=40)),
                ('email', models.EmailField(blank=True, max_length=254)),
                ('time_zone', models.CharField(default='UTC', max_length=60, validators=[shopdocs.shops.models.valid_zone])),
                ('currency', models.CharField(default='USD', max_length=3)),
                ('currency_symbol', models.CharField(default='$', max_length=4)),
                ('currency_decimals', models.PositiveSmallIntegerField(default=2)),
                ('paper', models.CharField(choices=[('letter', 'Letter'), ('a4', 'A4')], default='letter', max_length=10)),
                ('language', models.CharField(default='en', max_length=10)),
                ('measures', models.CharField(blank=True, choices=[('us', 'US customary'), ('metric', 'metric')], help_text='Units in which papers show what was measured, with the recorded ones beside; empty: as it was recorded', max_length=10)),
                ('accent', models.CharField(default='#1f5a7a', max_length=7, validators=[django.core.validators.RegexValidator('^#[0-9a-fA-F]{6}$')])),
                ('tax_basis', models.CharField(choices=[('item', 'each line rounded'), ('invoice', 'the sum rounded')], default='invoice', max_length=10)),
                ('estimate_days', models.PositiveSmallIntegerField(default=30, help_text='How long an estimate stays valid')),
                ('own_overrun_percent', models.DecimalField(decimal_places=3, default=0, help_text='How far a bill may exceed what was agreed before the customer is asked again; laws may be stricter', max_digits=6, validators=[django.core.validators.MinValueValidator(0)])),
                ('storage_free_days', models.PositiveSmallIntegerField(blank=True, help_text='Days after the work is finished before storage is charged; empty: never', null=True)),
                ('storage_per_day', models.DecimalField(blank=True, decimal_places=3, help_text="Storage a day by the shop's own terms; empty: none", max_digits=12, null=True, validators=[django.core.validators.MinValueValidator(0)])),
                ('storage_after_notice', models.BooleanField(default=True, help_text='Whether storage is charged only from when the customer was told that it will be')),
                ('tax_id', models.CharField(blank=True, help_text="The number under which the shop pays value-added tax, its country's two letters first", max_length=20, validators=[django.core.validators.RegexValidator('^([A-Z]{2}[0-9A-Z+*.]{2,13})?$')])),
                ('electronic_invoice', models.BooleanField(default=False, help_text='Whether invoices carry themselves as XML of the European standard')),
                ('claim_camera_facts', models.BooleanField(default=False, help_text='Whether a claim tells where its photos were taken, and by which camera')),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('version', models.PositiveIntegerField(default=1, help_text='Counts saves, so that a stale save is noticed')),
            ],
        ),
        migrations.CreateModel(
            name='User',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('password', models.CharField(max_length=128, verbose_name='password')),
                ('last_login', models.DateTimeField(blank=True, null=True, verbose_name='last login')),
                ('is_superuser', models.BooleanField(default=False, help_text='Designates that this user has all permissions without explicitly assigning them.', verbose_name='superuser status')),
                ('username', models.CharField(error_messages={'unique': 'A user with that username already exists.'}, help_text='Required. 150 characters or fewer. Letters, digits and @/./+/-/_ only.', max_length=150, unique=True, validators=[django.contrib.auth.validators.UnicodeUsernameValidator()], verbose_name='username')),
                ('first_name', models.CharField(blank=True, max_length=150, verbose_name='first name')),
                ('last_name', models.CharField(blank=True, max_length=150, verbose_name='last name')),
                ('email', models.EmailField(blank=True, max_length=254, verbose_name='email address')),
                ('is_staff', models.BooleanField(default=False, help_text='Designates whether the user can log into this admin site.', verbose_name='staff status')),
                ('is_active', models.BooleanField(default=True, help_text='Designates whether this user should be treated as active. Unselect this instead of deleting accounts.', verbose_name='active')),
                ('date_joined', models.DateTimeField(default=django.utils.timezone.now, verbose_name='date joined')),
                ('groups', models.ManyToManyField(blank=True, help_text='The groups this user belongs to. A user will get all permissions granted to each of their groups.', related_name='user_set', related_query_name='user', to='auth.group', verbose_name='groups')),
                ('user_permissions', models.ManyToManyField(blank=True, help_text='Specific permissions for this user.', related_name='user_set', related_query_name='user', to='auth.permission', verbose_name='user permissions')),
            ],
            options={
                'verbose_name': 'user',
                'verbose_name_plural': 'users',
                'abstract': False,
            },
            managers=[
                ('objects', django.contrib.auth.models.UserManager()),
            ],
        ),
        migrations.CreateModel(
            name='Event',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('subject', models.CharField(help_text='kind:id of the record', max_length=80)),
                ('verb', models.CharField(max_length=40)),
                ('words', models.CharField(blank=True, max_length=500)),
                ('facts', models.JSONField(default=dict)),
                ('by_name', models.CharField(blank=True, max_length=200)),
                ('at', models.DateTimeField(auto_now_add=True)),
                ('by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('shop', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='shops.shop')),
            ],
            options={
                'ordering': ('at', 'id'),
                'indexes': [models.Index(fields=['shop', 'subject', 'at'], name='event_by_subject')],
            },
        ),
        migrations.CreateModel(
            name='LabourRate',
            fields=[
                ('id', models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('updated_at', models.DateTimeField(auto_now=True)),
                ('version', models.PositiveIntegerField(default=1)),
                ('corrected_at', models.DateTimeField(blank=True, help_text='when another record took its place; empty: not', null=True)),
                ('payer', models.CharField(help_text='customer, warranty, shop or goodwill; empty for all', max_length=20)),
                ('skill', models.CharField(blank=True, help_text="'helper', say; empty: the usual rate", max_length=40)),
                ('per_hour', models.DecimalField(decimal_places=4, max_digits=12, validators=[django.core.validators.MinValueValidator(0)])),
                ('starts_on', models.DateField()),
                ('ends_on', models.DateField(blank=True, null=True)),
                ('corrects', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='corrected_by', to='shops.labourrate')),
                ('shop', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='shops.shop')),
            ],
            options={
                'ordering': ('created_at', 'id'),
                'abstract': False,
                'constraints': [models.UniqueConstraint(condition=models.Q(('corrected_at', None)), fields=('shop', 'payer', 'skill', 'starts_on'), name='one_labour_rate_per_start')],
            },
        ),
        migrations.CreateModel(
            name='NumberSeries',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=20)),
                ('prefix', models.CharField(blank=True, max_length=10)),
                ('last', models.PositiveBigIntegerField(default=0)),
                ('shop', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='shops.shop')),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('shop', 'name'), name='one_series_per_name')],
            },
        ),
        migrations.CreateModel(
            name='Staff',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('roles', models.JSONField(default=list, validators=[shopdocs.shops.models.valid_roles])),
                ('active', models.BooleanField(default=True)),
                ('shop', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='staff', to='shops.shop')),
                ('user', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='places', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('shop', 'user'), name='one_place_per_person_and_shop')],
            },
        ),
        migrations.CreateModel(
            name='TaxRate',
            fields=[
                ('id', models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                ('created_at', models.DateTimeField(auto_now_add=True)),
                ('updated_at', models.DateTimeField(auto_now=True)),
                ('version', models.PositiveIntegerField(default=1)),
                ('corrected_at', models.DateTimeField(blank=True, help_text='when another record took its place; empty: not', null=True)),
                ('name', models.CharField(max_length=120)),
                ('percent', models.DecimalField(decimal_places=4, max_digits=7, validators=[django.core.validators.MinValueValidator(0)])),
                ('on_kinds', models.JSONField(default=list, help_text='kinds of line: labour, part, fee, supplies')),
                ('on_payers', models.JSONField(default=list, help_text='payers: customer, warranty, shop, goodwill')),
                ('with_parts', models.JSONField(blank=True, default=list, help_text='kinds of on_kinds that are taxed only in a job with a part for the same payer')),
                ('brackets', models.JSONField(blank=True, help_text="a statute's bracket table, which replaces the percentage: see shopdocs/brackets.py", null=True)),
                ('starts_on', models.DateField()),
                ('ends_on', models.DateField(blank=True, null=True)),
                ('corrects', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='corrected_by', to='shops.taxrate')),
                ('shop', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='shops.shop')),
            ],
            options={
                'ordering': ('created_at', 'id'),
                'abstract': False,
                'constraints': [models.UniqueConstraint(condition=models.Q(('corrected_at', None)), fields=('shop', 'name', 'starts_on'), name='one_tax_rate_per_start')],
            },
        ),
    ]
