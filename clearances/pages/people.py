"""Everybody who can or could sign in, for the administrator."""

from typing import Any

from ..acts import link
from ..models import Person
from ..rooms import roles_of


def context(back: str) -> dict[str, Any]:
    """What templates/desk/people.html names."""
    rows = [
        {
            "url": link("save_person", person=one.username, back=back)["url"],
            "cells": [
                str(one),
                one.username,
                roles_of(one),
                f"{one.may_hold_until:%d %b %Y}" if one.may_hold_until else "no",
                (one.employer or "employer not on record") if one.contractor else "no",
                "yes" if one.is_active else "no longer",
            ],
            "loud": False,
        }
        for one in Person.objects.order_by("-is_active", "last_name", "first_name", "pk")
    ]
    heads = ["Name", "Log-in name", "Roles", "May hold a clearance until", "Contractor", "Signs in"]
    return {"table": {"heads": heads, "rows": rows}, "acts": [link("save_person", back=back)]}
