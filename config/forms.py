"""How every form is drawn."""

from django.forms.renderers import TemplatesSetting


class BoardRenderer(TemplatesSetting):
    """The board's own templates, for the form and for its fields."""

    form_template_name = "forms/form.html"
    field_template_name = "forms/field.html"
