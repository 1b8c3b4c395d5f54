"""The words of the trade that findings are made of, for the front ends' lists: codes, names, and what is unsafe to run."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from orders.rules import trade
from orders.rules.units import measurement_units
from shopdocs.rest.requests import ShopRequest
from shopdocs.rest.roles import STAFF


class WordOut(serializers.Serializer[Any]):
    code = serializers.CharField()
    name = serializers.CharField()


class ComponentOut(WordOut):
    """`families` and `powers`: the machines on which it exists. `unsafe`: conditions in which the unit must not run."""

    system = serializers.CharField()
    families: Any = serializers.ListField(child=serializers.CharField())
    powers: Any = serializers.ListField(child=serializers.CharField())
    unsafe: Any = serializers.SerializerMethodField()

    def get_unsafe(self, component: trade.Component) -> list[str]:
        return sorted(component.unsafe)


class MeasurementOut(WordOut):
    quantity = serializers.CharField()


class WordsOut(serializers.Serializer[Any]):
    components = ComponentOut(many=True)
    conditions = WordOut(many=True)
    causes = WordOut(many=True)
    families = WordOut(many=True)
    power_sources = WordOut(many=True)
    measurement_units = MeasurementOut(many=True)


class WordsDoor(APIView):
    needs = {"get": STAFF}

    @extend_schema(operation_id="trade_words", responses=WordsOut)
    def get(self, request: ShopRequest) -> Response:
        """Every code that findings, units and measurements take."""
        words = {
            "components": trade.components(),
            "conditions": trade.conditions(),
            "causes": trade.causes(),
            "families": trade.families(),
            "power_sources": trade.power_sources(),
            "measurement_units": measurement_units(),
        }
        return Response(WordsOut(words).data)
