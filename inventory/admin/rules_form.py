"""Forms of catalogue and plant: a broken rule of a table is told in plain words at the field it is about."""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms
from django.contrib import admin
from django.core.exceptions import NON_FIELD_ERRORS
from django.db import models
from django.db.models import Field
from django.http import HttpRequest

from inventory.admin.base import RecordsAdmin, worded
from inventory.plant_files.columns import Column, FileSchema
from inventory.wording import in_words


class RulesForm(forms.ModelForm):  # type: ignore[type-arg]
    """A form that tells a broken check constraint in the sentences of the plant files."""

    schema: ClassVar[FileSchema]

    def _post_clean(self) -> None:
        super()._post_clean()  # type: ignore[misc]
        sentences = {
            rule.get_violation_error_message(): self.schema.sentences[rule.name]
            for rule in self.instance._meta.constraints
            if isinstance(rule, models.CheckConstraint) and rule.name in self.schema.sentences
        }
        whole_form = self.errors.pop(NON_FIELD_ERRORS, None)
        for error in whole_form.as_data() if whole_form else []:
            column, sentence = sentences.get(str(error.message), ("", None))
            self.add_error(column if column in self.fields else None, in_words(sentence) if sentence else error)


def rules_form(schema: FileSchema, form: type[forms.ModelForm[Any]]) -> type[forms.ModelForm[Any]]:
    """Return the form with the rules of a file; a form that knows them already only learns which file."""
    bases = (form,) if issubclass(form, RulesForm) else (RulesForm,)
    return type("RulesOf" + form.__name__, bases, {"schema": schema})


class WordedAdmin(RecordsAdmin):
    """An admin page whose fields carry the words of the plant files."""

    schema: FileSchema
    # Keys instead of columns, where a file has rows of key and value.
    keys: tuple[Column, ...] = ()

    def get_form(self, request: HttpRequest, obj: Any = None, change: bool = False, **kwargs: Any) -> Any:
        return super().get_form(request, obj, change=change, **{"form": rules_form(self.schema, self.form), **kwargs})

    def formfield_for_dbfield(self, db_field: Field[Any, Any], request: HttpRequest, **kwargs: Any) -> Any:
        columns = {column.name: column for column in (self.keys or self.schema.columns)}
        return worded(super().formfield_for_dbfield(db_field, request, **kwargs), columns.get(db_field.name))


class WordedInline(admin.TabularInline):  # type: ignore[type-arg]
    """Rows inside a page, with the words of the plant files."""

    schema: FileSchema
    extra = 0

    def get_formset(self, request: HttpRequest, obj: Any = None, **kwargs: Any) -> Any:
        return super().get_formset(request, obj, **{"form": rules_form(self.schema, self.form), **kwargs})

    def formfield_for_dbfield(self, db_field: Field[Any, Any], request: HttpRequest, **kwargs: Any) -> Any:
        columns = {column.name: column for column in self.schema.columns}
        return worded(super().formfield_for_dbfield(db_field, request, **kwargs), columns.get(db_field.name))
