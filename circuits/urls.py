"""The addresses of circuits."""

from django.urls import path

from circuits import api, intake_views, isolation_api, map_views, views, whatif_api

urlpatterns = [
    path("desk/circuits/<str:circuit_id>/", views.circuit, name="circuit"),
    path("desk/find/", views.find, name="find"),
    path("desk/map/", map_views.page, name="map"),
    path("desk/map/network/", map_views.lie, name="map_network"),
    path("desk/map/state/", map_views.stand, name="map_state"),
    path("desk/devices/<str:device_id>/", views.device, name="device"),
    path("desk/packages/", intake_views.packages, name="packages"),
    path("desk/packages/datapackage.json", intake_views.schema, name="package_schema"),
    path("desk/packages/network.zip", intake_views.export, name="package_export"),
    path("desk/packages/<int:package_id>/", intake_views.package, name="package"),
    path("api/v1/devices/", api.Devices.as_view(), name="api-devices"),
    path("api/v1/devices/<str:pk>/", api.OneDevice.as_view(), name="api-device"),
    path("api/v1/network/what-if", whatif_api.WhatIf.as_view(), name="api-what-if"),
    path("api/v1/network/isolation", isolation_api.Isolation.as_view(), name="api-isolation"),
]
