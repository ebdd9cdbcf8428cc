"""Every form is set from our own two templates, so that `{{ form }}` is all a page has to say."""

from django.forms.renderers import TemplatesSetting


class FormLook(TemplatesSetting):
    form_template_name = "parts/form.html"
    field_template_name = "parts/field.html"
