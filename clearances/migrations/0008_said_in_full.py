from django.db import migrations, models

POLE = "as it was said: a number that is not on the network is stored too"


class Migration(migrations.Migration):
    """What is said of the line is stored however long it is."""

    dependencies = [("clearances", "0007_told")]

    operations = [
        migrations.AlterField("signon", "name", models.TextField()),
        migrations.AlterField("groundset", "label", models.TextField()),
        migrations.AlterField("groundset", "pole", models.TextField(help_text=POLE)),
        migrations.AlterField("voltagetest", "pole", models.TextField(help_text=POLE)),
        migrations.AlterField("voltagetest", "instrument", models.TextField()),
    ]
