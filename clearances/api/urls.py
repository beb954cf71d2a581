from django.urls import path
from drf_spectacular.views import SpectacularAPIView

from . import customers, reading, tokens, verbs

urlpatterns = [
    path("schema/", SpectacularAPIView.as_view(), name="api-schema"),
    path("token/", tokens.Token.as_view(), name="api-token"),
    path("me/", reading.Me.as_view(), name="api-me"),
    path("clearances/", reading.Clearances.as_view(), name="api-clearances"),
    path("clearances/<int:pk>/", reading.OneClearance.as_view(), name="api-clearance"),
    path("customers/", customers.Customers.as_view(), name="api-customers"),
    path("customers/<str:pk>/", customers.OneCustomer.as_view(), name="api-customer"),
    path("flags/", reading.Flags.as_view(), name="api-flags"),
    path("log/", reading.Log.as_view(), name="api-log"),
    *(path(f"do/{name}/", view, name=f"api-{name}") for name, view in verbs.ALL.items()),
]
