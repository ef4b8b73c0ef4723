"""Fields of a form for the cells of a row: drawn with what was typed and what is wrong with it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from app.catalogue import _, say
from app.pages.fields import FieldView
from sim.errors import InputProblem
from sim.inputs import Cell
from sim.inputs.rows import Amount
from sim.units import UNITS

Choices = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class RowForm:
    """A form as it is drawn: empty, or again with what was typed.

    Attributes:
        name: what the ids of its fields begin with; empty for the one form of a page.
        system: the reader's units.
        typed: the texts as they were typed, by the name of their field.
        problems: of those fields.
    """

    name: str
    system: str
    typed: Mapping[str, str]
    problems: Sequence[InputProblem] = ()

    def field(
        self,
        cell: Cell,
        value: str = "",
        *,
        label: str = "",
        hint: str = "",
        choices: Choices = (),
        numeric: bool | None = None,
    ) -> FieldView:
        """The field of a cell; words are the cell's own unless others are given."""
        told = [say(p, self.system) for p in self.problems if p.field == cell.name]
        is_amount = isinstance(cell, Amount)
        unit = _(UNITS[cell.unit].symbol(self.system)) if isinstance(cell, Amount) else ""
        numeric = is_amount if numeric is None else numeric
        id_ = "-".join(part for part in ("in", self.name, cell.name) if part)
        return FieldView(
            id_,
            cell.name,
            _(label or cell.label),
            self.typed.get(cell.name, value),
            hint=_(hint or cell.hint) if hint or cell.hint else "",
            unit=unit,
            messages=tuple(dict.fromkeys(told)),
            choices=choices,
            numeric=numeric,
            wide=not numeric,
        )
