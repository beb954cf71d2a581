from django.urls import path
from drf_spectacular.views import SpectacularAPIView
from rest_framework.authtoken.views import obtain_auth_token

from . import reading, verbs

urlpatterns = [
    path("schema/", SpectacularAPIView.as_view(), name="api-schema"),
    path("token/", obtain_auth_token, name="api-token"),
    path("me/", reading.Me.as_view(), name="api-me"),
    path("clearances/", reading.Clearances.as_view(), name="api-clearances"),
    path("clearances/<int:pk>/", reading.OneClearance.as_view(), name="api-clearance"),
    path("log/", reading.Log.as_view(), name="api-log"),
    *(path(f"do/{name}/", view, name=f"api-{name}") for name, view in verbs.ALL.items()),
]
