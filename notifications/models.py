"""The outbox and the heartbeats. What a row may become stands in the database: see the migrations."""

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Now

from notifications.states import State


class Notice(models.Model):
    """One promise to tell one recipient one fact about one premises.

    It is written in the transaction of the change it tells of, so that there is never a change without its
    notice, nor a notice without its change. Text and recipient are frozen at that moment: a trigger refuses
    to change them. Sending comes later and is recorded in the other columns.
    """

    fact = models.TextField(help_text="what is told, such as 'interruption:17:off'")
    channel = models.TextField(help_text="the way it leaves by: a name in notifications.channels.CHANNELS")
    recipient = models.TextField(help_text="the address in that channel")
    about = models.TextField(help_text="the premises it is about")
    subject = models.TextField()
    body = models.TextField()
    message_id = models.TextField(help_text="RFC 5322 Message-ID: the same in every attempt")
    created_at = models.DateTimeField(db_default=Now())

    state = models.TextField(default=State.WAITING.value)
    reason = models.TextField(
        default="", help_text="a sentence: why it is in this state, or what was tried last"
    )
    attempts = models.PositiveIntegerField(default=0)
    next_try_at = models.DateTimeField(db_default=Now())
    claimed_by = models.TextField(default="", help_text="the claim of the worker that has or last had it")
    lease_until = models.DateTimeField(null=True)
    sent_at = models.DateTimeField(null=True)
    decided_by = models.TextField(
        default="", help_text="the person who dealt with it after it failed or was unconfirmed"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["fact", "about", "channel", "recipient"], name="notice_promised_once"
            ),
            models.CheckConstraint(
                condition=Q(state__in=[state.value for state in State]), name="notice_state_known"
            ),
            models.CheckConstraint(
                condition=~Q(state=State.SENT.value) | Q(sent_at__isnull=False),
                name="notice_sent_has_its_time",
            ),
            models.CheckConstraint(
                condition=~Q(state=State.SENDING.value) | Q(lease_until__isnull=False) & ~Q(claimed_by=""),
                name="notice_sending_has_a_lease",
            ),
            models.CheckConstraint(
                condition=~Q(state__in=[State.FAILED.value, State.SUPERSEDED.value, State.UNCONFIRMED.value])
                | ~Q(reason=""),
                name="notice_not_sent_has_a_reason",
            ),
        ]
        indexes = [
            models.Index(
                F("next_try_at"), F("id"), condition=Q(state=State.WAITING.value), name="notice_waiting"
            ),
            models.Index(
                fields=["lease_until"], condition=Q(state=State.SENDING.value), name="notice_sending"
            ),
            models.Index(
                fields=["created_at"],
                condition=Q(state__in=[State.FAILED.value, State.UNCONFIRMED.value], decided_by=""),
                name="notice_needs_a_person",
            ),
            models.Index(fields=["about", "created_at"], name="notice_about"),
        ]

    def __str__(self) -> str:
        return f"{self.fact} to {self.recipient}: {self.state}"


class Heartbeat(models.Model):
    """When a background process was last heard of.

    `worker` is written by the sweep of any worker, which needs PostgreSQL alone; `beat` by a task that beat
    sent and a worker ran, so it also says that Redis carries messages.
    """

    name = models.TextField(primary_key=True)
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.name} {self.at:%H:%M:%S}"
