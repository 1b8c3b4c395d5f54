"""How money leaves the doors: a string with the shop's own number of decimals."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers


class Money(serializers.DecimalField):
    """An amount that is only read. Finer prices (a line by the foot) keep the decimals they need."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**{"max_digits": 14, "decimal_places": 3, "read_only": True, **kwargs})

    def to_representation(self, value: Any) -> str:
        request = self.context.get("request")
        decimals: int = request.shop.currency_decimals if request is not None else 2
        whole, _, part = f"{value:f}".partition(".")
        part = part.rstrip("0").ljust(decimals, "0")
        return f"{whole}.{part}" if part else whole
