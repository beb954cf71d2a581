from django.apps import AppConfig


class NotificationsConfig(AppConfig):
    """Customer notices: the outbox, the channels they leave by, and the tasks that send them."""

    name = "notifications"
    default_auto_field = "django.db.models.BigAutoField"
