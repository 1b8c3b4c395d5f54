"""Signing in, and who is calling."""

from __future__ import annotations

from typing import Any

from django.contrib.auth import authenticate
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.authtoken.models import Token
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.throttling import ScopedRateThrottle
from rest_framework.views import APIView

from shopdocs.rest.requests import ShopRequest
from shopdocs.rest.roles import ANYONE, STAFF
from shopdocs.rest.serializers import Line, Strict
from shopdocs.shops.models import Staff, User


class SignInIn(Strict):
    username = Line(max_length=150)
    password = Line(max_length=200, trim_whitespace=False)


class PlaceOut(serializers.Serializer[Any]):
    shop = serializers.SlugField(source="shop.slug")
    name = serializers.CharField(source="shop.name")
    roles: Any = serializers.ListField(child=serializers.CharField())


class SignInOut(serializers.Serializer[Any]):
    token = serializers.CharField()
    name = serializers.CharField()
    places = PlaceOut(many=True)


class WhoOut(serializers.Serializer[Any]):
    name = serializers.CharField()
    place = PlaceOut()


class SignIn(APIView):
    """Gives the token that every other door asks for: 'Authorization: Token ...'."""

    needs = {"post": ANYONE}
    authentication_classes = ()
    throttle_classes = (ScopedRateThrottle,)
    throttle_scope = "sign-in"

    def get_authenticate_header(self, request: Request) -> str:
        """Without authentication classes nothing else names the scheme, and a wrong password would answer 403."""
        return "Token"

    @extend_schema(operation_id="sign_in", request=SignInIn, responses=SignInOut, auth=[])
    def post(self, request: Request) -> Response:
        given = SignInIn(data=request.data)
        given.is_valid(raise_exception=True)
        user: Any = authenticate(request._request, **given.validated_data)
        if not isinstance(user, User):
            raise AuthenticationFailed({"password": "The name or the password is not right."})
        token, _ = Token.objects.get_or_create(user=user)
        places = Staff.objects.select_related("shop").filter(user=user, active=True)
        return Response(SignInOut({"token": token.key, "name": user.shown_name, "places": places}).data)


class SignOut(APIView):
    needs = {"post": STAFF}

    @extend_schema(operation_id="sign_out", request=None, responses={204: None})
    def post(self, request: ShopRequest) -> Response:
        """Makes the caller's token worthless."""
        Token.objects.filter(user=request.staff.user).delete()
        return Response(status=204)


class Who(APIView):
    needs = {"get": STAFF}

    @extend_schema(operation_id="who_am_i", responses=WhoOut)
    def get(self, request: ShopRequest) -> Response:
        """Who is calling, at which shop, in which roles."""
        staff: Staff = request.staff
        return Response(WhoOut({"name": staff.user.shown_name, "place": staff}).data)
