from django.apps import AppConfig


class CircuitsConfig(AppConfig):
    """The network of the utility: its tables, what is reported about its devices, its pages."""

    name = "circuits"
