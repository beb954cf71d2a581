"""So that a caller's street is found although it is misspelt. A trusted extension: the tables' owner may add it."""

from django.contrib.postgres.operations import TrigramExtension
from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [("clearances", "0003_flags")]
    operations = [TrigramExtension()]
