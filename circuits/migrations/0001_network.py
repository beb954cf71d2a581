import circuits.fields
import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    initial = True

    dependencies = [
    ]

    operations = [
        migrations.CreateModel(
            name='Circuit',
            fields=[
                ('id', models.CharField(primary_key=True, serialize=False)),
                ('name', models.CharField()),
                ('nominal_kv', circuits.fields.Quantity()),
                ('grounding', models.CharField()),
                ('normal_limit_a', circuits.fields.Quantity(blank=True, null=True)),
                ('emergency_limit_a', circuits.fields.Quantity(blank=True, null=True)),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('grounding__in', ['multigrounded_wye', 'unigrounded_wye', 'delta'])), name='circuits_circuit_grounding'), models.CheckConstraint(condition=models.Q(('nominal_kv__gt', 0)), name='circuits_circuit_kv')],
            },
        ),
        migrations.CreateModel(
            name='Conductor',
            fields=[
                ('id', models.CharField(primary_key=True, serialize=False)),
                ('description', models.CharField(blank=True, default='')),
                ('ampacity_a', circuits.fields.Quantity()),
                ('emergency_a', circuits.fields.Quantity(blank=True, null=True)),
                ('r1', circuits.fields.Quantity()),
                ('x1', circuits.fields.Quantity()),
                ('r0', circuits.fields.Quantity(blank=True, null=True)),
                ('x0', circuits.fields.Quantity(blank=True, null=True)),
                ('b1_us_km', circuits.fields.Quantity(blank=True, null=True)),
                ('r_matrix', models.CharField(blank=True, default='')),
                ('x_matrix', models.CharField(blank=True, default='')),
                ('b_matrix', models.CharField(blank=True, default='')),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('ampacity_a__gt', 0)), name='circuits_conductor_ampacity')],
            },
        ),
        migrations.CreateModel(
            name='NetworkRevision',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('imported_at', models.DateTimeField()),
                ('digest', models.CharField()),
                ('note', models.CharField(blank=True, default='')),
                ('imported_by', models.CharField(blank=True, default='')),
            ],
        ),
        migrations.CreateModel(
            name='Line',
            fields=[
                ('id', models.CharField(primary_key=True, serialize=False)),
                ('phases', models.CharField()),
                ('length_m', circuits.fields.Quantity()),
                ('placement', models.CharField()),
                ('neutral', models.CharField(blank=True, default='')),
                ('out_of_service', models.BooleanField(blank=True, null=True)),
                ('circuit', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='lines', to='circuits.circuit')),
                ('conductor', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='lines', to='circuits.conductor')),
                ('retired_in', models.ForeignKey(blank=True, db_index=False, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='circuits.networkrevision')),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('phases__regex', '^A?B?C?$'), models.Q(('phases', ''), _negated=True)), name='circuits_line_phases'), models.CheckConstraint(condition=models.Q(('length_m__gt', 0)), name='circuits_line_length'), models.CheckConstraint(condition=models.Q(('placement__in', ['overhead', 'underground'])), name='circuits_line_placement'), models.CheckConstraint(condition=models.Q(('neutral__in', ['continuous', 'none', ''])), name='circuits_line_neutral')],
            },
        ),
        migrations.AddField(
            model_name='conductor',
            name='retired_in',
            field=models.ForeignKey(blank=True, db_index=False, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='circuits.networkrevision'),
        ),
        migrations.AddField(
            model_name='circuit',
            name='retired_in',
            field=models.ForeignKey(blank=True, db_index=False, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='circuits.networkrevision'),
        ),
        migrations.CreateModel(
            name='Node',
            fields=[
                ('id', models.CharField(primary_key=True, serialize=False)),
                ('nominal_kv', circuits.fields.Quantity()),
                ('phases', models.CharField()),
                ('out_of_service', models.BooleanField(blank=True, null=True)),
                ('retired_in', models.ForeignKey(blank=True, db_index=False, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='circuits.networkrevision')),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('phases__regex', '^A?B?C?$'), models.Q(('phases', ''), _negated=True)), name='circuits_node_phases'), models.CheckConstraint(condition=models.Q(('nominal_kv__gt', 0)), name='circuits_node_kv')],
            },
        ),
        migrations.CreateModel(
            name='Load',
            fields=[
                ('id', models.CharField(primary_key=True, serialize=False)),
                ('phases', models.CharField()),
                ('connection', models.CharField()),
                ('kw', circuits.fields.Quantity()),
                ('kvar', circuits.fields.Quantity()),
                ('model', models.CharField()),
                ('distributed_line', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='loads', to='circuits.line')),
                ('retired_in', models.ForeignKey(blank=True, db_index=False, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='circuits.networkrevision')),
                ('node', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='loads', to='circuits.node')),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('phases__regex', '^A?B?C?$'), models.Q(('phases', ''), _negated=True)), name='circuits_load_phases'), models.CheckConstraint(condition=models.Q(('connection__in', ['wye', 'delta'])), name='circuits_load_connection'), models.CheckConstraint(condition=models.Q(('model__in', ['power', 'current', 'impedance'])), name='circuits_load_model')],
            },
        ),
        migrations.AddField(
            model_name='line',
            name='from_node',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='lines_from', to='circuits.node'),
        ),
        migrations.AddField(
            model_name='line',
            name='to_node',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='lines_to', to='circuits.node'),
        ),
        migrations.CreateModel(
            name='Device',
            fields=[
                ('id', models.CharField(primary_key=True, serialize=False)),
                ('kind', models.CharField()),
                ('phases', models.CharField()),
                ('operation', models.CharField()),
                ('normal_position', models.CharField()),
                ('visible_break', models.BooleanField(blank=True, null=True)),
                ('load_break_a', circuits.fields.Quantity(blank=True, null=True)),
                ('rating_a', circuits.fields.Quantity(blank=True, null=True)),
                ('interrupting_ka', circuits.fields.Quantity(blank=True, null=True)),
                ('link', models.CharField(blank=True, default='')),
                ('recloses', models.BooleanField(blank=True, null=True)),
                ('remote', models.BooleanField(blank=True, null=True)),
                ('public_access', models.BooleanField(blank=True, null=True)),
                ('label', models.CharField(blank=True, default='')),
                ('circuit', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='devices', to='circuits.circuit')),
                ('retired_in', models.ForeignKey(blank=True, db_index=False, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='circuits.networkrevision')),
                ('from_node', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='devices_from', to='circuits.node')),
                ('to_node', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='devices_to', to='circuits.node')),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('phases__regex', '^A?B?C?$'), models.Q(('phases', ''), _negated=True)), name='circuits_device_phases'), models.CheckConstraint(condition=models.Q(('kind__in', ['breaker', 'recloser', 'sectionalizer', 'cutout', 'disconnect', 'gang_switch', 'enclosed_switch', 'elbow', 'jumper', 'secondary_tie', 'service_disconnect', 'transfer_switch'])), name='circuits_device_kind'), models.CheckConstraint(condition=models.Q(('operation__in', ['gang', 'single'])), name='circuits_device_operation'), models.CheckConstraint(condition=models.Q(('normal_position__regex', '^(open|closed|A?B?C?)$'), models.Q(('normal_position', ''), _negated=True)), name='circuits_device_normal_position'), models.CheckConstraint(condition=models.Q(('from_node', models.F('to_node')), _negated=True), name='circuits_device_ends')],
            },
        ),
        migrations.CreateModel(
            name='Capacitor',
            fields=[
                ('id', models.CharField(primary_key=True, serialize=False)),
                ('phases', models.CharField()),
                ('kvar', circuits.fields.Quantity()),
                ('connection', models.CharField()),
                ('device', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='capacitors', to='circuits.device')),
                ('retired_in', models.ForeignKey(blank=True, db_index=False, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='circuits.networkrevision')),
                ('node', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='capacitors', to='circuits.node')),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('phases__regex', '^A?B?C?$'), models.Q(('phases', ''), _negated=True)), name='circuits_capacitor_phases'), models.CheckConstraint(condition=models.Q(('kvar__gt', 0)), name='circuits_capacitor_kvar'), models.CheckConstraint(condition=models.Q(('connection__in', ['wye_grounded', 'wye', 'delta'])), name='circuits_capacitor_connection')],
            },
        ),
        migrations.CreateModel(
            name='PositionReport',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('phase', models.CharField()),
                ('position', models.CharField()),
                ('made_inoperable', models.CharField(blank=True, default='')),
                ('said_by', models.CharField()),
                ('how', models.CharField()),
                ('ordered_at', models.DateTimeField(blank=True, null=True)),
                ('done_at', models.DateTimeField()),
                ('reported_at', models.DateTimeField()),
                ('entered_at', models.DateTimeField()),
                ('irregular', models.CharField(blank=True, default='')),
                ('device', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='reports', to='circuits.device')),
            ],
            options={
                'indexes': [models.Index(fields=['device', 'phase', '-done_at', '-id'], name='circuits_position_latest')],
                'constraints': [models.CheckConstraint(condition=models.Q(('phase__in', ['A', 'B', 'C'])), name='circuits_positionreport_phase'), models.CheckConstraint(condition=models.Q(('position__in', ['open', 'closed'])), name='circuits_positionreport_position'), models.CheckConstraint(condition=models.Q(('how__in', ['board', 'radio', 'telephone', 'in person'])), name='circuits_positionreport_how'), models.CheckConstraint(condition=models.Q(('said_by', ''), _negated=True), name='circuits_positionreport_said_by'), models.CheckConstraint(condition=models.Q(('done_at__lte', models.F('entered_at'))), name='circuits_positionreport_done_before_entered')],
            },
        ),
        migrations.CreateModel(
            name='Premises',
            fields=[
                ('id', models.CharField(primary_key=True, serialize=False)),
                ('transfer', models.CharField(blank=True, default='')),
                ('phases', models.CharField(blank=True, default='')),
                ('address', models.CharField()),
                ('unit', models.CharField(blank=True, default='')),
                ('locality', models.CharField(blank=True, default='')),
                ('postcode', models.CharField(blank=True, default='')),
                ('latitude', circuits.fields.Quantity(blank=True, null=True)),
                ('longitude', circuits.fields.Quantity(blank=True, null=True)),
                ('meter', models.CharField(blank=True, default='')),
                ('name', models.CharField(blank=True, default='')),
                ('care', models.CharField()),
                ('language', models.CharField(blank=True, default='')),
                ('retired_in', models.ForeignKey(blank=True, db_index=False, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='circuits.networkrevision')),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('phases__regex', '^A?B?C?$')), name='circuits_premises_phases'), models.CheckConstraint(condition=models.Q(('care__in', ['none', 'critical', 'life_support'])), name='circuits_premises_care'), models.CheckConstraint(condition=models.Q(('transfer__in', ['open', 'closed', 'automatic', ''])), name='circuits_premises_transfer')],
            },
        ),
        migrations.CreateModel(
            name='Contact',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('channel', models.CharField()),
                ('address', models.CharField()),
                ('rank', models.IntegerField()),
                ('premises', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='contacts', to='circuits.premises')),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('channel__in', ['email', 'sms', 'voice', 'post', 'web'])), name='circuits_contact_channel'), models.CheckConstraint(condition=models.Q(('rank__gte', 1)), name='circuits_contact_rank'), models.UniqueConstraint(fields=('premises', 'channel', 'address'), name='circuits_contact_once')],
            },
        ),
        migrations.CreateModel(
            name='Regulator',
            fields=[
                ('id', models.CharField(primary_key=True, serialize=False)),
                ('phases', models.CharField()),
                ('taps', models.CharField(blank=True, default='')),
                ('rating_a', circuits.fields.Quantity(blank=True, null=True)),
                ('from_node', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='regulators_from', to='circuits.node')),
                ('retired_in', models.ForeignKey(blank=True, db_index=False, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='circuits.networkrevision')),
                ('to_node', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='regulators_to', to='circuits.node')),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('phases__regex', '^A?B?C?$'), models.Q(('phases', ''), _negated=True)), name='circuits_regulator_phases'), models.CheckConstraint(condition=models.Q(('from_node', models.F('to_node')), _negated=True), name='circuits_regulator_ends')],
            },
        ),
        migrations.CreateModel(
            name='Source',
            fields=[
                ('id', models.CharField(primary_key=True, serialize=False)),
                ('kind', models.CharField()),
                ('phases', models.CharField()),
                ('kv', circuits.fields.Quantity(blank=True, null=True)),
                ('angle_deg', circuits.fields.Quantity(blank=True, null=True)),
                ('per_unit', circuits.fields.Quantity(blank=True, null=True)),
                ('capacity_kva', circuits.fields.Quantity(blank=True, null=True)),
                ('fault_mva_3ph', circuits.fields.Quantity(blank=True, null=True)),
                ('fault_mva_1ph', circuits.fields.Quantity(blank=True, null=True)),
                ('xr1', circuits.fields.Quantity(blank=True, null=True)),
                ('xr0', circuits.fields.Quantity(blank=True, null=True)),
                ('parallel_group', models.CharField(blank=True, default='')),
                ('means_of_disconnection', models.CharField()),
                ('device', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='sources', to='circuits.device')),
                ('node', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='sources', to='circuits.node')),
                ('premises', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='sources', to='circuits.premises')),
                ('retired_in', models.ForeignKey(blank=True, db_index=False, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='circuits.networkrevision')),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('phases__regex', '^A?B?C?$'), models.Q(('phases', ''), _negated=True)), name='circuits_source_phases'), models.CheckConstraint(condition=models.Q(('kind__in', ['station', 'generator', 'inverter', 'standby', 'mobile'])), name='circuits_source_kind'), models.CheckConstraint(condition=models.Q(('means_of_disconnection__in', ['visible', 'interlocked', 'none', 'unknown'])), name='circuits_source_means')],
            },
        ),
        migrations.CreateModel(
            name='Structure',
            fields=[
                ('id', models.CharField(primary_key=True, serialize=False)),
                ('kind', models.CharField()),
                ('label', models.CharField(blank=True, default='')),
                ('latitude', circuits.fields.Quantity(blank=True, null=True)),
                ('longitude', circuits.fields.Quantity(blank=True, null=True)),
                ('street', models.CharField(blank=True, default='')),
                ('retired_in', models.ForeignKey(blank=True, db_index=False, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='circuits.networkrevision')),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('kind__in', ['pole', 'pad', 'vault', 'cabinet', 'station'])), name='circuits_structure_kind')],
            },
        ),
        migrations.AddField(
            model_name='node',
            name='structure',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='nodes', to='circuits.structure'),
        ),
        migrations.AddField(
            model_name='device',
            name='structure',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='devices', to='circuits.structure'),
        ),
        migrations.CreateModel(
            name='Transformer',
            fields=[
                ('id', models.CharField(primary_key=True, serialize=False)),
                ('phases', models.CharField()),
                ('kva', circuits.fields.Quantity()),
                ('connection', models.CharField()),
                ('unit_kva', models.CharField(blank=True, default='')),
                ('common_core', models.BooleanField(blank=True, null=True)),
                ('primary_kv', circuits.fields.Quantity(blank=True, null=True)),
                ('secondary_kv', circuits.fields.Quantity(blank=True, null=True)),
                ('r_pct', circuits.fields.Quantity(blank=True, null=True)),
                ('x_pct', circuits.fields.Quantity(blank=True, null=True)),
                ('label', models.CharField(blank=True, default='')),
                ('primary_node', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='transformers_below', to='circuits.node')),
                ('retired_in', models.ForeignKey(blank=True, db_index=False, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='circuits.networkrevision')),
                ('secondary_node', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='transformers_above', to='circuits.node')),
                ('structure', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='transformers', to='circuits.structure')),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('phases__regex', '^A?B?C?$'), models.Q(('phases', ''), _negated=True)), name='circuits_transformer_phases'), models.CheckConstraint(condition=models.Q(('kva__gt', 0)), name='circuits_transformer_kva'), models.CheckConstraint(condition=models.Q(('connection__in', ['single', 'phase_to_phase', 'wye_grounded-wye_grounded', 'wye_grounded-wye', 'wye-wye', 'wye-delta', 'wye_grounded-delta', 'delta-wye_grounded', 'delta-delta', 'open_wye-open_delta', 'autotransformer'])), name='circuits_transformer_connection'), models.CheckConstraint(condition=models.Q(('primary_node', models.F('secondary_node')), _negated=True), name='circuits_transformer_ends')],
            },
        ),
        migrations.AddField(
            model_name='premises',
            name='second_transformer',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='premises_second', to='circuits.transformer'),
        ),
        migrations.AddField(
            model_name='premises',
            name='transformer',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='premises', to='circuits.transformer'),
        ),
        migrations.AddConstraint(
            model_name='line',
            constraint=models.CheckConstraint(condition=models.Q(('from_node', models.F('to_node')), _negated=True), name='circuits_line_ends'),
        ),
        migrations.AddConstraint(
            model_name='premises',
            constraint=models.CheckConstraint(condition=models.Q(('second_transformer', None), models.Q(('second_transformer', models.F('transformer')), _negated=True), _connector='OR'), name='circuits_premises_two_feeds'),
        ),
    ]
