"""Signing in: a token for programs and front ends, a session for pages."""

from rest_framework.authentication import TokenAuthentication


class ShopTokenAuthentication(TokenAuthentication):
    """'Authorization: Token KEY', with the key that sign-in gave."""
