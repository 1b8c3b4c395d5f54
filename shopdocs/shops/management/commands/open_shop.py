"""Opens a shop with its owner: `manage.py open_shop myshop --name "My Shop" --owner anna`."""

from __future__ import annotations

import getpass
import secrets
import sys
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import transaction

from shopdocs.shops.models import Shop, User
from shopdocs.shops.services import open_shop


class Command(BaseCommand):
    help = "Opens a shop with its owner, who then enters rates, taxes and people."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("slug", help="short name for addresses and the Shop header")
        parser.add_argument("--name", required=True)
        parser.add_argument("--owner", required=True, help="the name with which the owner signs in")
        parser.add_argument("--time-zone", default="UTC", help="an IANA name, such as America/Chicago")
        parser.add_argument("--email", default="")

    def handle(self, *args: Any, **options: Any) -> None:
        if Shop.objects.filter(slug=options["slug"]).exists():
            raise CommandError(f"A shop '{options['slug']}' is open already: choose another short name.")
        # Asked for at a terminal, so that it stands in no shell history; made up where nobody can be asked.
        asked = sys.stdin.isatty()
        password = getpass.getpass("Password for the owner: ") if asked else secrets.token_urlsafe(12)
        try:
            with transaction.atomic():
                owner = User(username=options["owner"])
                owner.set_password(password)
                owner.full_clean()
                owner.save()
                open_shop(
                    slug=options["slug"],
                    name=options["name"],
                    owner=owner,
                    time_zone=options["time_zone"],
                    email=options["email"],
                )
        except ValidationError as error:
            raise CommandError("; ".join(f"{k}: {' '.join(v)}" for k, v in error.message_dict.items())) from error
        print(f"Opened '{options['slug']}'. {options['owner']} can sign in" + ("." if asked else f" with: {password}"))
