"""Admin pages of the books: catalogue and plant to edit, ledger, runs and orders to look at."""

from inventory.admin import books, catalogue, orders, plant

__all__ = ["books", "catalogue", "orders", "plant"]
