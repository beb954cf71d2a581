"""The addresses of circuits."""

from django.urls import path

from circuits import api, views

urlpatterns = [
    path("desk/circuits/<str:circuit_id>/", views.circuit, name="circuit"),
    path("desk/devices/<str:device_id>/", views.device, name="device"),
    path("api/v1/devices/", api.Devices.as_view(), name="api-devices"),
    path("api/v1/devices/<str:pk>/", api.OneDevice.as_view(), name="api-device"),
]
