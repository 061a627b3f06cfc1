"""What must hold after each step of the plant's life: the books tell what the model tells."""

from __future__ import annotations

from django.db.models import Sum
from hypothesis.stateful import RuleBasedStateMachine, invariant

from inventory.models import Allocation, Balance, Order, RunOutput, ShelfStock
from inventory.selectors.check import check_books
from inventory.selectors.orders import order_receipt
from tests.laws.life_model import SKUS, Model


class BooksTellTheModel(RuleBasedStateMachine):
    """A state machine with a model beside the books; its steps are those of whoever inherits."""

    model: Model

    @invariant()
    def stock_is_that_of_the_model(self) -> None:
        for sku in SKUS:
            row = ShelfStock.objects.get(sku__item__code=sku)
            outputs = RunOutput.objects.filter(sku__item__code=sku).values_list("run__code", "awaited")
            assert row.on_shelf == self.model.shelf[sku]
            assert dict(outputs) == {code: run.awaited for code, run in self.model.runs.items() if run.sku == sku}

    @invariant()
    def orders_are_those_of_the_model(self) -> None:
        for order_id, order in self.model.orders.items():
            assert Order.objects.get(pk=order_id).state == order.state
            lines = {line.sku_code: (line.quantity, line.shipped) for line in order_receipt(order_id).lines}
            assert lines == {sku: (wanted, order.shipped[sku]) for sku, wanted in order.wanted.items()}

    @invariant()
    def what_is_wanted_is_promised_as_far_as_there_is_supply(self) -> None:
        live = Allocation.objects.filter(end="").values_list("order_line__sku__item__code").order_by()
        promised = dict(live.annotate(Sum("quantity")))
        for sku in SKUS:
            assert promised.get(sku, 0) == min(self.model.open_spools(sku), self.model.supply(sku))

    @invariant()
    def no_spool_is_lost_or_made_of_nothing(self) -> None:
        physical = Balance.objects.filter(is_physical=True).values_list("item__code").order_by()
        there = dict(physical.annotate(Sum("quantity")))
        for sku in SKUS:
            assert there[sku] == self.model.in_plant(sku) == self.model.came[sku] - self.model.gone[sku]

    @invariant()
    def books_are_right(self) -> None:
        assert check_books() == []
