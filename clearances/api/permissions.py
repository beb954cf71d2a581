"""Who may call a route of the API: the one permission class of all three apps, named in the settings."""

from typing import TYPE_CHECKING, cast

from rest_framework.permissions import IsAuthenticated
from rest_framework.request import Request

from ..models import Person, Role
from ..rooms import roles_of

if TYPE_CHECKING:
    from rest_framework.views import APIView  # which itself reads the setting that names this module


class HasRole(IsAuthenticated):
    """Whoever is signed in and has one of the roles that the view names in `roles`. A view that names none is
    open to nobody.
    """

    def has_permission(self, request: Request, view: "APIView") -> bool:
        if not super().has_permission(request, view):
            return False
        person = cast(Person, request.user)
        roles: tuple[str, ...] = getattr(view, "roles", ())
        names = ", ".join(Role(role).label for role in roles) or "nobody"
        self.message = f"This is for these roles: {names}. You are {roles_of(person)}."
        return person.has_role(*roles)
