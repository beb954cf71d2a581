"""The notices that need a person, and what is decided about them, over the API."""

from typing import Any

from drf_spectacular.utils import OpenApiExample, OpenApiResponse, extend_schema, inline_serializer
from rest_framework import generics, serializers, status
from rest_framework.exceptions import NotFound, PermissionDenied
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from notifications import outbox, selectors
from notifications.models import Notice
from notifications.states import WORDS, State
from notifications.views import DECISIONS, LONGEST, MAY_DECIDE, MAY_READ, MAY_TELL, has_role


class NoticeSerializer(serializers.ModelSerializer[Notice]):
    class Meta:
        model = Notice
        fields = (
            "id",
            "fact",
            "channel",
            "recipient",
            "about",
            "subject",
            "state",
            "reason",
            "attempts",
            "created_at",
            "sent_at",
            "decided_by",
        )


class DecisionSerializer(serializers.Serializer[Any]):
    decision = serializers.ChoiceField(
        [*DECISIONS, "attend"],
        help_text="The first three are for an unconfirmed notice, send_again and attend for a failed one.",
    )
    how = serializers.CharField(
        required=False,
        max_length=LONGEST,
        help_text="With attend: how the customer was told, or why nobody needs to be.",
    )

    def validate(self, data: dict[str, Any]) -> dict[str, Any]:
        if data["decision"] == "attend" and not data.get("how"):
            raise serializers.ValidationError(
                {"how": ["Say how the customer was told, or why nobody needs to be."]}
            )
        return data


class Notices(generics.ListAPIView[Notice]):
    """The notices that nobody will send unless a person decides: failed, unconfirmed, or (channel `hand`) to
    be told by hand; the oldest first.
    """

    roles = MAY_READ
    serializer_class = NoticeSerializer
    queryset = selectors.needs_a_person()


class Decide(APIView):
    roles = MAY_TELL

    @extend_schema(
        operation_id="decide_notice",
        request=DecisionSerializer,
        responses={
            200: NoticeSerializer,
            409: OpenApiResponse(
                inline_serializer("NothingToDecide", {"stale": serializers.CharField()}),
                "Nothing was left to decide, such as when another person was quicker.",
            ),
        },
        examples=[OpenApiExample("Send it again", request_only=True, value={"decision": "send_again"})],
    )
    def post(self, request: Request, pk: int) -> Response:
        """What is decided about a notice that needs a person: the operator may decide anything, customer
        service says how somebody was told (`attend`).
        """
        body = DecisionSerializer(data=request.data)
        body.is_valid(raise_exception=True)
        decision, by = body.validated_data["decision"], str(request.user)
        if decision != "attend" and not has_role(request, MAY_DECIDE):
            raise PermissionDenied("What becomes of a notice is decided by a system operator.")
        if decision == "attend":
            decided = outbox.attend(pk, by, body.validated_data["how"])
        else:
            decided = DECISIONS[decision][0](pk, by)
        notice = Notice.objects.filter(pk=pk).first()
        if notice is None:
            raise NotFound(f"There is no notice {pk}.")
        if not decided:
            sentence = f"Notice {pk} is {WORDS[State(notice.state)]}. Nothing was changed."
            return Response({"stale": sentence}, status=status.HTTP_409_CONFLICT)
        return Response(NoticeSerializer(notice).data)
