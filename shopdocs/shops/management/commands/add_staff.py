"""Gives a person a place at a shop: `manage.py add_staff myshop bo --name "Bo Ek" --roles technician,writer`."""

from __future__ import annotations

import getpass
import secrets
import sys
from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser

from shopdocs.rest.roles import ROLES
from shopdocs.shops.models import Shop
from shopdocs.shops.services import add_staff


class Command(BaseCommand):
    help = "Adds a person to a shop with one or more roles: " + ", ".join(ROLES)

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("shop", help="the shop's short name")
        parser.add_argument("username")
        parser.add_argument("--name", required=True, help="full name, as papers show it")
        parser.add_argument("--roles", required=True, help="comma between them")

    def handle(self, *args: Any, **options: Any) -> None:
        shop = Shop.objects.filter(slug=options["shop"]).first()
        if shop is None:
            raise CommandError(f"There is no shop '{options['shop']}': open it first with open_shop.")
        asked = sys.stdin.isatty()
        password = getpass.getpass("Password: ") if asked else secrets.token_urlsafe(12)
        try:
            staff = add_staff(
                shop=shop,
                username=options["username"],
                full_name=options["name"],
                password=password,
                roles=[role.strip() for role in options["roles"].split(",") if role.strip()],
            )
        except ValidationError as error:
            raise CommandError("; ".join(f"{k}: {' '.join(v)}" for k, v in error.message_dict.items())) from error
        print(f"Added {staff}." + ("" if asked else f" Password: {password}"))
