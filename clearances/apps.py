from django.apps import AppConfig


class ClearancesConfig(AppConfig):
    name = "clearances"
    default_auto_field = "django.db.models.BigAutoField"
