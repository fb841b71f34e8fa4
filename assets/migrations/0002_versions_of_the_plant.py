from __future__ import annotations

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("assets", "0001_first"),
    ]

    operations = [
        *[
            migrations.AddField(
                model_name=name,
                name="version",
                field=models.PositiveIntegerField(default=1),
            )
            for name in ("area", "asset", "company", "person", "position", "site")
        ],
        migrations.AddField(
            model_name="area",
            name="retired_at",
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.AlterField(
            model_name="limit",
            name="value",
            field=models.CharField(blank=True, max_length=24),
        ),
    ]
