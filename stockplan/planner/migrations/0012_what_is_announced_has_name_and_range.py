"""An announcement has a name, and a factor of 0.05 to 20."""

from decimal import Decimal
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0022_carts'),
        ('planner', '0011_purchase_advice_is_kept'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.RemoveConstraint(
            model_name='announceddemand',
            name='announceddemand_factor_positive',
        ),
        migrations.AddConstraint(
            model_name='announceddemand',
            constraint=models.CheckConstraint(condition=models.Q(('name', ''), _negated=True), name='announceddemand_is_named'),
        ),
        migrations.AddConstraint(
            model_name='announceddemand',
            constraint=models.CheckConstraint(condition=models.Q(('factor__gte', Decimal('0.05')), ('factor__lte', Decimal('20'))), name='announceddemand_factor_in_range'),
        ),
    ]
