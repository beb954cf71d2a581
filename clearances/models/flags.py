"""Since when each flag has stood. What a flag says is computed anew every time."""

from django.db import models


class StandingFlag(models.Model):
    code = models.CharField(max_length=40)
    about = models.CharField(max_length=120)
    since = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(name="flag_stands_once", fields=["code", "about"])]

    def __str__(self) -> str:
        return f"{self.code} {self.about}"
