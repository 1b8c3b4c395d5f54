"""What the doors of the front half share: strict flags, versions, changes, and the caller."""

from __future__ import annotations

import copy
import re
from decimal import Decimal
from typing import Any

from rest_framework import serializers, status
from rest_framework.response import Response

from orders.services.records import given_in_address
from shopdocs.documents.press.words import languages, speaks
from shopdocs.rest.serializers import Amount, Line, Strict
from shopdocs.rest.views import ScopedView
from shopdocs.shops.scoping import ShopRecord
from shopdocs.shops.services import refuse_no_change


class Flag(serializers.BooleanField):
    """True or false as JSON has them; 'yes' and 1 are texts and numbers, not flags."""

    def to_internal_value(self, data: Any) -> bool:
        if not isinstance(data, bool):
            self.fail("invalid", input=data)
        return data


class Hours(Amount):
    """Hours on a meter, in tenths."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{"max_digits": 8, "decimal_places": 1, **kwargs})


class Measure(serializers.DecimalField):
    """A measured value; whether it may be below zero is for its unit to say."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{"max_digits": 14, "decimal_places": 4, **kwargs})

    def to_internal_value(self, data: Any) -> Decimal:
        if isinstance(data, bool):
            self.fail("invalid")
        value: Decimal = super().to_internal_value(data)
        return value


class Mail(serializers.EmailField):
    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{"max_length": 320, "allow_blank": True, "required": False, **kwargs})


class Language(Line):
    """A language in which papers are written, such as 'es'; or a region's form of one, such as 'es-MX'."""

    FORM = re.compile(r"[A-Za-z]{2,3}([-_][A-Za-z0-9]{2,8})*")

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{"max_length": 10, **kwargs})

    def to_internal_value(self, data: Any) -> str:
        text: str = super().to_internal_value(data)
        if text and (not self.FORM.fullmatch(text) or not speaks(text)):
            problem = f"'{text}' is no language of our papers. Known here: {', '.join(languages())}."
            raise serializers.ValidationError(problem, "invalid_choice")
        return text


class Version(serializers.IntegerField):
    """The version that the caller has read; a save on top of another's is refused with what changed."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{"min_value": 1, "max_value": 2_147_483_647, **kwargs})


class Change(Strict):
    """A change to a record: the version that was read, and the fields to change."""

    version = Version()


def optional_line(**kwargs: Any) -> Line:
    return Line(**{"required": False, "allow_blank": True, **kwargs})


class FrontView(ScopedView):
    """A ScopedView that knows its caller, takes partial changes, and answers with the record as it is read."""

    @property
    def caller(self) -> dict[str, Any]:
        return {"shop": self.request.shop, "by": self.request.staff}

    def given_changes(self, serializer: type[Change]) -> dict[str, Any]:
        """`version` and `changes` out of the request; raises 400 when nothing is to be changed."""
        changes = self.given(serializer)
        version = changes.pop("version")
        if not changes:
            model: Any = self.model
            record: ShopRecord = given_in_address(model, shop=self.request.shop, pk=self.kwargs["pk"])
            names = [name for name in serializer._declared_fields if name != "version"]
            refuse_no_change(
                record, version=version, fields=names, remedy="Send at least one field beside the version."
            )
        return {"version": version, "changes": changes}

    def shown(self, record: ShopRecord, *, new: bool = False) -> Response:
        """The record, read again with everything that its serializer shows."""
        row = self.get_queryset().get(pk=record.pk)
        code = status.HTTP_201_CREATED if new else status.HTTP_200_OK
        return Response(self.get_serializer(row).data, status=code)


def changing(given: type[Strict], name: str, *, without: tuple[str, ...] = ()) -> type[Change]:
    """The serializer for changes to what `given` creates: every field optional, no defaults, and the version."""
    fields: dict[str, Any] = {}
    for field_name, field in given._declared_fields.items():
        if field_name not in without:
            # A serializer builds its fields anew from their arguments, so that is where 'optional' must stand.
            fields[field_name] = copy.deepcopy(field)
            fields[field_name]._kwargs["required"] = False
    return type(name, (Change,), {"__doc__": Change.__doc__, **fields})
