"""Log-ins of the demo: one person for each role, one token for an integration. Never for a real plant."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.contrib.auth.models import Group, User
from django.core.management.base import BaseCommand
from django.db import transaction

from inventory.models import Channel, ShelfStock
from stockplan.access.models import Scope
from stockplan.access.roles import ROLES, set_up_roles
from stockplan.access.tokens import create_token

PASSWORD = "spools-dry-overnight"


class Command(BaseCommand):
    help = "Create the demo's log-ins and an integration's token, and print them with the addresses to try."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--port", type=int, default=8000, help="port that the site is served on")

    @transaction.atomic
    def handle(self, *, port: int, **options: Any) -> None:
        set_up_roles()
        for role in ROLES:
            person = User.objects.create_user(role, password=PASSWORD, is_staff=True)
            person.groups.add(Group.objects.get(name=role))
        channel = Channel.objects.order_by("code").first()
        token = create_token(
            name="demo-shop",
            scopes=[Scope.STOCK_READ, Scope.ORDERS, Scope.SERVICE_READ],
            channel_code=channel.code if channel else None,
            days=30,
        )
        self._print(f"http://127.0.0.1:{port}", token, channel.code if channel else "")

    def _print(self, site: str, token: str, channel: str) -> None:
        on_shelf = ShelfStock.objects.filter(on_shelf__gt=2).select_related("sku__item").order_by("sku__item__code")
        stock = on_shelf.first()
        sku = stock.sku.item.code if stock else "SKU"
        body = (
            f'{{"channel": "{channel}", "reference": "TRY-1", "may_part_ship": false, '
            f'"lines": [{{"sku": "{sku}", "quantity": 2}}]}}'
        )
        self.stdout.write(
            f"\nThe site: {site}/\n"
            f"Log-ins (demo only): {', '.join(ROLES)} - each with the password {PASSWORD}\n"
            f"API and its pages: {site}/api/v1/docs/\n\n"
            "Post an order and read its promise:\n\n"
            f"curl -s {site}/api/v1/orders/ -H 'Authorization: Bearer {token}' \\\n"
            f"  -H 'Content-Type: application/json' \\\n  -d '{body}' | python3 -m json.tool\n\n"
            "Stop with Ctrl-C. The next `make demo` starts afresh.\n"
        )
