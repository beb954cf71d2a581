"""Tokens, for programs that keep no session."""

from typing import Any

from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework import serializers, status
from rest_framework.authtoken.models import Token as TokenRow
from rest_framework.authtoken.serializers import AuthTokenSerializer
from rest_framework.permissions import AllowAny, IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView


class TokenSerializer(serializers.Serializer[Any]):
    token = serializers.CharField(help_text="Send it as: Authorization: Token <token>")


class Token(APIView):
    """One token a person. Wrong passwords are counted as at the sign-in page."""

    def get_permissions(self) -> list[Any]:
        return [AllowAny() if self.request.method == "POST" else IsAuthenticated()]

    @extend_schema(
        operation_id="get_token",
        request=AuthTokenSerializer,
        responses=TokenSerializer,
        auth=[],
        examples=[
            OpenApiExample("Sign in", request_only=True, value={"username": "dana", "password": "yours"})
        ],
    )
    def post(self, request: Request) -> Response:
        """Your token, for your log-in name and password."""
        body = AuthTokenSerializer(data=request.data, context={"request": request})
        body.is_valid(raise_exception=True)
        token, _ = TokenRow.objects.get_or_create(user=body.validated_data["user"])
        return Response(TokenSerializer({"token": token.key}).data)

    @extend_schema(operation_id="give_token_back", responses={204: None})
    def delete(self, request: Request) -> Response:
        """Your token counts no longer; ask for another when you need one."""
        TokenRow.objects.filter(user=request.user.pk).delete()
        return Response(status=status.HTTP_204_NO_CONTENT)
