import django.contrib.auth.models
import django.contrib.auth.validators
import django.contrib.postgres.fields
import django.db.models.deletion
import django.db.models.functions.datetime
import django.utils.timezone
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    dependencies = [
        ('auth', '0012_alter_user_first_name_max_length'),
        ('circuits', '0002_position_reports_append_only'),
    ]

    operations = [
        migrations.CreateModel(
            name='Clearance',
            fields=[
                ('number', models.BigAutoField(primary_key=True, serialize=False)),
                ('crew', models.CharField(max_length=80)),
                ('limits_words', models.CharField(help_text='made from the stored limits, never typed', max_length=300)),
                ('window_start', models.DateTimeField()),
                ('promised_end', models.DateTimeField()),
                ('latest_finish', models.DateTimeField()),
                ('recall_minutes', models.PositiveSmallIntegerField(help_text='minutes to have people and grounds off the line')),
                ('state', models.CharField(choices=[('asked', 'asked for'), ('given', 'given, not yet accepted'), ('accepted', 'accepted'), ('frozen', 'frozen: not valid to work'), ('released', 'released'), ('withdrawn', 'withdrawn')], default='asked', max_length=16)),
                ('version', models.PositiveIntegerField(default=1)),
                ('telling', models.PositiveSmallIntegerField(default=0, help_text='how many times the customers were told of the window')),
                ('given_at', models.DateTimeField(blank=True, null=True)),
                ('accepted_at', models.DateTimeField(blank=True, null=True)),
                ('accepted_words', models.CharField(blank=True, help_text='how the holder read it back', max_length=300)),
                ('released_at', models.DateTimeField(blank=True, null=True)),
                ('frozen_why', models.TextField(blank=True)),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('state__in', ['asked', 'given', 'accepted', 'frozen', 'released', 'withdrawn'])), name='clearance_state_known'), models.CheckConstraint(condition=models.Q(('window_start__lt', models.F('promised_end')), ('promised_end__lte', models.F('latest_finish'))), name='clearance_window_in_order'), models.CheckConstraint(condition=models.Q(models.Q(('state__in', ['accepted', 'released']), _negated=True), models.Q(('accepted_at__isnull', False), models.Q(('accepted_words', ''), _negated=True)), _connector='OR'), name='clearance_accepted_in_words'), models.CheckConstraint(condition=models.Q(models.Q(('state', 'frozen'), _negated=True), models.Q(('frozen_why', ''), _negated=True), _connector='OR'), name='clearance_frozen_why')],
            },
        ),
        migrations.CreateModel(
            name='Person',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('password', models.CharField(max_length=128, verbose_name='password')),
                ('last_login', models.DateTimeField(blank=True, null=True, verbose_name='last login')),
                ('is_superuser', models.BooleanField(default=False, help_text='Designates that this user has all permissions without explicitly assigning them.', verbose_name='superuser status')),
                ('username', models.CharField(error_messages={'unique': 'A user with that username already exists.'}, help_text='Required. 150 characters or fewer. Letters, digits and @/./+/-/_ only.', max_length=150, unique=True, validators=[django.contrib.auth.validators.UnicodeUsernameValidator()], verbose_name='username')),
                ('first_name', models.CharField(blank=True, max_length=150, verbose_name='first name')),
                ('last_name', models.CharField(blank=True, max_length=150, verbose_name='last name')),
                ('email', models.EmailField(blank=True, max_length=254, verbose_name='email address')),
                ('is_staff', models.BooleanField(default=False, help_text='Designates whether the user can log into this admin site.', verbose_name='staff status')),
                ('is_active', models.BooleanField(default=True, help_text='Designates whether this user should be treated as active. Unselect this instead of deleting accounts.', verbose_name='active')),
                ('date_joined', models.DateTimeField(default=django.utils.timezone.now, verbose_name='date joined')),
                ('roles', django.contrib.postgres.fields.ArrayField(base_field=models.CharField(choices=[('operator', 'system operator'), ('checker', 'checker / line supervisor'), ('foreman', 'crew foreman'), ('crew', 'crew member'), ('service', 'customer service'), ('engineer', 'network engineer'), ('administrator', 'administrator')], max_length=16), blank=True, default=list, size=None)),
                ('employer', models.CharField(blank=True, max_length=80)),
                ('phone', models.CharField(blank=True, max_length=32)),
                ('radio', models.CharField(blank=True, max_length=32)),
                ('may_hold_until', models.DateField(blank=True, help_text='last day on which this person is qualified to hold a clearance; empty = not qualified', null=True)),
                ('groups', models.ManyToManyField(blank=True, help_text='The groups this user belongs to. A user will get all permissions granted to each of their groups.', related_name='user_set', related_query_name='user', to='auth.group', verbose_name='groups')),
                ('user_permissions', models.ManyToManyField(blank=True, help_text='Specific permissions for this user.', related_name='user_set', related_query_name='user', to='auth.permission', verbose_name='user permissions')),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('roles__contained_by', ['operator', 'checker', 'foreman', 'crew', 'service', 'engineer', 'administrator'])), name='person_roles_known')],
            },
            managers=[
                ('objects', django.contrib.auth.models.UserManager()),
            ],
        ),
        migrations.CreateModel(
            name='SwitchingOrder',
            fields=[
                ('clearance', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, primary_key=True, related_name='order', serialize=False, to='clearances.clearance')),
                ('state', models.CharField(choices=[('draft', 'draft'), ('checked', 'checked'), ('paused', 'paused'), ('finished', 'finished'), ('withdrawn', 'withdrawn')], default='draft', max_length=16)),
                ('written_at', models.DateTimeField()),
                ('checked_at', models.DateTimeField(blank=True, null=True)),
                ('network_revision', models.BigIntegerField(help_text='the network it was written on')),
                ('paused_why', models.TextField(blank=True)),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('state__in', ['draft', 'checked', 'paused', 'finished', 'withdrawn'])), name='order_state_known'), models.CheckConstraint(condition=models.Q(models.Q(('state', 'paused'), _negated=True), models.Q(('paused_why', ''), _negated=True), _connector='OR'), name='order_paused_why')],
            },
        ),
        migrations.AddField(
            model_name='clearance',
            name='alternate',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='clearance',
            name='given_by',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='clearance',
            name='holder',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='clearances_held', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='clearance',
            name='released_by',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.CreateModel(
            name='AffectedPremises',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('care', models.CharField(max_length=16)),
                ('answered_by', models.CharField(blank=True, help_text='the person at the premises who answered', max_length=80)),
                ('plan', models.CharField(blank=True, max_length=200)),
                ('answered_at', models.DateTimeField(blank=True, null=True)),
                ('premises', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='circuits.premises')),
                ('taken_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('clearance', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='affected', to='clearances.clearance')),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('clearance', 'premises'), name='affected_once'), models.CheckConstraint(condition=models.Q(('answered_at__isnull', True), models.Q(models.Q(('answered_by', ''), _negated=True), models.Q(('plan', ''), _negated=True), ('taken_by__isnull', False)), _connector='OR'), name='answer_is_a_person')],
            },
        ),
        migrations.CreateModel(
            name='GroundSet',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('label', models.CharField(max_length=16)),
                ('pole', models.CharField(help_text='as it was said: a number that is not on the network is stored too', max_length=32)),
                ('phases', models.CharField(max_length=3)),
                ('on_at', models.DateTimeField()),
                ('on_by', models.TextField()),
                ('off_at', models.DateTimeField(blank=True, null=True)),
                ('off_by', models.TextField(blank=True)),
                ('irregular', models.TextField(blank=True)),
                ('clearance', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='ground_sets', to='clearances.clearance')),
            ],
            options={
                'ordering': ['on_at', 'pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('phases__regex', '^A?B?C?$'), models.Q(('phases', ''), _negated=True)), name='ground_phases'), models.UniqueConstraint(condition=models.Q(('off_at__isnull', True)), fields=('clearance', 'label', 'pole'), name='ground_set_once_at_a_pole')],
            },
        ),
        migrations.CreateModel(
            name='Interruption',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('off_at', models.DateTimeField()),
                ('on_at', models.DateTimeField(blank=True, null=True)),
                ('clearance', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='interruptions', to='clearances.clearance')),
                ('premises', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='circuits.premises')),
            ],
            options={
                'constraints': [models.UniqueConstraint(condition=models.Q(('on_at__isnull', True)), fields=('premises',), name='out_once'), models.CheckConstraint(condition=models.Q(('on_at__isnull', True), ('on_at__gte', models.F('off_at')), _connector='OR'), name='on_after_off')],
            },
        ),
        migrations.CreateModel(
            name='IsolationPoint',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('phases', models.CharField(max_length=3)),
                ('place', models.PositiveSmallIntegerField(help_text="1, 2, 3 ...: the second half of the tag's number")),
                ('clearance', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='points', to='clearances.clearance')),
                ('device', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='circuits.device')),
            ],
            options={
                'ordering': ['place'],
                'constraints': [models.CheckConstraint(condition=models.Q(('phases__regex', '^A?B?C?$'), models.Q(('phases', ''), _negated=True)), name='point_phases'), models.UniqueConstraint(fields=('clearance', 'device'), name='point_device_once'), models.UniqueConstraint(fields=('clearance', 'place'), name='point_place_once')],
            },
        ),
        migrations.CreateModel(
            name='Job',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('work', models.CharField(max_length=200)),
                ('reason_for_customers', models.CharField(max_length=80)),
                ('requested_at', models.DateTimeField(db_default=django.db.models.functions.datetime.Now())),
                ('state', models.CharField(choices=[('active', 'active'), ('finished', 'finished'), ('cancelled', 'cancelled')], default='active', max_length=16)),
                ('cancelled_why', models.CharField(blank=True, max_length=200)),
                ('requested_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('state__in', ['active', 'finished', 'cancelled'])), name='job_state_known')],
            },
        ),
        migrations.AddField(
            model_name='clearance',
            name='job',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='clearances', to='clearances.job'),
        ),
        migrations.CreateModel(
            name='Limit',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('phases', models.CharField(max_length=3)),
                ('clearance', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='limits', to='clearances.clearance')),
                ('line', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='circuits.line')),
                ('node', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='circuits.node')),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('line__isnull', True), ('node__isnull', False)), models.Q(('line__isnull', False), ('node__isnull', True)), _connector='OR'), name='limit_node_or_line'), models.CheckConstraint(condition=models.Q(('phases__regex', '^A?B?C?$'), models.Q(('phases', ''), _negated=True)), name='limit_phases'), models.UniqueConstraint(fields=('clearance', 'node'), name='limit_node_once'), models.UniqueConstraint(fields=('clearance', 'line'), name='limit_line_once')],
            },
        ),
        migrations.CreateModel(
            name='LogEntry',
            fields=[
                ('number', models.BigIntegerField(help_text='1, 2, 3 ... without gaps', primary_key=True, serialize=False)),
                ('verb', models.CharField(max_length=40)),
                ('words', models.TextField(help_text='the sentence a person reads')),
                ('how', models.CharField(max_length=16)),
                ('ordered_at', models.DateTimeField(blank=True, null=True)),
                ('done_at', models.DateTimeField(blank=True, null=True)),
                ('reported_at', models.DateTimeField(blank=True, null=True)),
                ('entered_at', models.DateTimeField()),
                ('irregular', models.TextField(blank=True)),
                ('key', models.UUIDField(blank=True, help_text="the sender's idempotency key", null=True)),
                ('data', models.JSONField(default=dict)),
                ('previous', models.CharField(max_length=64)),
                ('digest', models.CharField(max_length=64)),
                ('by', models.ForeignKey(help_text='who was at the keyboard', on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('clearance', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='entries', to='clearances.clearance')),
                ('speaking_for', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'verbose_name_plural': 'log entries',
                'ordering': ['number'],
                'indexes': [models.Index(fields=['clearance', 'number'], name='log_by_clearance')],
                'constraints': [models.UniqueConstraint(fields=('key',), name='one_entry_a_key'), models.CheckConstraint(condition=models.Q(('how__in', ['board', 'radio', 'telephone', 'in person'])), name='log_how_known')],
            },
        ),
        migrations.CreateModel(
            name='SignOn',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=80)),
                ('on_at', models.DateTimeField()),
                ('off_at', models.DateTimeField(blank=True, null=True)),
                ('irregular', models.TextField(blank=True)),
                ('clearance', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='sign_ons', to='clearances.clearance')),
            ],
            options={
                'ordering': ['on_at', 'pk'],
                'constraints': [models.UniqueConstraint(condition=models.Q(('off_at__isnull', True)), fields=('clearance', 'name'), name='signed_on_once')],
            },
        ),
        migrations.CreateModel(
            name='SourceDisposition',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('decision', models.CharField(max_length=200)),
                ('agreed_at', models.DateTimeField(db_default=django.db.models.functions.datetime.Now())),
                ('agreed_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('clearance', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='dispositions', to='clearances.clearance')),
                ('source', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='circuits.source')),
            ],
            options={
                'constraints': [models.UniqueConstraint(fields=('clearance', 'source'), name='disposition_source_once'), models.CheckConstraint(condition=models.Q(('decision', ''), _negated=True), name='disposition_in_words')],
            },
        ),
        migrations.CreateModel(
            name='Step',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('half', models.CharField(choices=[('isolate', 'isolate'), ('restore', 'restore')], max_length=8)),
                ('place', models.PositiveSmallIntegerField()),
                ('operation', models.CharField(choices=[('open', 'open, make inoperable and tag'), ('check_open', 'check open, make inoperable and tag'), ('remove_tag', 'remove tag'), ('close', 'close')], max_length=16)),
                ('phases', models.CharField(max_length=3)),
                ('state', models.CharField(choices=[('waiting', 'not given'), ('given', 'given, not yet reported'), ('reported', 'reported'), ('left_out', 'left out')], default='waiting', max_length=16)),
                ('given_at', models.DateTimeField(blank=True, null=True)),
                ('given_to', models.CharField(blank=True, max_length=80)),
                ('reported_phases', models.CharField(blank=True, default='', max_length=3)),
                ('reported_at', models.DateTimeField(blank=True, null=True)),
                ('device', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='circuits.device')),
                ('given_by', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('point', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='steps', to='clearances.isolationpoint')),
            ],
            options={
                'ordering': ['half', 'place'],
                'constraints': [models.CheckConstraint(condition=models.Q(('half__in', ['isolate', 'restore'])), name='step_half_known'), models.CheckConstraint(condition=models.Q(models.Q(('half', 'isolate'), ('operation__in', ['open', 'check_open'])), models.Q(('half', 'restore'), ('operation__in', ['remove_tag', 'close'])), _connector='OR'), name='step_operation_fits_half'), models.CheckConstraint(condition=models.Q(('state__in', ['waiting', 'given', 'reported', 'left_out'])), name='step_state_known'), models.CheckConstraint(condition=models.Q(('phases__regex', '^A?B?C?$'), models.Q(('phases', ''), _negated=True)), name='step_phases'), models.CheckConstraint(condition=models.Q(('state__in', ['waiting', 'left_out']), models.Q(('given_at__isnull', False), ('given_by__isnull', False), models.Q(('given_to', ''), _negated=True)), _connector='OR'), name='step_given_by_someone'), models.CheckConstraint(condition=models.Q(models.Q(('state', 'reported'), _negated=True), models.Q(('reported_at__isnull', False), ('reported_phases', models.F('phases'))), _connector='OR'), name='step_reported_whole'), models.UniqueConstraint(condition=models.Q(('state', 'given')), fields=('device',), name='one_step_given_a_device')],
            },
        ),
        migrations.CreateModel(
            name='Tag',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.CharField(max_length=24)),
                ('phases', models.CharField(max_length=3)),
                ('hung_at', models.DateTimeField()),
                ('hung_by', models.TextField()),
                ('off_at', models.DateTimeField(blank=True, null=True)),
                ('off_by', models.TextField(blank=True)),
                ('irregular', models.TextField(blank=True)),
                ('clearance', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='tags', to='clearances.clearance')),
                ('device', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='circuits.device')),
                ('point', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='tags', to='clearances.isolationpoint')),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('phases__regex', '^A?B?C?$'), models.Q(('phases', ''), _negated=True)), name='tag_phases'), models.CheckConstraint(condition=models.Q(('off_at__isnull', True), models.Q(('off_by', ''), _negated=True), _connector='OR'), name='tag_off_by_someone'), models.UniqueConstraint(condition=models.Q(('off_at__isnull', True)), fields=('number',), name='tag_hung_once')],
            },
        ),
        migrations.CreateModel(
            name='VoltageTest',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('pole', models.CharField(help_text='as it was said: a number that is not on the network is stored too', max_length=32)),
                ('phases', models.CharField(max_length=3)),
                ('result', models.CharField(choices=[('none', 'no voltage found'), ('present', 'VOLTAGE PRESENT')], max_length=8)),
                ('instrument', models.CharField(max_length=80)),
                ('tester_proven', models.BooleanField()),
                ('done_at', models.DateTimeField()),
                ('said_by', models.TextField()),
                ('irregular', models.TextField(blank=True)),
                ('clearance', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='tests', to='clearances.clearance')),
            ],
            options={
                'ordering': ['done_at', 'pk'],
                'constraints': [models.CheckConstraint(condition=models.Q(('phases__regex', '^A?B?C?$'), models.Q(('phases', ''), _negated=True)), name='test_phases'), models.CheckConstraint(condition=models.Q(('result__in', ['none', 'present'])), name='test_result_known')],
            },
        ),
        migrations.AddField(
            model_name='switchingorder',
            name='checked_by',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='switchingorder',
            name='written_by',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='step',
            name='order',
            field=models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='steps', to='clearances.switchingorder'),
        ),
        migrations.AddConstraint(
            model_name='clearance',
            constraint=models.CheckConstraint(condition=models.Q(('state__in', ['asked', 'withdrawn']), models.Q(('given_at__isnull', False), ('given_by__isnull', False)), _connector='OR'), name='clearance_given_by_someone'),
        ),
        migrations.AddConstraint(
            model_name='clearance',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('state', 'released'), _negated=True), models.Q(('released_at__isnull', False), ('released_by', models.F('holder')), ('released_by__isnull', False)), _connector='OR'), name='clearance_released_by_holder'),
        ),
        migrations.AddConstraint(
            model_name='switchingorder',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('state__in', ['draft', 'withdrawn']), models.Q(('checked_at__isnull', False), ('checked_by__isnull', False)), _connector='OR'), models.Q(('checked_by__isnull', True), models.Q(('checked_by', models.F('written_by')), _negated=True), _connector='OR')), name='order_checked_by_another'),
        ),
        migrations.AddConstraint(
            model_name='step',
            constraint=models.UniqueConstraint(fields=('order', 'half', 'place'), name='step_place_once'),
        ),
        migrations.AddConstraint(
            model_name='step',
            constraint=models.UniqueConstraint(condition=models.Q(('state', 'given')), fields=('order',), name='one_step_given_at_a_time'),
        ),
    ]
